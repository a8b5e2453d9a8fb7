"""Facts of the incident in the words of the screen."""

from monitor.incident.air.shown import SECOND_NS
from monitor.incident.picture import Phase, Signal
from protocol.packets import Motion

QUIET = "ok"
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


def quiet_state(phase: Phase, signal: Signal) -> str:
    """The state word of a wearer on whom there is no alarm.

    Under air the link comes first: where nothing is heard the line is never "ok".
    """
    if phase in (Phase.ON_AIR, Phase.ENTERED):
        return _SIGNAL_STATES.get(signal, QUIET)
    return phase.value


def seconds(span_ns: int) -> str:
    """A short span, in whole seconds, rounded down."""
    return f"{span_ns // SECOND_NS} s"


def silence_detail(silent_ns: int, limit_ns: int) -> str:
    """The rule of the link, in words and figures."""
    return f"silent {seconds(silent_ns)}, limit {seconds(limit_ns)}"


def low_air_detail(pressure_bar: float | None, low_bar: float | None, *, flag: bool) -> str:
    """Why it is low air; the reading is rounded down, the value it is held against is not."""
    parts = []
    if pressure_bar is not None:
        parts.append(f"{int(pressure_bar)} bar")
    if low_bar is not None:
        parts.append(f"low at {low_bar:.0f} bar")
    if flag:
        parts.append("the pack's own warning")
    return ", ".join(parts)
