"""The radio link to one pack: when it was heard, what it last said, when its silence counts.

Only a frame that is genuine, new and proven live counts as heard. Words on the screen: signal,
signal gap, no signal, signed off, never heard, not proven live.
"""

from dataclasses import dataclass, field

from monitor.incident.air.shown import SECOND_NS, Reading
from monitor.incident.calls import Calls
from monitor.incident.link_rule import JITTER_NS, REPORTS_MIN, LinkHistory, LinkRule
from monitor.incident.picture import AirFrom, Signal
from protocol.freshness import SequenceAccount
from protocol.packets import Equipment, Motion, Report

GAP_INTERVALS = REPORTS_MIN
"""Reports missed in a row before the screen says so, without a sound."""
DEFAULT_INTERVAL_S = 5
"""Report interval taken for a pack that has not been heard yet."""


def gap_after_ns(interval_s: int) -> int:
    """Silence that makes a signal gap."""
    return GAP_INTERVALS * interval_s * SECOND_NS + JITTER_NS


STALE_MAX_NS = gap_after_ns(10)
"""A reading is shown as one for so long at most, however seldom its pack reports: three reports
missed at 10 s, the longest interval that the packet format allows under air."""
PROOF_GRACE_NS = 30 * SECOND_NS
"""Six beacons: by then a pack that can hear has echoed one."""
DOUBT_NS = 60 * SECOND_NS
"""Doubtful frames are forgotten after so long a quiet."""
STARTS_MANY = 3
"""So many starts of a pack within ``DOUBT_NS`` are no longer somebody at its switch."""
NO_THRESHOLD_LOW = -1
NO_THRESHOLD_HIGH = 1 << 30


