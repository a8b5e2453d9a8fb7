"""The next mark: what the air of a wearer comes to next, and when at the earliest.

Three ways say when: the forecast from what this wearer breathes (its lower bound), the planned
rate by real gas, and the service's table. The earliest governs and is named. A planned time that
has passed while a present reading says otherwise has been proved wrong, and is dropped; without a
present reading it stands.
"""

from dataclasses import dataclass, field
from math import isfinite
from typing import Literal

from monitor.incident.air import gas, planned
from monitor.incident.air.forecast import LOWER_10, Outlook, gauge_variance_l2
from monitor.incident.air.shown import SECOND_NS, Cylinder, Reading
from monitor.incident.picture import NextMark

Target = Literal["turn", "low", "empty"]
SECONDS_MAX = 24 * 3600
"""Later than this is not told: nothing that breathes lasts so long."""


@dataclass(frozen=True, slots=True)
class Standing:
    """What is known of one wearer's air now."""

    now: int
    connected_ns: int
    reading: Reading
    """The one that governs."""
    fresh: bool
    """It is a present one."""
    start_bar: float | None
    """At connecting."""
    cylinder: Cylinder
    outlook: Outlook
    planning_rate_l_min: float
    step_bar: float
    kept_s: dict[tuple[float, ...], float] = field(default_factory=dict)
    """Times reckoned before from the same reading."""


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
    if reached_ns is not None:
        over = (standing.now - reached_ns) // SECOND_NS
        return NextMark(target, -max(1, over), "F", estimate=estimate)
    ways: list[tuple[float, Literal["T", "R", "F"]]] = []
    seconds = forecast_s(standing, mark_bar, LOWER_10)
    if isfinite(seconds):
        ways.append((seconds, "F"))
    ways += [
        (left, by) for left, by in planned_s(standing, mark_bar) if left > 0 or not standing.fresh
    ]
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
        seconds = standing.outlook.seconds_until(max(0.0, above), spread, z)
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
