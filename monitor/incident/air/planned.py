"""Planned times: how long a cylinder lasts at the procedure's rate, before anything is measured.

Two ways, always told apart. TABLE is the sum on the service's own card, gauge pressure times water
volume over the planning rate; it is what everybody at the door can check by hand. REAL is the same
with the real contents of the cylinder, which are less when it is full.

Two marks, told apart as well. By margin: the full duration less the card's safety margin. By
pressure: until the low-air warning is expected to sound. On few cylinders are they the same.

All times are spans from connecting to air, rounded down: table times to whole minutes as on the
card, real ones to whole seconds.
"""

from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple

from monitor.incident.air import gas
from monitor.incident.air.shown import Cylinder
from monitor.incident.procedure import Procedure

ROUNDING_MIN = 1e-9
"""What binary fractions may lose of a sum that is whole on the card: 60 ns."""
SPANS_KEPT = 2_048
"""Asked for at each picture, three marks a wearer; another only as the gas warms or cools."""


class Span(NamedTuple):
    """How long, by both ways."""

    table_min: int
    real_s: int

    @property
    def least_s(self) -> int:
        """The earlier one, in seconds."""
        return min(self.table_min * 60, self.real_s)


@dataclass(frozen=True, slots=True)
class Plan:
    """What is expected of one cylinder from connecting on."""

    start_bar: float
    rate_l_min: float
    table_l: float
    """Pressure times volume, in litres."""
    real_l: float
    """Usable free air, in litres."""
    full: Span
    """Until nothing is left."""
    by_margin: Span | None
    """Until only the safety margin is left; None: the procedure has none."""
    by_pressure: Span | None
    """Until the low-air warning; None: where it sounds is not known."""

    @property
    def working_s(self) -> int:
        """The earliest of all that says when the work must be over."""
        spans = [span for span in (self.by_margin, self.by_pressure) if span]
        return min((span.least_s for span in spans), default=self.full.least_s)


def plan(start_bar: float, cylinder: Cylinder, procedure: Procedure) -> Plan | None:
    """Plan from the pressure at connecting. None where the water volume is not known."""
    volume = cylinder.water_volume_l
    if volume is None:
        return None
    rate = procedure.planning_rate_l_min
    low = cylinder.low_air_bar
    return Plan(
        start_bar=start_bar,
        rate_l_min=rate,
        table_l=start_bar * volume,
        real_l=gas.usable_l(start_bar, volume, cylinder.temperature_c),
        full=span(start_bar, 0, volume, cylinder.temperature_c, rate),
        by_margin=_by_margin(start_bar, cylinder, volume, procedure),
        by_pressure=None
        if low is None
        else span(start_bar, low, volume, cylinder.temperature_c, rate),
    )


@lru_cache(maxsize=SPANS_KEPT)
def span(
    from_bar: float, to_bar: float, water_volume_l: float, temperature_c: float, rate_l_min: float
) -> Span:
    """How long from one gauge pressure down to another at this rate; 0 if it is there already."""
    table_l = (from_bar - to_bar) * water_volume_l
    real_l = gas.usable_l(from_bar, water_volume_l, temperature_c) - gas.usable_l(
        to_bar, water_volume_l, temperature_c
    )
    return Span(_whole_minutes(table_l / rate_l_min), max(0, int(real_l / rate_l_min * 60)))


def _by_margin(
    start_bar: float, cylinder: Cylinder, volume: float, procedure: Procedure
) -> Span | None:
    rate = procedure.planning_rate_l_min
    temperature = cylinder.temperature_c
    if procedure.margin_min is not None:
        table = start_bar * volume / rate - procedure.margin_min
        real = gas.usable_l(start_bar, volume, temperature) / rate - procedure.margin_min
        return Span(_whole_minutes(table), max(0, int(real * 60)))
    left = procedure.margin_bar
    if procedure.margin_fraction is not None and cylinder.rated_bar is not None:
        left = procedure.margin_fraction * cylinder.rated_bar
    return None if left is None else span(start_bar, left, volume, temperature, rate)


def _whole_minutes(minutes: float) -> int:
    return max(0, int(minutes + ROUNDING_MIN))


def thirds_s(expected_s: int) -> tuple[int, int]:
    """When a crew is told to mind its gauges: one third and two thirds, whole seconds, down."""
    return expected_s // 3, expected_s * 2 // 3
