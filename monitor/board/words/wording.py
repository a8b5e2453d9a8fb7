"""Times, pressures and litres in words. Pure.

Rounding is always to the worse case. Air left and time left are rounded down, in digits and in
cells; air used, a pressure to turn at and a time gone by are rounded up: a signal heard 1.2 s ago
is 2 s old. Durations are unmistakable: ``1 min 12 s``, never digits with a colon, which are kept
for times of day.
"""

from datetime import datetime, tzinfo

from monitor.incident import units
from monitor.incident.picture import NextMark

SECOND_NS = 1_000_000_000
MINUTE_S = 60
HOUR_MIN = 60
WITH_SECONDS_S = 600
"""From ten minutes on an age has no seconds: it must fit ten characters."""
WITH_MINUTES_H = 10
"""From ten hours on it has no minutes either."""
FIGURE_MAX = 999
"""What a narrow column tells as a figure; beyond it only that it is more: none is ever cut."""
SHORT_MAX = 100
"""A short age changes to the next unit at three figures."""
STRIP_CELLS = 10
LITRE_STEP = 10
"""Contents are shown in steps of ten litres: a bar on the gauge is about seven."""


def _up(value: int, step: int) -> int:
    return -(-value // step)


def age(ns: int) -> str:
    """A time gone by, rounded up; at most ten characters."""
    seconds = _up(max(ns, 0), SECOND_NS)
    if seconds < MINUTE_S:
        return f"{seconds} s"
    if seconds < WITH_SECONDS_S:
        return f"{seconds // MINUTE_S} min {seconds % MINUTE_S} s"
    minutes = _up(seconds, MINUTE_S)
    if minutes < HOUR_MIN:
        return f"{minutes} min"
    if minutes < WITH_MINUTES_H * HOUR_MIN:
        return f"{minutes // HOUR_MIN} h {minutes % HOUR_MIN} min"
    return f"{_up(minutes, HOUR_MIN)} h"


def short_age(ns: int) -> str:
    """A time gone by for a narrow column: one figure and its unit, rounded up."""
    seconds = _up(max(ns, 0), SECOND_NS)
    if seconds < SHORT_MAX:
        return f"{seconds} s"
    minutes = _up(seconds, MINUTE_S)
    return f"{minutes} min" if minutes < SHORT_MAX else f"{_up(minutes, HOUR_MIN)} h"


def day_time(wall_ns: int, zone: tzinfo | None, *, seconds: bool = False) -> str:
    """The time of day of a wall-clock instant."""
    moment = datetime.fromtimestamp(wall_ns // SECOND_NS, zone)
    return moment.strftime("%H:%M:%S" if seconds else "%H:%M")


def pressure(bar: float, unit: str = "bar") -> str:
    """Digits of a gauge pressure in its unit, rounded down."""
    return str(units.left(bar, unit))


def turn_pressure(bar: float, unit: str = "bar") -> str:
    """Digits of a pressure at which one must turn, rounded up."""
    return str(units.turn(bar, unit))


def rate(l_min: float) -> str:
    """Digits of litres breathed a minute, rounded up."""
    return str(units.up(l_min))


def until(seconds: int) -> str:
    """Whole minutes until something; how long it is overdue counts up from ``+1``."""
    if seconds >= 0:
        return str(seconds // MINUTE_S)
    minutes = _up(-seconds, MINUTE_S)
    if minutes < SHORT_MAX:
        return f"+{minutes}"
    hours = _up(minutes, HOUR_MIN)
    return f"+{hours}h" if hours <= FIGURE_MAX else f">{FIGURE_MAX}h"


def next_mark(mark: NextMark, cells: int, sign: str = "") -> str:
    """``turn 6 F``: what comes next, in how many minutes, and what says so.

    ``sign`` stands before the figure of an estimate. Where that does not fit, blanks go first,
    then the letter, at last the sign.
    """
    left = f"{sign}{until(mark.seconds)}"
    if mark.seconds > FIGURE_MAX * MINUTE_S:
        left = f">{FIGURE_MAX}"
    forms = (
        f"{mark.target} {left} {mark.by}",
        f"{mark.target} {left}{mark.by}",
        f"{mark.target}{left}{mark.by}",
        f"{mark.target} {left}",
        f"{mark.target}{left}",
        f"{mark.target}{left.removeprefix(sign)}",
    )
    return next((form for form in forms if len(form) <= cells), forms[-1])


def litres(contents_l: float) -> str:
    """Digits of usable free air, rounded down to ten litres."""
    return str(units.down(contents_l, LITRE_STEP))


def strip_cells(fraction: float) -> int:
    """Lit cells of the air strip, rounded down, 0 to ``STRIP_CELLS``."""
    return min(STRIP_CELLS, units.down(fraction * STRIP_CELLS))


def loss_percent(taken: int, lost: int) -> int:
    """Of all that was sent, so many hundredths did not come, rounded up."""
    return _up(100 * lost, max(1, taken + lost))


def counted(number: int, one: str, many: str = "") -> str:
    """``1 alarm``, ``2 alarms``."""
    return f"{number} {one if number == 1 else many or one + 's'}"
