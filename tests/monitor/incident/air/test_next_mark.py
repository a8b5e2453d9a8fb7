"""What comes next, when, and which reckoning says so."""

from dataclasses import replace
from itertools import pairwise

import pytest

from monitor.incident.air import gas
from monitor.incident.air.forecast import LOWER_1, LOWER_10, POPULATION, outlooks
from monitor.incident.air.next_mark import (
    OVER_S,
    SECONDS_MAX,
    Standing,
    forecast_s,
    next_mark,
    planned_s,
    target_of,
)
from monitor.incident.air.rate import NOTHING, Consumption
from monitor.incident.air.shown import Cylinder, Fall, Reading, estimate_bar
from monitor.incident.picture import AirFrom, NextMark

S = 1_000_000_000
FRESH_S = 16
CYLINDER = Cylinder(6.8, 300, 105, 20)


def standing(bar: float, *, minutes: float = 0, rate: float = 50, age: int = 0) -> Standing:
    """A wearer with a reading of so many seconds ago, who breathed at this rate until then."""
    consumption = Consumption()
    for _ in range(int(minutes * 12)):
        consumption.take(rate / 12, 5.0)
    read = int(minutes * 60) * S
    return Standing(
        now=read + age * S,
        connected_ns=0,
        reading=Reading(read, bar, AirFrom.TELEMETRY),
        fresh_ns=FRESH_S * S,
        start_bar=300,
        cylinder=CYLINDER,
        outlooks=outlooks(consumption, NOTHING, POPULATION, []),
        planning_rate_l_min=50,
        step_bar=1,
    )


@pytest.mark.parametrize(
    ("shown", "turn", "low", "back", "expected"),
    [
        (250, 180, 105, False, ("turn", 180)),
        (170, 180, 105, False, ("turn", 180)),
        (170, 180, 105, True, ("low", 105)),
        (105, 180, 105, False, ("empty", 0)),
        (250, None, 105, False, ("low", 105)),
        (250, None, None, False, ("empty", 0)),
        (250, 180, None, True, ("empty", 0)),
    ],
)
def test_which_mark_comes_next(
    shown: float, turn: float | None, low: float | None, back: bool, expected: tuple[str, float]
) -> None:
    assert target_of(shown, turn, low, back=back) == expected


def test_planned_times_count_from_connecting() -> None:
    """300 to 105 bar in 6.8 L: by the card 195 x 6.8 / 50 = 26.5 min, so 26.

    By real gas at 20 C (1,790 - 706 L usable at 15 C: CoolProp) / 50 = 21.7 min.
    """
    ways = {by: left for left, by in planned_s(standing(250, minutes=10), 105)}
    assert ways["T"] == 16 * 60
    usable = gas.usable_l(300, 6.8, 20) - gas.usable_l(105, 6.8, 20)
    assert ways["R"] == int(usable / 50 * 60) - 600
    assert ways["R"] == pytest.approx(11.7 * 60, abs=12)


def test_the_earliest_governs_and_is_named() -> None:
    heavy = next_mark(standing(200, minutes=10, rate=90), "low", 105, None)
    assert heavy is not None
    assert heavy.by == "F"
    calm = next_mark(standing(290, minutes=10, rate=20), "low", 105, None)
    assert calm is not None
    assert calm.by == "R"
    assert calm.seconds == planned_s(standing(290, minutes=10), 105)[1][0]


def test_a_plan_that_a_reading_has_proved_wrong_is_dropped() -> None:
    # After 30 min at 50 L/min it would be under 105 bar; the gauge says 250.
    slow = standing(250, minutes=30, rate=15)
    found = next_mark(slow, "low", 105, None)
    assert found is not None
    assert found.by == "F"
    assert found.seconds > 0
    # A report that is lost does not bring it back.
    for age in (15, 16, 17, 30, 120):
        unheard = next_mark(replace(slow, now=slow.now + age * S), "low", 105, None)
        assert unheard is not None
        assert unheard.by == "F"
        assert unheard.estimate is (age >= FRESH_S)


