"""Walks through a journal once and hands each table its rows, and the capture its frames.

Memory is that of the fold and of what lives at one moment: a journal of any length will do. What
is exported ends at the last commit that was there at the start.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path

from monitor import __version__
from monitor.archive.damage import Whole
from monitor.errors import BadJournal
from monitor.export import records
from monitor.export.alarms import Alarms
from monitor.export.capture import CaptureWriter
from monitor.export.readings import STANDINGS, Readings
from monitor.export.sinks import Sink
from monitor.export.wears import Wears
from monitor.incident.decoding import NOT_UNDERSTOOD, event_of, why
from monitor.incident.events import (
    Done,
    Heard,
    JoinPack,
    LinkState,
    Opened,
    SpokenReading,
    is_act,
)
from monitor.incident.incident import FOLD_VERSION, Incident
from monitor.incident.orders.events import GiveOrder
from monitor.incident.record.events import RealEmergency, SearchArea
from monitor.incident.rows import Row, Standing
from monitor.journal.digest import shown
from monitor.journal.reader import JournalReader
from monitor.journal.schema import Batch, Header

MINUTE_NS = 60_000_000_000
NOTED_LATE_NS = 1_000_000
"""A frame's time is told to lie after it was read from here on: a millisecond."""
CAPTURE_COMMENT = (
    "Frames that were let through, as heard, without line framing. One without a comment was "
    "live: genuine and new."
)
SOFTWARE = f"outby {__version__}"


@dataclass(frozen=True, slots=True)
class Exported:
    """How much there was."""

    use: str
    """EXERCISE or REAL."""
    name: str
    rows: int
    frames: int


