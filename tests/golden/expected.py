"""What a journal shows, as lines a person can read and a test can compare."""

from collections.abc import Iterator
from pathlib import Path

from monitor.incident.decoding import event_of
from monitor.incident.incident import Incident
from monitor.incident.picture import Picture
from monitor.incident.rows import Row
from monitor.journal.reader import JournalReader

S = 1_000_000_000
MINUTE_NS = 60 * S
EXPECTED = Path(__file__).with_name("kiln-lane.expected.txt")


def rows_of(path: Path) -> list[Row]:
    """Every row of a journal."""
    rows: list[Row] = []
    with JournalReader(path) as reader:
        last, complete = 0, False
        while not complete:
            step = reader.read(last)
            rows += step.rows
            last, complete = step.last_row, step.complete
    return rows


def horizon_of(path: Path) -> int:
    """Up to where a journal tells."""
    with JournalReader(path) as reader:
        return reader.last_batch().horizon


def told(path: Path) -> str:
    """Fold a journal: each announcement at its time, the board at each full minute."""
    return "\n".join(_lines(path)) + "\n"


def _lines(path: Path) -> Iterator[str]:
    incident, minute_ns, horizon = Incident(), MINUTE_NS, horizon_of(path)
    for row in rows_of(path):
        while row.t > minute_ns:
            yield from _at(incident, minute_ns)
            minute_ns += MINUTE_NS
        event = event_of(row)
        if event is not None:
            incident.apply(event)
            yield from _announced(incident)
    while minute_ns <= horizon:
        yield from _at(incident, minute_ns)
        minute_ns += MINUTE_NS
    incident.advance(horizon)
    yield from _announced(incident)


def _at(incident: Incident, t: int) -> Iterator[str]:
    incident.advance(t)
    yield from _announced(incident)
    yield from _board(incident.picture())


def _announced(incident: Incident) -> Iterator[str]:
    for said in incident.take_announcements():
        again = " again" if said.again else ""
        wearers = " ".join(str(number) for number in said.wearers)
        yield f"{said.t / S:8.3f} s  alarm {said.number}{again}: {said.kind}, wearer {wearers}"


def _board(picture: Picture) -> Iterator[str]:
    yield (
        f"at {picture.t // S} s: under air {picture.under_air}, out {picture.came_out}, "
        f"signals {picture.signals_heard} of {picture.signals_expected}"
    )
    for line in picture.wearers:
        air = line.air
        bar = "-" if air.pressure_bar is None else f"{air.pressure_bar:.1f}"
        yield f"  {line.wearer} {line.state}: {bar} bar ({air.source}), {line.signal}"
    for alarm in picture.alarms:
        yield f"  alarm {alarm.number} {alarm.kind}: {alarm.state}"
