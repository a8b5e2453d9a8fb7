"""Figures and times of a report in words. Pure: the zone is an argument.

What is left, and how long something lasted, is cut off; what counts against us (a share of alarms,
a time to answer, air used) goes up. No abbreviation that a stranger would have to look up.
"""

import math
from datetime import UTC, datetime, timedelta, tzinfo

SECOND_NS = 1_000_000_000
MINUTE_S = 60
HOUR_S = 3_600
NOT_KNOWN = "not known"
NOT_RECORDED = "not recorded"
_EDGE = 1e-9
"""What binary fractions may lose of a figure that is whole."""
Zone = tzinfo | None
"""None: the zone that this machine is set to."""
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


def clock(wall_ns: int, zone: Zone) -> str:
    """Time of day: ``12:51:09``."""
    return _at(wall_ns, zone).strftime("%H:%M:%S")


def date(wall_ns: int, zone: Zone) -> str:
    """The day: ``2026-03-14``."""
    return _at(wall_ns, zone).strftime("%Y-%m-%d")


def moment(wall_ns: int, zone: Zone) -> str:
    """Day and time of day."""
    return f"{date(wall_ns, zone)} {clock(wall_ns, zone)}"


def zone_name(wall_ns: int, zone: Zone) -> str:
    """How far the zone is from Universal Time at that moment: ``+01:00``."""
    found = _at(wall_ns, zone).strftime("%z")
    return f"{found[:3]}:{found[3:5]}"


def _at(wall_ns: int, zone: Zone) -> datetime:
    """A moment in the zone, cut off to whole seconds; kept within what a calendar holds."""
    try:
        return (_EPOCH + timedelta(seconds=wall_ns // SECOND_NS)).astimezone(zone)
    except (OverflowError, ValueError):
        return _EPOCH


def span(ns: int) -> str:
    """A length of time, cut off to whole seconds: ``1 h 4 min 9 s``."""
    seconds = max(0, ns) // SECOND_NS
    hours, minutes, rest = seconds // HOUR_S, seconds % HOUR_S // MINUTE_S, seconds % MINUTE_S
    if hours:
        return f"{hours} h {minutes} min {rest} s"
    return f"{minutes} min {rest} s" if minutes else f"{rest} s"


def seconds_up(ns: int | None) -> str:
    """A time that somebody waited, in seconds, to the tenth above."""
    return "none" if ns is None else f"{tenth_up(ns / SECOND_NS)} s"


def tenth_up(value: float | None) -> str:
    """A figure that counts against us, to the tenth above."""
    return NOT_KNOWN if value is None else f"{math.ceil(value * 10 - _EDGE) / 10:.1f}"


def percent_up(share: float | None) -> str:
    """A share that counts against us, in percent, to the tenth above."""
    return "none" if share is None else f"{tenth_up(share * 100)} %"


def percent_down(share: float | None) -> str:
    """A share that counts for us, in percent, to the tenth below."""
    return "none" if share is None else f"{math.floor(share * 1000 + _EDGE) / 10:.1f} %"


def counted(number: int, one: str, many: str = "") -> str:
    """A number and what it counts: ``1 wearer``, ``2 wearers``."""
    return f"{number} {one if number == 1 else many or one + 's'}"
