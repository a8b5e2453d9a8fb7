"""Which air figure a wearer's line shows: a reading, or an estimate that falls.

An old reading is never shown as if it were live. Once it is stale the contents it stood for fall
at the procedure's projection rate, so the figure is the worse case and never rises while nothing
new is heard. The age of the reading it started from always goes with it.
"""

from dataclasses import dataclass

from monitor.incident.air import gas
from monitor.incident.picture import AirFrom, AirView

SECOND_NS = 1_000_000_000
MINUTE_NS = 60 * SECOND_NS
SMALLEST_CYLINDER_L = 3.0
"""Water volume taken for projecting when nobody has told it: the smallest in use, so the gauge
falls fastest (smallest of the usual sizes; common practice)."""


@dataclass(frozen=True, slots=True)
class Reading:
    """A gauge pressure somebody or something read."""

    t: int
    """When it was read, incident time in ns."""
    bar: float
    """Gauge pressure."""
    source: AirFrom


@dataclass(frozen=True, slots=True)
class Cylinder:
    """What is known of the cylinder a wearer breathes from."""

    water_volume_l: float | None
    rated_bar: float | None
    low_air_bar: float | None
    """Where its low-air warning is expected."""
    temperature_c: float
    """Of the gas: as the pack tells, else the procedure's value."""


def estimate_bar(reading: Reading, cylinder: Cylinder, now: int, rate_l_min: float) -> float:
    """Gauge pressure at ``now`` if the air had fallen at ``rate_l_min`` since the reading."""
    volume = cylinder.water_volume_l or SMALLEST_CYLINDER_L
    used = max(0, now - reading.t) / MINUTE_NS * rate_l_min
    left = gas.usable_l(reading.bar, volume, cylinder.temperature_c) - used
    return min(reading.bar, gas.gauge_bar(left, volume, cylinder.temperature_c))


def low_at_ns(reading: Reading, cylinder: Cylinder, rate_l_min: float) -> int | None:
    """When the estimate reaches the low-air value; None if that value is unknown.

    Rounded down to a whole second after the reading: the safe side, and the same on every machine.
    """
    if cylinder.low_air_bar is None:
        return None
    volume = cylinder.water_volume_l or SMALLEST_CYLINDER_L
    above = gas.usable_l(reading.bar, volume, cylinder.temperature_c) - gas.usable_l(
        cylinder.low_air_bar, volume, cylinder.temperature_c
    )
    return reading.t + int(max(0.0, above) / rate_l_min * 60) * SECOND_NS


def air_view(
    reading: Reading | None,
    cylinder: Cylinder,
    now: int,
    stale_after_ns: int,
    rate_l_min: float,
    *,
    falling: bool,
) -> AirView:
    """The air cell. ``falling``: the wearer breathes from the set, so a stale reading falls."""
    if reading is None:
        return AirView(
            source=AirFrom.NOWHERE,
            pressure_bar=None,
            fraction=None,
            contents_l=None,
            reading_bar=None,
            reading_age_ns=None,
            low_air_bar=cylinder.low_air_bar,
            rated_bar=cylinder.rated_bar,
        )
    age = now - reading.t
    stale = age >= stale_after_ns
    shown = reading.bar
    if stale and falling:
        shown = estimate_bar(reading, cylinder, now, rate_l_min)
    rated = cylinder.rated_bar
    volume = cylinder.water_volume_l
    return AirView(
        source=AirFrom.ESTIMATE if stale else reading.source,
        pressure_bar=shown,
        fraction=None if not rated else min(1.0, shown / rated),
        contents_l=None if not volume else gas.usable_l(shown, volume, cylinder.temperature_c),
        reading_bar=reading.bar,
        reading_age_ns=age,
        low_air_bar=cylinder.low_air_bar,
        rated_bar=rated,
    )