def test_a_plan_that_passes_in_silence_stands() -> None:
    # By the card 26 min, see above: at 25 min it is still to come, and nobody says otherwise.
    # By real gas it was 21.7 min, which the reading then proved wrong.
    unheard = standing(250, minutes=25, rate=15)
    for age in (90, 91, 300):
        found = next_mark(replace(unheard, now=(25 * 60 + age) * S), "low", 105, None)
        assert found == NextMark("low", 60 - age, "T", estimate=True)


@pytest.mark.parametrize("rate", [15, 40, 60, 90])
@pytest.mark.parametrize("minutes", [1, 5, 12, 30])
def test_nothing_jumps_when_a_report_is_lost_and_time_never_comes_back(
    rate: float, minutes: float
) -> None:
    """Of a reading that is 16 s old the time is told as before, and then it goes down."""
    then = standing(200, minutes=minutes, rate=rate)
    seconds = []
    for age in range(13, 400):
        mark = next_mark(replace(then, now=then.now + age * S), "low", 105, None)
        assert mark is not None
        seconds.append(mark.seconds)
    steps = [before - after for before, after in pairwise(seconds)]
    assert min(steps) >= 0
    # A second a second, and in the minute of going over a share of what lies between the bounds.
    between = forecast_s(then, 105, LOWER_10) - forecast_s(then, 105, LOWER_1)
    assert max(steps) <= 3 + between / 30


def test_what_the_estimate_has_reached_is_reached_by_the_time_as_well() -> None:
    """One bound: once the pressure shown is 0 the time to empty is over, and not before."""
    then = standing(60, minutes=8, rate=50)
    fall = Fall(100, then.outlooks.earliest)
    for age in range(FRESH_S + OVER_S, 1500, 7):
        now = then.now + age * S
        shown = estimate_bar(then.reading, CYLINDER, now, fall)
        mark = next_mark(replace(then, now=now, start_bar=None), "empty", 0.0, None)
        assert mark is not None
        assert (mark.seconds > 1) <= (shown > 0.0)
        assert (mark.seconds < -1) <= (shown == 0.0)


def test_an_overrun_by_plan_does_not_fall_when_the_estimate_comes_to_the_mark() -> None:
    late = replace(standing(250, minutes=25, rate=15), now=(25 * 60 + 300) * S)
    expected = NextMark("turn", -240, "T", estimate=True)  # 26 min by the card, at 30
    assert next_mark(late, "turn", 105, late.now - 5 * S) == expected


def test_an_overrun_counts_up_from_when_the_mark_was_reached() -> None:
    past = standing(170, minutes=10)
    assert next_mark(past, "turn", 180, past.now - 65 * S) == NextMark("turn", -65, "F")
    assert next_mark(past, "turn", 180, past.now) == NextMark("turn", -1, "F")


def test_it_goes_down_with_the_age_of_the_reading_and_never_up() -> None:
    then = standing(200, minutes=5)
    kept = dict(then.kept_s)
    first = forecast_s(then, 105, 1.2816)
    later = replace(then, now=then.now + 7 * S)
    assert forecast_s(later, 105, 1.2816) == pytest.approx(first - 7)
    assert kept == {}
    assert len(then.kept_s) == 1


def test_whole_seconds_rounded_down() -> None:
    found = next_mark(standing(200, minutes=5), "low", 105, None)
    assert found is not None
    exact = min(
        forecast_s(standing(200, minutes=5), 105, 1.2816),
        *(left for left, _ in planned_s(standing(200, minutes=5), 105)),
    )
    assert exact - 1 < found.seconds <= exact


def test_without_a_water_volume_nothing_is_told() -> None:
    unknown = replace(standing(200), cylinder=Cylinder(None, 300, 105, 20))
    assert next_mark(unknown, "low", 105, None) is None
    assert planned_s(unknown, 105) == []
    assert forecast_s(unknown, 105, 0) == float("inf")


def test_without_a_start_only_the_forecast_says() -> None:
    found = next_mark(replace(standing(200, minutes=5), start_bar=None), "low", 105, None)
    assert found is not None
    assert found.by == "F"
    assert found.seconds < SECONDS_MAX
