"""Eight hours of an incident with fifty packs at one report a second, made without waiting.

Ten crews of five relieve one another: each wearer is on air for half an hour, off air for the next,
with a new cylinder each time. Every journal that is made is the same; it is made once and kept in
the folder for temporary files, since it takes half a minute.
"""

import tempfile
from collections.abc import Iterator
from pathlib import Path

from monitor import __version__, procedures
from monitor.clock import Stamp
from monitor.incident.decoding import row_of
from monitor.incident.events import (
    Act,
    ComeOut,
    Connect,
    Enter,
    JoinPack,
    ListWearer,
    OffAir,
    Opened,
)
from monitor.incident.incident import FOLD_VERSION
from monitor.incident.rows import Row, RowKind
from monitor.journal.schema import Header
from monitor.journal.writer import JournalWriter
from protocol import codec
from protocol.packets import Apparatus, CheckResult, Equipment, Kind, Motion, Report

PACKS = 50
CREW = 5
HOURS = 8
S = 1_000_000_000
SHIFT_S = 1_800
FULL_DBAR = 2_950
LEFT_DBAR = 900
WALL_NS = 1_700_000_000 * S
BY = "R. Harrow"


def kept(hours: int = HOURS) -> Path:
    """Give the journal, made if it is not there yet."""
    path = (
        Path(tempfile.gettempdir())
        / f"outby-bench-{__version__}"
        / f"{hours}-hours-relieved.journal"
    )
    whole = path.with_suffix(".whole")
    if not whole.exists():
        path.parent.mkdir(parents=True, exist_ok=True)
        path.unlink(missing_ok=True)
        make(path, hours * 3_600)
        whole.touch()
    return path


def make(path: Path, seconds: int) -> None:
    """Make one of so many seconds, not closed, with one commit a second."""
    opened = Opened(
        incident="0123456789abcdef" * 2, name="Kiln Lane", officer=BY, use="exercise",
        procedure=procedures.load("plain"), keyed=False, base=1,
        wall_ns=WALL_NS, software=f"outby {__version__}", fold=FOLD_VERSION,
    )  # fmt: skip
    header = Header(fold=FOLD_VERSION, software=opened.software, incident=opened.incident,
                    use="exercise", opened_wall_ns=WALL_NS)  # fmt: skip
    writer = JournalWriter.create(path, header)
    writer.begin_session("bench", S, WALL_NS, opened.software)
    writer.commit([row_of(0, opened), *_people()], S - 1, Stamp(2 * S - 1, WALL_NS + S - 1))
    for second in range(1, seconds):
        if second % 300 == 0:
            writer.checkpoint_if_quiet()
        t = second * S
        rows = [*_acts(second), *_frames(second)]
        writer.commit(rows, t + S - 1, Stamp(t + 2 * S - 1, WALL_NS + t + S - 1))
    writer.close(final=False)


def _people() -> Iterator[Row]:
    for number in range(1, PACKS + 1):
        crew = f"Alpha {(number - 1) // CREW + 1}"
        ids = f"listed-{number:03}", f"joined-{number:03}"
        yield row_of(
            0, ListWearer(id=ids[0], by=BY, wearer=number, name=f"Wearer {number}", crew=crew)
        )
        yield row_of(
            0,
            JoinPack(
                id=ids[1], by=BY, wearer=number, pack=number, water_volume_l=6.8, rated_bar=300
            ),
        )


def _acts(second: int) -> Iterator[Row]:
    """Every half hour each crew changes over: those on air come off it, the others connect."""
    if second % SHIFT_S != 1:
        return
    shift = second // SHIFT_S
    for crew in range(PACKS // CREW):
        wearers = tuple(range(crew * CREW + 1, crew * CREW + CREW + 1))
        name = f"{shift:02}-{crew:02}"
        acts: tuple[Act, ...] = (
            ComeOut(id=f"come-out-{name}", by=BY, wearers=wearers),
            OffAir(id=f"off-air-{name}", by=BY, wearers=wearers),
        )
        if (crew + shift) % 2 == 0:
            acts = (
                Connect(id=f"connect-{name}", by=BY, wearers=wearers),
                Enter(id=f"enter-{name}", by=BY, wearers=wearers, location="drying loft"),
            )
        elif shift == 0:
            acts = ()
        for act in acts:
            yield row_of(second * S, act)


def _frames(second: int) -> Iterator[Row]:
    for pack in range(1, PACKS + 1):
        t = second * S + pack * S // (PACKS + 1)
        yield Row(t, RowKind.FRAME, codec.encode(_report(pack, second, t), None), 1)


def _report(pack: int, second: int, t: int) -> Report:
    shift, since = divmod(second, SHIFT_S)
    on_air = ((pack - 1) // CREW + shift) % 2 == 0
    used = (FULL_DBAR - LEFT_DBAR) * since // SHIFT_S if on_air else 0
    equipment = Equipment(Apparatus.OPEN_CIRCUIT, 3000, 680, 550) if since == 0 else None
    return Report(
        kind=Kind.SIGN_ON if equipment else Kind.STATUS, identity=pack, boot=1, sequence=second,
        epoch=0, keyed=False, pressure_dbar=FULL_DBAR - used, gas_temperature_c=20,
        battery_percent=80, motion=Motion.MOVING, distress=False, low_air=False, coming_out=False,
        self_test=CheckResult.PASSED, air_warning_test=CheckResult.PASSED,
        motion_warning_test=CheckResult.PASSED, interval_s=1, uptime_ms=t // 1_000_000,
        order_received=0, order_acknowledged=0, beacon_heard=0, equipment=equipment,
    )  # fmt: skip
