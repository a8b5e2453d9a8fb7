"""A journal as a long incident leaves it, without its hours: made at once, in the real format."""

import uuid
from pathlib import Path

from monitor import __version__, procedures
from monitor.clock import Clock
from monitor.incident.decoding import row_of
from monitor.incident.events import Act, Connect, Enter, JoinPack, ListWearer, Locate, Opened
from monitor.incident.incident import FOLD_VERSION
from monitor.incident.rows import Row, RowKind
from monitor.journal.schema import ROWS_A_STEP_MAX, Header
from monitor.journal.writer import JournalWriter
from protocol import codec
from tests.functional.packs import report

WEARERS = 20
FRAME_NS = 20_000_000
"""Twenty wearers, each once in 0.4 s."""
OFFICER = "R. Harrow"


LAST_PLACE = "drying loft"
"""Where the last wearer is, by the last row of all: who sees it has seen everything."""


def opening(incident: str, wall_ns: int) -> Opened:
    """First event of these incidents."""
    return Opened(
        incident=incident, name="Kiln Lane", officer=OFFICER, use="exercise",
        procedure=procedures.load("plain"), keyed=False, base=1,
        wall_ns=wall_ns, software=f"outby {__version__}", fold=FOLD_VERSION,
    )  # fmt: skip


def make(path: Path, frames: int) -> None:
    """Make a journal of so many frames that ended just now."""
    clock = Clock()
    stamp = clock.stamp()
    length_ns = (frames + 10 * WEARERS) * FRAME_NS
    incident = uuid.uuid4().hex
    opened = opening(incident, stamp.wall_ns - length_ns)
    header = Header(fold=FOLD_VERSION, software=opened.software, incident=incident,
                    use="exercise", opened_wall_ns=opened.wall_ns)  # fmt: skip
    writer = JournalWriter.create(path, header)
    writer.begin_session(
        clock.boot_id(), stamp.boot_ns - length_ns, opened.wall_ns, opened.software
    )
    rows = [row_of(0, opened), *_people(incident), *_frames(frames)]
    told = Locate(id=uuid.uuid4().hex, by=OFFICER, wearers=(WEARERS,), location=LAST_PLACE)
    rows.append(row_of(rows[-1].t + 1, told))
    for start in range(0, len(rows), ROWS_A_STEP_MAX):
        step = rows[start : start + ROWS_A_STEP_MAX]
        writer.commit(step, step[-1].t, stamp)
    writer.close(final=False)


def _people(incident: str) -> list[Row]:
    rows = []
    for number in range(1, WEARERS + 1):
        crew = f"Alpha {(number + 1) // 2}"
        person = {"by": OFFICER, "wearer": number}
        cylinder = {"water_volume_l": 6.8, "rated_bar": 300.0}
        everyone = {"by": OFFICER, "wearers": (number,)}
        acts: tuple[Act, ...] = (
            ListWearer(
                id=f"{incident}-l{number}"[-40:], name=f"Wearer {number}", crew=crew, **person
            ),
            JoinPack(
                id=f"{incident}-j{number}"[-40:],
                pack=number,
                **cylinder,
                **person,
            ),
            Connect(id=f"{incident}-c{number}"[-40:], **everyone),
            Enter(id=f"{incident}-e{number}"[-40:], **everyone),
        )
        rows += [row_of(number * 1000 + place, act) for place, act in enumerate(acts)]
    return rows


def _frames(count: int) -> list[Row]:
    rows = []
    for number in range(count):
        packet = report(number % WEARERS + 1, number // WEARERS + 1)
        packet.uptime_ms = number * FRAME_NS // 1_000_000
        packet.pressure_dbar = 2900 - number * 1000 // count
        t = (number + WEARERS) * FRAME_NS
        rows.append(Row(t, RowKind.FRAME, codec.encode(packet, None), 1))
    return rows
