"""The next mark: what the air of a wearer comes to next, and when at the earliest.

Three ways say when: the forecast from what this wearer breathes (its lower bound), the planned
rate by real gas, and the service's table. The earliest governs and is named. A plan that has passed
while a present reading says otherwise has been proved wrong: it is dropped, and silence does not
bring it back. One that passes in silence stands.

In silence the pressure shown is the bound of one case in a hundred. Times go over from one in ten
to that same bound in the first minute of it, so that nothing jumps when a report is lost, and a
line never says ``0`` beside ``2 min``.
"""

from dataclasses import dataclass, field
from math import isfinite
from typing import Literal

from monitor.incident.air import gas, planned
from monitor.incident.air.forecast import (
    LOWER_1,
    LOWER_10,
    MEDIAN,
    Outlook,
    Outlooks,
    gauge_variance_l2,
)
from monitor.incident.air.shown import SECOND_NS, Cylinder, Reading
from monitor.incident.picture import NextMark

Target = Literal["turn", "low", "empty"]
SECONDS_MAX = 24 * 3600
"""Later than this is not told: nothing that breathes lasts so long."""
OVER_S = 60
"""How long times take, from when a reading is no present one, to come to the bound of silence."""


@dataclass(frozen=True, slots=True)
class Standing:
    """What is known of one wearer's air now."""

    now: int
    connected_ns: int
    reading: Reading
    """The one that governs."""
    fresh_ns: int
    """So long it counts as a present one."""
    start_bar: float | None
    """At connecting."""
    cylinder: Cylinder
    outlooks: Outlooks
    planning_rate_l_min: float
    step_bar: float
    kept_s: dict[tuple[float, ...], float] = field(default_factory=dict)
    """Times reckoned before from the same reading."""

    @property
    def stale_s(self) -> float:
        """Seconds since the reading ceased to be a present one; under 0: it is one."""
        return (self.now - self.reading.t - self.fresh_ns) / SECOND_NS

    @property
    def fresh(self) -> bool:
        """Whether the reading is a present one."""
        return self.stale_s < 0

    def earliest_z(self) -> float:
        """The bound at which times are told now."""
        over = min(1.0, max(0.0, self.stale_s // 1) / OVER_S)
        return LOWER_10 + (LOWER_1 - LOWER_10) * over

    def outlook(self, z: float) -> Outlook:
        """What a bound is reckoned from."""
        return self.outlooks.earliest if z > MEDIAN else self.outlooks.likely


def target_of(
    shown_bar: float, turn_bar: float | None, low_bar: float | None, *, back: bool
) -> tuple[Target, float]:
    """Which mark comes next, and its pressure. ``back``: the way back has begun."""
    if low_bar is not None and shown_bar <= low_bar:
        return "empty", 0.0
    if turn_bar is not None and not back:
        return "turn", turn_bar
    return ("empty", 0.0) if low_bar is None else ("low", low_bar)


def next_mark(
    standing: Standing, target: Target, mark_bar: float, reached_ns: int | None
) -> NextMark | None:
    """When ``mark_bar`` is reached. ``reached_ns``: when it was, if it has been."""
    if standing.cylinder.water_volume_l is None:
        return None
    estimate = not standing.fresh
    ways: list[tuple[float, Literal["T", "R", "F"]]] = []
    if reached_ns is not None:
        ways.append((-max(1, (standing.now - reached_ns) // SECOND_NS), "F"))
    else:
        seconds = forecast_s(standing, mark_bar, standing.earliest_z())
        if isfinite(seconds):
            ways.append((seconds, "F"))
    # Where a reading was the last present one, or is now: by then the plan must not have passed.
    since_s = max(0.0, standing.stale_s)
    ways += [(left, by) for left, by in planned_s(standing, mark_bar) if left + since_s > 0]
    if not ways:
        return None
    left, by = min(ways)
    whole = int(min(max(left, -SECONDS_MAX), SECONDS_MAX) // 1)
    return NextMark(target, whole, by, estimate=estimate)


def forecast_s(standing: Standing, mark_bar: float, z: float) -> float:
    """Seconds from now until this wearer's breathing reaches the mark; ``z``: how sure."""
    volume = standing.cylinder.water_volume_l
    if volume is None:
        return float("inf")
    temperature = standing.cylinder.temperature_c
    bar = standing.reading.bar
    key = (mark_bar, bar, temperature, z)
    seconds = standing.kept_s.get(key)
    if seconds is None:
        above = gas.usable_l(bar, volume, temperature) - gas.usable_l(mark_bar, volume, temperature)
        spread = gauge_variance_l2(bar, volume, temperature, standing.step_bar)
        seconds = standing.outlook(z).seconds_until(max(0.0, above), spread, z)
        standing.kept_s[key] = seconds
    return seconds - (standing.now - standing.reading.t) / SECOND_NS


def planned_s(standing: Standing, mark_bar: float) -> list[tuple[float, Literal["T", "R"]]]:
    """Seconds from now until the plan reaches the mark, by table and by real gas."""
    volume = standing.cylinder.water_volume_l
    if volume is None or standing.start_bar is None:
        return []
    since = (standing.now - standing.connected_ns) / SECOND_NS
    span = planned.span(
        standing.start_bar,
        mark_bar,
        volume,
        standing.cylinder.temperature_c,
        standing.planning_rate_l_min,
    )
    return [(span.table_min * 60 - since, "T"), (span.real_s - since, "R")]
