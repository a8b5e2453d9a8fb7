"""Facts of the incident in the words of the screen."""

from math import ceil

from monitor.incident import units
from monitor.incident.air.gauge import GaugeFault
from monitor.incident.air.shown import SECOND_NS
from monitor.incident.air.start import StartFrom
from monitor.incident.link_rule import JITTER_NS, LinkRule
from monitor.incident.picture import Phase, Signal
from protocol.packets import Motion

QUIET = "ok"
GAUGE_UNREADABLE = "the pack tells no pressure"
GAUGE_FAULTS = {
    GaugeFault.UNREADABLE: GAUGE_UNREADABLE,
    GaugeFault.OUTSIDE: "a pressure that this cylinder cannot have",
    GaugeFault.RISING: "pressure rises: cylinder changed, or refilled?",
    GaugeFault.STUCK: "the gauge rests while the wearer moves",
}
CREW_ALARM = "crew alarm"
STILL_HEARD = "heard again after a motion pre-alarm"

MOTION_WORDS = {
    Motion.UNKNOWN: "unknown",
    Motion.MOVING: "moving",
    Motion.STILL: "still",
    Motion.PRE_ALARM: "pre-alarm",
    Motion.ALARM: "alarm",
}

_SIGNAL_STATES = {
    Signal.NEVER: "never heard",
    Signal.NOT_PROVEN: "not proven",
    Signal.GAP: "signal gap",
    Signal.LOST: "no signal",
    Signal.BY_VOICE: "by voice",
    Signal.SIGNED_OFF: "signed off",
    Signal.NONE: "no telemetry",
}
"""What a link in this state makes of a wearer's line; a link that is well makes nothing."""


NOT_HERE = "not here yet"
"""Of a roster, and neither heard nor checked in."""


def quiet_state(phase: Phase, signal: Signal) -> str:
    """The state word of a wearer on whom there is no alarm.

    Under air the link comes first: where nothing is heard the line is never "ok".
    """
    if phase in (Phase.ON_AIR, Phase.ENTERED):
        return _SIGNAL_STATES.get(signal, QUIET)
    return NOT_HERE if phase is Phase.LISTED else phase.value


SECONDS_TOLD_MAX = 120
"""Under this a span is told in seconds."""
BY_WORDS = {"T": "by the table", "R": "by the planned rate", "F": "by this wearer's breathing"}
"""Which way of reckoning gave a time."""


def minutes(span_s: float) -> str:
    """A span as whole minutes, rounded down; what is less than two, in seconds."""
    whole = max(0, int(min(span_s, 86_400)))
    return f"{whole} s" if whole < SECONDS_TOLD_MAX else f"{whole // 60} min"


def seconds(span_ns: int) -> str:
    """A short span, in whole seconds, rounded down."""
    return f"{span_ns // SECOND_NS} s"


def minutes_left(span_ns: int) -> str:
    """A span to come that somebody waits out, in whole minutes, rounded up."""
    return f"{-(-span_ns // (60 * SECOND_NS))} min"


def silence_detail(silent_ns: int, limit_ns: int) -> str:
    """How long a pack has been silent, and how long it may be."""
    return f"silent {seconds(silent_ns)}, limit {seconds(limit_ns)}"


def turn_back_detail(who: str, bar: float, why: str, unit: str) -> str:
    """Where a crew turns, by whose gauge, and the rule."""
    return f"{who} at {units.turn(bar, unit)} {unit}: {why}"


def start(bar: float, start_from: StartFrom | None, unit: str) -> str:
    """The pressure at connecting and how it was come by, rounded up as the mark is."""
    how = StartFrom.ASSUMED if start_from is None else start_from
    return f"start {units.turn(bar, unit)} {unit}, {how.value}"


def gauge_differs(told_bar: float, spoken_bar: float, unit: str = "bar") -> str:
    """How telemetry and the reading by voice disagree; both rounded down."""
    told, spoken = units.left(told_bar, unit), units.left(spoken_bar, unit)
    return f"{told} {unit} by telemetry, {spoken} by voice"


def spoken_high(bar: float, left_bar: float, unit: str = "bar") -> str:
    """A reading by voice is over what was read before, less what is breathed at the least."""
    said, left = units.left(bar, unit), units.left(left_bar, unit)
    return f"{said} {unit} by voice, breathing leaves at most {left}: which counts?"


def which_counts(told_bar: float, spoken_bar: float, unit: str = "bar") -> str:
    """Telemetry is far over what was said before, and nothing says which is right."""
    return f"{gauge_differs(told_bar, spoken_bar, unit)}: which counts?"


def spoken_outside(bar: float, unit: str = "bar") -> str:
    """A reading by voice that the cylinder cannot have."""
    said = units.left(bar, unit)
    return f"{said} {unit} by voice: a pressure that this cylinder cannot have"


def used_aside(before_bar: float, unit: str = "bar") -> str:
    """Who is on another supply uses their own air."""
    return f"on another supply, yet own air falls from {units.left(before_bar, unit)} {unit}"


def flag_early(bar: float, low_bar: float, unit: str = "bar") -> str:
    """The set warns far over its own value."""
    at, low = units.left(bar, unit), units.left(low_bar, unit)
    return f"the set warns at {at} {unit}, its value is {low}"


def flag_missing(bar: float, low_bar: float, unit: str = "bar") -> str:
    """The set does not warn, though it should."""
    at, low = units.left(bar, unit), units.left(low_bar, unit)
    return f"no warning at {at} {unit}, the set's value is {low}"


def link_rule(rule: LinkRule, silent_ns: int) -> str:
    """The same, and where the limit comes from: reports lost in a row, this link, who shares."""
    waits_s, held_s = rule.reports * rule.interval_s, (rule.limit_ns - JITTER_NS) // SECOND_NS
    if waits_s == held_s:
        waits = f"{rule.reports} reports of {rule.interval_s} s"
    else:
        waits = f"{held_s} s at {'least' if waits_s < held_s else 'most'}"
    told = [f"{silence_detail(silent_ns, rule.limit_ns)}: {waits}"]
    if rule.known:
        told.append(f"loss {ceil(100 * rule.loss)} %")
        told.append(f"{rule.long_an_hour:.1f} gaps an hour of about {rule.long_s:.0f} s")
    else:
        told.append("nothing heard yet")
    if rule.wearers > 1:
        told.append(f"shared by {rule.wearers} wearers")
    return "; ".join(told)


def low_air_detail(
    pressure_bar: float | None, low_bar: float | None, unit: str = "bar", *, flag: bool
) -> str:
    """Why it is low air; the reading is rounded down, the value it is held against up."""
    parts = []
    if pressure_bar is not None:
        parts.append(f"{units.left(pressure_bar, unit)} {unit}")
    if low_bar is not None:
        parts.append(f"low at {units.turn(low_bar, unit)} {unit}")
    if flag:
        parts.append("the pack's own warning")
    return ", ".join(parts)