@dataclass(slots=True)
class Contact:
    """One pack, whether or not it belongs to anybody on the board."""

    identity: int
    wearer: int = 0
    """Number on the board of the wearer it is joined to; 0 for nobody."""
    expected_ns: int | None = None
    """Since when a pack that was never heard ought to have been."""
    heard_ns: int | None = None
    """Last frame that counts as heard."""
    signal_ns: int = 0
    """Since when there is signal, without a break that counted."""
    boot: int = 0
    sequence: int = 0
    """Newest frame taken, with ``boot``."""
    report: Report | None = None
    """Newest report taken."""
    report_ns: int = 0
    """When it was."""
    pressure_dbar: int | None = None
    """Newest gauge pressure told; kept when a later report tells none."""
    pressure_ns: int = 0
    """When it was."""
    gas_temperature_c: int | None = None
    """Of the gas, as last told."""
    equipment: Equipment | None = None
    signal_dbm: int | None = None
    signed_off: bool = False
    shown_ns: int | None = None
    """When it last started, or its button was pressed."""
    lost: bool = False
    """Silent beyond the limit, since ``lost_ns``."""
    lost_ns: int = 0
    lost_by: LinkRule | None = None
    """The rule that silence was beyond when it was last lost."""
    still_and_silent: bool = False
    """Last said motion pre-alarm, then nothing for the procedure's time."""
    unproven_since_ns: int | None = None
    """First frame, since last heard, of a run that proved nothing of its time."""
    unproven_ns: int | None = None
    """Last such frame."""
    unproven_long: bool = False
    """Such frames have come for longer than the grace."""
    distress_doubt_ns: int | None = None
    """Last frame that said distress, or motion alarm inside, without proof."""
    calls: Calls | None = None
    """What such frames have said of help; None: there was none."""
    clash: bool = False
    """A frame came whose counters went back: whose values are shown is in doubt."""
    clash_ns: int = 0
    """The last such frame."""
    clash_now: bool = False
    """One of them answered with a recent beacon: no recording, so only enrolling again ends it."""
    comes_old: bool = False
    """Frames of before come that no recording can have made, by the gaps that a signal may have."""
    old_ns: int = 0
    """The last of them."""
    rivals: bool = False
    """The pack was heard in its right numbers within the last minute: there are two of them."""
    newest_boot: int = 0
    """Of all its genuine frames that are no old ones."""
    starts_ns: list[int] = field(default_factory=list)
    """When it was last found to have started anew, latest last, at most ``STARTS_MANY``."""
    clock_ppm: int = 0
    """Its clock is wrong by at least so much in this boot: too slow, or negative, too fast."""
    held_ns: int | None = None
    """The last frame that came too late to show the present state."""
    held_run: int = 0
    """So many of them came in a row with none in time between."""
    restarting: bool = False
    """It starts again and again."""
    settled: dict[str, tuple[int, int]] = field(default_factory=dict)
    """For each alarm that was reset, the newest (boot, sequence) at that moment: older frames that
    arrive late must not raise it again."""
    late_said: dict[str, tuple[int, int]] = field(default_factory=dict)
    """For each alarm that a frame come late has told of, the (boot, sequence) of the last that did;
    gone with the first that does not."""
    account: SequenceAccount = field(default_factory=SequenceAccount)
    """Frames taken and lost, of those that are proven."""
    history: LinkHistory = field(default_factory=LinkHistory)
    """The same with a memory that fades: what the limit of silence comes from."""
    late: int = 0
    """Live frames that came after a newer one: taken, never shown as the present state."""
    door_dbar: int | None = None
    """The pressure told last while its wearer was not on air, with this cylinder."""
    highest_dbar: int | None = None
    """The highest that two such readings running came up to."""
    highest_ns: int = 0
    """When the second of them was heard."""
    breathes_ns: int | None = None
    """Since when somebody who is not noted on air has breathed from it; None: nobody has."""
    fall_from_dbar: int | None = None
    """Of a pack that nobody has, or whose wearer has not connected as far as is noted: the pressure
    from which a fall is measured."""
    measured_for: int = 0
    """The wearer for whom it is measured; 0: nobody has it."""
    fall_ns: int | None = None
    """Since when it is measured; None: not yet."""
    still_ns: int | None = None
    """Since when the motion warning of a pack that nobody has goes on."""
    measured_in: str = ""
    """The phase in which it is measured."""
    used_ns: int = 0
    """When breathing was last measured so."""
    no_motion_ns: int | None = None
    """Since when its motion sensor says nothing; None: it does."""
    in_use: bool = False
    """Somebody breathes from it, or lies still in it, and the board knows of nobody who does."""
    look_at_or_under_dbar: int = NO_THRESHOLD_LOW
    """Pressures here change an alarm: at or under this value, ..."""
    look_at_or_over_dbar: int = NO_THRESHOLD_HIGH
    """... or at or over this one."""
    look_at_rate_dbar: int = NO_THRESHOLD_LOW
    """At or under it the wearer's rate is looked at."""

    @property
    def interval_s(self) -> int:
        """Report interval, as told; a usual one until told."""
        return DEFAULT_INTERVAL_S if self.report is None else self.report.interval_s

    @property
    def comes_late(self) -> bool:
        """Its frames come, and not in time: one or two of them are no more than stragglers."""
        return self.held_run >= GAP_INTERVALS

    @property
    def are_two(self) -> bool:
        """Two packs answer to this identity now: which of them its wearer has nobody can tell."""
        return self.clash and self.clash_now and self.rivals

    @property
    def silent_since_ns(self) -> int | None:
        """From when silence counts; None if nothing is expected of this pack yet."""
        return self.expected_ns if self.heard_ns is None else self.heard_ns

    def motion(self) -> Motion:
        """What the sensor last said."""
        return Motion.UNKNOWN if self.report is None else self.report.motion

    def reading(self) -> Reading | None:
        """The newest gauge pressure told, with its time."""
        if self.pressure_dbar is None:
            return None
        return Reading(self.pressure_ns, self.pressure_dbar / 10, AirFrom.TELEMETRY)

    def take(self, report: Report, t: int) -> None:
        """Take the newest report as what the pack now says."""
        self.boot = report.boot
        self.sequence = report.sequence
        self.report = report
        self.report_ns = t
        if report.pressure_dbar is not None:
            self.pressure_dbar = report.pressure_dbar
            self.pressure_ns = t
        if report.gas_temperature_c is not None:
            self.gas_temperature_c = report.gas_temperature_c
        if report.equipment is not None:
            self.equipment = report.equipment

    def at_door(self, dbar: int, t: int) -> None:
        """Note a pressure told while its wearer is not on air."""
        before, self.door_dbar = self.door_dbar, dbar
        if before is not None:
            both = min(before, dbar)
            if self.highest_dbar is None or both > self.highest_dbar:
                self.highest_dbar, self.highest_ns = both, t

    def lose(self, t: int, rule: LinkRule) -> None:
        """Nothing counts as heard any more, by this rule."""
        self.lost, self.lost_ns, self.lost_by = True, t, rule
        # Of two packs one is heard in its right numbers.
        self.rivals = self.rivals and not self.comes_old

    def another_cylinder(self) -> None:
        """What was told was of another cylinder."""
        self.door_dbar = self.highest_dbar = self.pressure_dbar = None

    def signal(self, age_ns: int) -> Signal:
        """The word for the link; ``age_ns``: since last heard, whoever is to blame for it.

        A gap blames nobody, so it counts all time: what was not heard is never "ok".
        """
        if self.heard_ns is None:
            return Signal.NOT_PROVEN if self.unproven_ns is not None else Signal.NEVER
        if self.lost:
            return Signal.LOST
        if self.clash:
            return Signal.NOT_PROVEN
        if self.signed_off:
            return Signal.SIGNED_OFF
        return Signal.GAP if age_ns >= gap_after_ns(self.interval_s) else Signal.HEARD