class Exporter:
    """One pass over one journal."""

    def __init__(
        self,
        path: Path,
        sinks: Mapping[str, list[Sink]],
        capture: CaptureWriter | None,
        caution: str,
        whole: Whole | None = None,
    ) -> None:
        """``sinks``: by name of the table; empty where only the capture is wanted.

        ``whole``: of a damaged journal the part that is right; nothing else is exported.
        """
        self._whole = whole
        self._path = path
        self._sinks = sinks
        self._capture = capture
        self._caution = caution
        self._interfaces: dict[int, int] = {}
        self._link_names: dict[int, str] = {}
        self._frames = 0

    def run(self, progress: Callable[[int, int], None]) -> Exported:
        """Export everything. ``progress`` is told rows done and rows in all, now and then.

        Raises BadJournal where the journal cannot be read or a row not be understood.
        """
        number = 0
        whole = self._whole
        with JournalReader(self._path, damaged=whole is not None) as reader:
            header = reader.header()
            last = whole.last if whole else reader.last_batch()
            self._begin(header)
            try:
                for step in reader.steps(last.last_row):
                    for number, row in enumerate(step, number + 1):  # noqa: B020 - goes on
                        self._row(number, row)
                    progress(number, last.last_row)
                self._end(header, last)
            except NOT_UNDERSTOOD as error:
                what = f"row {number} is not to be understood ({why(error)})"
                raise BadJournal(what, str(self._path), "verify it") from error
        opened = self._incident.opened
        return Exported(self._use, opened.name if opened else "", number, self._frames)

    def _begin(self, header: Header) -> None:
        self._use = use = header.use.upper()
        self._incident = Incident()
        self._minute_ns = MINUTE_NS
        self._given: dict[int, int] = {}
        """By incident time of an order: the wall clock at incident time 0 as it was then."""
        self._readings, self._alarms = Readings(use), Alarms(use)
        self._wears = Wears(use, self._readings.water_volume_l)

    # ------------------------------------------------------------ rows

    def _row(self, number: int, row: Row) -> None:
        event = event_of(row)
        incident = self._incident
        while row.t > self._minute_ns:
            incident.advance(self._minute_ns)
            self._minute()
        if event is None:
            clock = row.t + self._offset_ns()
            self._put("facts", records.announced_row(self._use, number, clock, row))
            return
        if self._sinks and isinstance(event, Done) and is_act(event.what):
            self._wears.before(event.what, incident.picture)
        incident.apply(event)
        if isinstance(event, Heard):
            self._heard(number, row, event)
        else:
            self._done(number, event)
        self._alarm_steps()

    def _heard(self, number: int, row: Row, heard: Heard) -> None:
        self._frames += 1
        clock = row.t + self._offset_ns()
        if self._sinks:
            self._put("readings", self._readings.frame(number, clock, heard))
        if self._capture is not None:
            interface = self._interface(row.link)
            comment = _comment(row)
            self._capture.packet(interface, clock - row.late_ns, row.data, comment)

    def _done(self, number: int, event: Done) -> None:
        what, t = event.what, event.t
        offset = self._offset_ns()
        clock = t + offset
        if isinstance(what, Opened):
            self._incident.keep_alarm_steps()
        if isinstance(what, LinkState):
            self._link_names[what.link] = what.name
        if not is_act(what):
            self._put("facts", records.fact_row(self._use, number, t, clock, what))
            return
        if isinstance(what, RealEmergency):
            self._real()
        self._put("acts", records.act_row(self._use, number, t, clock, what))
        if not self._sinks:
            return
        if isinstance(what, GiveOrder):
            self._given[self._incident.now] = offset
        if isinstance(what, SearchArea):
            self._put("areas", records.area_row(self._use, number, t, clock, what))
        if isinstance(what, JoinPack):
            self._readings.join(what)
        elif isinstance(what, SpokenReading):
            for row in self._readings.spoken(number, t, clock, what):
                self._put("readings", row)
        self._alarm_steps()
        self._alarms.act(t, what, offset)
        self._wears.act(t, offset, what, self._incident.picture)
        for row in self._wears.ended():
            self._put("wearers", row)

    def _real(self) -> None:
        """From this row on nothing is an exercise any more."""
        self._use = self._readings.use = self._alarms.use = self._wears.use = "REAL"

    def _alarm_steps(self) -> None:
        steps = self._incident.take_alarm_steps()
        if steps:
            offset = self._offset_ns()
            for step in steps:
                self._alarms.step(step, offset)

    def _minute(self) -> None:
        """A full minute of incident time: how the packs are heard."""
        self._minute_ns += MINUTE_NS
        self._alarm_steps()
        for row in self._alarms.ended():
            self._put("alarms", row)
        if self._sinks and self._incident.opened is not None:
            for row in records.link_rows(self._use, self._incident.picture()):
                self._put("link", row)

    def _end(self, header: Header, last: Batch) -> None:
        while self._minute_ns <= last.horizon:
            self._incident.advance(self._minute_ns)
            self._minute()
        self._incident.advance(last.horizon)
        self._alarm_steps()
        for row in (*self._alarms.ended(), *self._alarms.standing()):
            self._put("alarms", row)
        for order in self._incident.every_order():
            offset = self._given.get(order.given_at_ns, self._offset_ns())
            for row in records.order_rows(self._use, offset, order):
                self._put("orders", row)
        opened = self._incident.opened
        if opened is not None and self._sinks:
            for row in self._wears.going_on(self._incident.picture()):
                self._put("wearers", row)
            self._put("incident", self._about(header, last, opened))

    # ------------------------------------------------------------ helpers

    def _put(self, table: str, row: tuple[object, ...]) -> None:
        for sink in self._sinks.get(table, ()):
            sink.write(row)

    def _offset_ns(self) -> int:
        """What the wall clock shows at incident time 0, as it is set now."""
        return self._incident.wall_ns - self._incident.now

    def _interface(self, link: int) -> int:
        """The capture's number for a link, described when its first frame comes."""
        assert self._capture is not None, "only asked for a capture"
        if link not in self._interfaces:
            name = self._link_names.get(link, "")
            self._interfaces[link] = self._capture.interface(f"link {link}", name)
        return self._interfaces[link]

    def _about(self, header: Header, last: Batch, opened: Opened) -> tuple[object, ...]:
        return (
            self._use, header.incident, opened.name, opened.place or None,
            opened.entry_point or None, opened.operation or None, opened.stage or None,
            opened.officer, opened.procedure.name, header.opened_wall_ns, last.horizon,
            self._incident.closed, opened.keyed, header.software, header.fold, SOFTWARE,
            FOLD_VERSION, last.last_row,
            shown(last.digest), self._whole.left_out if self._whole else None, self._caution,
        )  # fmt: skip


def _comment(row: Row) -> str:
    """What is worth saying of one frame; empty for a live one with nothing to tell."""
    parts = []
    if row.standing is not Standing.LIVE:
        parts.append(STANDINGS[row.standing])
    if row.signal_dbm is not None:
        parts.append(f"{row.signal_dbm} dBm")
    if row.late_ns >= NOTED_LATE_NS:
        parts.append(f"taken up {-(-row.late_ns // NOTED_LATE_NS)} ms after it was read")
    return ", ".join(parts)
