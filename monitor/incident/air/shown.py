"""Which air figure a wearer's line shows: a reading, or an estimate that falls.

An old reading is never shown as if it were live. Once it is stale the contents it stood for fall,
so the figure is the worse case and never rises while nothing new is heard: by the wearer's own
breathing, at the bound that one case in a hundred would be under; without any history at the
procedure's projection rate. The age of the reading it started from always goes with it.
"""

from dataclasses import dataclass
from math import isfinite

from monitor.incident.air import gas
from monitor.incident.air.forecast import LOWER_1, Outlook, gauge_variance_l2
from monitor.incident.picture import AirFrom, AirView

SECOND_NS = 1_000_000_000
SMALLEST_CYLINDER_L = 3.0
"""Water volume taken for projecting when nobody has told it: the smallest in use, so the gauge
falls fastest (smallest of the usual sizes; common practice)."""
HIGHEST_RATED_BAR = 300.0
"""Rated pressure of which marks are a share under air where nobody has told it: the highest usual
one, so that they come early and not never (common practice)."""


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
    """Of the gas, for all that is counted and forecast: the procedure's, from first to last."""
    gas_c: float | None = None
    """As the pack tells now, for the contents shown; None: it does not."""

    def contents_l(self, bar: float) -> float | None:
        """Usable free air at a pressure shown; None where the water volume is not known."""
        if not self.water_volume_l:
            return None
        temperature = self.temperature_c if self.gas_c is None else self.gas_c
        return gas.usable_l(bar, self.water_volume_l, temperature)


@dataclass(frozen=True, slots=True)
class Fall:
    """How air that nobody reads is taken to fall."""

    rate_l_min: float
    """While nothing better is known."""
    outlook: Outlook | None = None
    """The wearer's own breathing, as it was at the last reading."""
    step_bar: float = 1.0
    """Smallest step in which pressure is told."""

    def left_l(self, reading: Reading, cylinder: Cylinder, volume: float, now: int) -> float:
        """Litres left at ``now``, the worse case."""
        contents = gas.usable_l(reading.bar, volume, cylinder.temperature_c)
        seconds = max(0, now - reading.t) / SECOND_NS
        if self.outlook is None:
            return contents - seconds / 60 * self.rate_l_min
        spread = gauge_variance_l2(reading.bar, volume, cylinder.temperature_c, self.step_bar)
        return self.outlook.least_left_l(contents, spread, seconds, LOWER_1)


def estimate_bar(reading: Reading, cylinder: Cylinder, now: int, fall: Fall) -> float:
    """Gauge pressure at ``now`` if the air had fallen so since the reading."""
    volume = cylinder.water_volume_l or SMALLEST_CYLINDER_L
    left = fall.left_l(reading, cylinder, volume, now)
    return min(reading.bar, gas.gauge_bar(left, volume, cylinder.temperature_c))


def reached_ns(reading: Reading, cylinder: Cylinder, bar: float, fall: Fall) -> int | None:
    """When the estimate reaches a pressure; None if not within a day.

    Rounded down to a whole second after the reading: the safe side, and the same on every machine.
    """
    volume = cylinder.water_volume_l or SMALLEST_CYLINDER_L
    temperature = cylinder.temperature_c
    above = gas.usable_l(reading.bar, volume, temperature) - gas.usable_l(bar, volume, temperature)
    if fall.outlook is None:
        seconds = max(0.0, above) / fall.rate_l_min * 60
    else:
        spread = gauge_variance_l2(reading.bar, volume, temperature, fall.step_bar)
        seconds = fall.outlook.seconds_until(above, spread, LOWER_1)
    return reading.t + int(seconds) * SECOND_NS if isfinite(seconds) else None


def air_view(
    reading: Reading | None,
    cylinder: Cylinder,
    now: int,
    stale_after_ns: int,
    fall: Fall,
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
    assumed = reading.source is AirFrom.ASSUMED
    stale = assumed or age >= stale_after_ns
    shown = reading.bar
    if stale and falling:
        shown = estimate_bar(reading, cylinder, now, fall)
    rated = cylinder.rated_bar
    return AirView(
        source=AirFrom.ASSUMED if assumed else AirFrom.ESTIMATE if stale else reading.source,
        pressure_bar=shown,
        fraction=None if not rated else min(1.0, shown / rated),
        contents_l=cylinder.contents_l(shown),
        reading_bar=None if assumed else reading.bar,
        reading_age_ns=None if assumed else age,
        low_air_bar=cylinder.low_air_bar,
        rated_bar=rated,
    )
