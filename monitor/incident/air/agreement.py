"""Whether two readings of one cylinder, taken at different times, can both be right.

Air only falls while its wearer breathes from the set, and no slower than the least breathing. So of
an earlier reading no more can be left than ``most_left_bar``; a later one that is over it, by more
than gauges differ, contradicts it, however much air has been breathed meanwhile.
"""

from math import sqrt

from monitor.incident.air import gas
from monitor.incident.air.forecast import LEAST_L_S, LOWER_1, Outlook
from monitor.incident.air.shown import SECOND_NS, SMALLEST_CYLINDER_L, Cylinder, Reading


def most_left_bar(
    reading: Reading, cylinder: Cylinder, now: int, outlook: Outlook | None = None
) -> float:
    """Gauge pressure of which a reading may have left at most so much at ``now``.

    ``outlook``: the wearer's own breathing, where enough of it is known; but for one case in a
    hundred they breathe more than that.
    """
    volume = cylinder.water_volume_l or SMALLEST_CYLINDER_L
    seconds = max(0, now - reading.t) / SECOND_NS
    least_l = LEAST_L_S * seconds
    if outlook is not None:
        spread = LOWER_1 * sqrt(outlook.variance(seconds))
        least_l = max(least_l, outlook.used_l(seconds) - spread)
    contents = gas.usable_l(reading.bar, volume, cylinder.temperature_c)
    left = gas.gauge_bar(contents - least_l, volume, cylinder.temperature_c)
    return min(reading.bar, left)


def used_back_bar(
    bar: float, seconds: float, rate_l_min: float, cylinder: Cylinder, full_bar: float
) -> float:
    """Gauge pressure so long before ``bar`` was read, if air went at this rate; at most full."""
    volume = cylinder.water_volume_l or SMALLEST_CYLINDER_L
    contents = gas.usable_l(bar, volume, cylinder.temperature_c) + seconds / 60 * rate_l_min
    return max(bar, min(full_bar, gas.gauge_bar(contents, volume, cylinder.temperature_c)))
