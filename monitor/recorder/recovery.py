"""Where a recorder starts from: a new incident, or the fold of a journal that is not closed. Pure.

Nothing of a recorder's state is kept but the journal. Taking an incident up again means folding
its rows from the first, or from a checkpoint; what the sequencer and the intake need beside the
incident (ids of acts, numbers of packs, alarms not yet announced) comes from the same rows.

Incident time over the break is known by the boot clock if the machine was not restarted, else by
the wall clock if what it says is plausible, else not at all. It is never made smaller: if the
packs' own uptimes later show that more time has passed, it jumps forward (``UptimeCheck``).
"""

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

from monitor.checkpoint.recalled import Recalled, short
from monitor.incident.events import Act, Fact, Opened, Resumed
from monitor.incident.incident import Incident
from monitor.incident.rows import Row
from monitor.recorder.intake import Intake
from monitor.recorder.seats import NOBODY
from protocol.delays import DRIFT_PPM
from protocol.freshness import NS_PER_MS, PPM
from protocol.packets import UpPacket

if TYPE_CHECKING:
    from monitor.clock import Stamp
    from monitor.incident.alarms.engine import Announcement
    from monitor.journal.schema import Batch, Session

DOWN_NS_MAX = 7 * 24 * 3_600_000_000_000
"""A wall clock that says more than a week is wrong, or nobody has been on air for long."""
UPTIME_CHECK_NS = 120_000_000_000
"""Packs that were on report within this: at most every 60 s, twice."""
MOVE_NS_MIN = 1_000_000_000
"""Less than this is delay on the way and no matter to anybody."""


@dataclass(slots=True)
class UptimeCheck:
    """What packs said of their uptime before a break that no clock measured.

    A pack on the same boot has counted the break for us: its uptime now, less its uptime then, is
    how much later it is.
    """

    until_boot_ns: int
    """No longer than this: a pack that comes back later has been elsewhere."""
    before: dict[int, tuple[int, int, int]]
    """By pack: boot counter, uptime in ms, incident time when it said so."""

    def missing_ns(self, packet: UpPacket, t: int) -> int:
        """How much later than ``t`` it really is by this pack's word; 0 if it cannot tell."""
        boot, uptime_ms, then = self.before.pop(packet.identity, (0, 0, 0))
        if boot != packet.boot:
            return 0
        passed_ns = (packet.uptime_ms - uptime_ms) * NS_PER_MS
        passed_ns -= passed_ns * DRIFT_PPM // PPM
        missing_ns = then + passed_ns - t
        return missing_ns if MOVE_NS_MIN <= missing_ns <= DOWN_NS_MAX else 0


@dataclass(slots=True)
class Start:
    """All that a sequencer begins with."""

    incident: Incident
    opened: Opened
    origin_boot_ns: int
    """What the boot clock read, or would have read, at incident time 0."""
    horizon: int
    """The last one in the journal; -1: none yet."""
    facts: tuple[Fact, ...]
    """To be recorded first."""
    acts: tuple[Act, ...] = ()
    """To be recorded next: the roster's, at an opening."""
    act_ids: frozenset[str] = frozenset()
    """Of all acts in the journal."""
    unannounced: list["Announcement"] = field(default_factory=list)
    """Alarms raised just before the break, whose announcing is not in the journal."""
    uptimes: UptimeCheck | None = None


def opening(opened: Opened, acts: tuple[Act, ...], stamp: "Stamp") -> Start:
    """Begin a new incident: its time 0 is ``stamp``."""
    return Start(Incident(), opened, stamp.boot_ns, -1, (opened,), acts)


@dataclass(frozen=True, slots=True)
class Break:
    """The time in which nobody recorded."""

    horizon: int
    """Incident time at which it began."""
    down_ns: int
    known_by: Literal["boot clock", "wall clock", "pack uptime", "unknown"]

    @property
    def short(self) -> bool:
        """Too short, and too well measured, for a recording to be made and played meanwhile."""
        return short(self.down_ns, self.known_by)

    def origin_boot_ns(self, stamp: "Stamp") -> int:
        """Give what the boot clock would have read at incident time 0."""
        return stamp.boot_ns - self.horizon - self.down_ns


def break_since(last: "Batch", session: "Session | None", boot_id: str, stamp: "Stamp") -> Break:
    """Tell how long nobody recorded, from the last commit, by the best clock there is."""
    same_boot = session is not None and boot_id != "" and session.boot_id == boot_id
    by_boot_ns = stamp.boot_ns - last.boot_ns
    if same_boot and by_boot_ns >= 0:
        return Break(last.horizon, by_boot_ns, "boot clock")
    by_wall_ns = stamp.wall_ns - last.wall_ns
    if 0 <= by_wall_ns <= DOWN_NS_MAX:
        return Break(last.horizon, by_wall_ns, "wall clock")
    return Break(last.horizon, 0, "unknown")


class Refold:
    """Folds a journal's rows, in order, and gives the ``Start`` of the next session."""

    def __init__(
        self, gap: Break, intake: Intake, stamp: "Stamp", recalled: Recalled | None = None
    ) -> None:
        """``stamp``: when recording is taken up again. ``recalled``: what is folded already."""
        self.recalled = recalled or Recalled()
        self._gap = gap
        self._intake = intake
        self._stamp = stamp

    def take(self, rows: Iterable[Row]) -> None:
        """Fold some rows. ValueError where a row is not what its kind says."""
        self.recalled.take(rows)

    def start(self) -> Start:
        """Give where to go on, all rows having been taken. ValueError if there was none."""
        found, gap, stamp = self.recalled, self._gap, self._stamp
        if found.opened is None:
            raise ValueError("no row says what incident this is")
        found.advance(gap.horizon)
        proven = gap.short
        if found.incident.paused:
            gap = Break(gap.horizon, 0, "boot clock")  # time stood still: nothing was missed
        origin_boot_ns = gap.origin_boot_ns(stamp)
        exact = gap.known_by == "boot clock"
        self._intake.recall(found, origin_boot_ns if exact else None, proven=proven)
        resumed = Resumed(down_ns=gap.down_ns, known_by=gap.known_by, wall_ns=stamp.wall_ns)
        check = UptimeCheck(stamp.boot_ns + UPTIME_CHECK_NS, found.uptimes)
        return Start(
            incident=found.incident,
            opened=found.opened,
            origin_boot_ns=origin_boot_ns,
            horizon=gap.horizon,
            facts=(resumed,) if found.holder == NOBODY else (resumed, NOBODY),
            act_ids=frozenset(found.act_ids),
            unannounced=found.unannounced(),
            uptimes=check if found.uptimes and not exact else None,
        )
