import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.incident.air import gas, shown
from monitor.incident.air.forecast import Prior, outlook
from monitor.incident.air.rate import Consumption
from monitor.incident.air.shown import Cylinder, Fall, Reading
from monitor.incident.picture import AirFrom

S = 1_000_000_000
CYLINDER = Cylinder(6.8, 300, 105, 15)
READING = Reading(100 * S, 200, AirFrom.TELEMETRY)
STALE = 16 * S
FALL = Fall(100)


def test_a_fresh_reading_is_shown_as_it_is() -> None:
    view = shown.air_view(READING, CYLINDER, 100 * S + STALE - 1, STALE, FALL, falling=True)
    assert (view.source, view.pressure_bar, view.reading_bar) == (AirFrom.TELEMETRY, 200, 200)
    assert view.fraction == pytest.approx(2 / 3)
    # 6.8 L at 200 bar and 15 C: 1313 L (computed with CoolProp).
    assert view.contents_l == pytest.approx(1313, rel=0.003)
    assert view.low_air_bar == 105


def test_a_stale_reading_becomes_an_estimate_that_falls() -> None:
    view = shown.air_view(READING, CYLINDER, 160 * S, STALE, FALL, falling=True)
    assert view.source is AirFrom.ESTIMATE
    # One minute at 100 L/min.
    assert view.contents_l == pytest.approx(gas.usable_l(200, 6.8, 15) - 100, abs=0.1)
    assert view.pressure_bar is not None
    assert view.pressure_bar < 200
    assert (view.reading_bar, view.reading_age_ns) == (200, 60 * S)


def test_off_air_a_stale_reading_stands_but_is_not_called_a_reading() -> None:
    view = shown.air_view(READING, CYLINDER, 160 * S, STALE, FALL, falling=False)
    assert (view.source, view.pressure_bar) == (AirFrom.ESTIMATE, 200)


def test_nothing_known_is_shown_as_nothing() -> None:
    view = shown.air_view(None, Cylinder(None, None, None, 30), 160 * S, STALE, FALL, falling=True)
    assert view.source is AirFrom.NOWHERE
    assert view.pressure_bar is None
    assert view.contents_l is None
    assert view.reading_age_ns is None


def test_without_the_water_volume_there_are_no_contents_and_the_gauge_falls_fastest() -> None:
    unknown = Cylinder(None, None, None, 15)
    view = shown.air_view(READING, unknown, 160 * S, STALE, FALL, falling=True)
    assert view.contents_l is None
    assert view.fraction is None
    smallest = Cylinder(shown.SMALLEST_CYLINDER_L, None, None, 15)
    assert view.pressure_bar == shown.estimate_bar(READING, smallest, 160 * S, FALL)


def test_more_than_rated_is_a_full_strip() -> None:
    over = Reading(0, 330, AirFrom.TELEMETRY)
    assert shown.air_view(over, CYLINDER, 0, STALE, FALL, falling=True).fraction == 1


@settings(max_examples=100, deadline=None)
@given(st.lists(st.integers(0, 3600 * S), min_size=2, max_size=8), st.floats(1, 400))
def test_an_estimate_never_rises_and_never_goes_under_empty(ages: list[int], bar: float) -> None:
    reading = Reading(0, bar, AirFrom.TELEMETRY)
    values = [shown.estimate_bar(reading, CYLINDER, age, FALL) for age in sorted(ages)]
    assert values == sorted(values, reverse=True)
    assert values[0] <= bar
    assert values[-1] >= 0


def test_the_low_air_value_is_reached_at_a_whole_second_before_it_is_passed() -> None:
    at = shown.reached_ns(READING, CYLINDER, 105, FALL)
    assert at is not None
    assert (at - READING.t) % S == 0
    # Between 200 and 105 bar at 15 C: 6.8 x (194.3 - 106.3) = 598 L, so 359 s at 100 L/min
    # (litres per litre of water volume computed with CoolProp).
    assert (at - READING.t) / S == pytest.approx(359, abs=3)
    assert shown.estimate_bar(READING, CYLINDER, at, FALL) >= 105
    assert shown.estimate_bar(READING, CYLINDER, at + S, FALL) < 105


def test_a_reading_under_the_low_air_value_has_reached_it_already() -> None:
    low = Reading(5 * S, 90, AirFrom.VOICE)
    assert shown.reached_ns(low, CYLINDER, 105, FALL) == 5 * S


def test_with_a_history_it_falls_by_the_wearers_own_breathing_at_the_worse_bound() -> None:
    """822 L, then silence: 635.7, 369.3 and 0 L at the 1 % bound after 2, 5 and 10 minutes.

    Independent computation of the same state (36 L/min for 3 min, then 60, prior 50 L/min
    and spread 0.30, gauge variance 10).
    """
    consumption = Consumption()
    for rate in (36, 60):
        for _ in range(36):
            consumption.take(rate / 12, 5.0)
    known = outlook(consumption.sums, Prior(50, 0.30))
    # 6.8 L at 15 C: 822 L are 121 bar; a gauge variance of 10 L2 is a step of 1 bar and noise.
    bar = gas.gauge_bar(822, 6.8, 15)
    reading = Reading(0, bar, AirFrom.TELEMETRY)
    fall = Fall(100, known)
    for seconds, litres in [(120, 635.7), (300, 369.3), (600, 0.0)]:
        left = fall.left_l(reading, CYLINDER, 6.8, seconds * S)
        assert left == pytest.approx(litres, abs=0.3)
    at = shown.reached_ns(reading, CYLINDER, gas.gauge_bar(369.3, 6.8, 15), fall)
    assert at is not None
    assert at / S == pytest.approx(300, abs=1)
