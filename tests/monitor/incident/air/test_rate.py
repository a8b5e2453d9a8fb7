import math
import sys

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.incident.air.rate import NOTHING, Consumption


def breathed(*stretches: tuple[float, float]) -> Consumption:
    """Litres and seconds, one after the other."""
    consumption = Consumption()
    for used_l, seconds in stretches:
        consumption.take(used_l, seconds)
    return consumption


def test_before_the_second_reading_there_is_no_rate() -> None:
    assert breathed().mean_l_s() is None
    assert breathed().recent_l_s() is None


def test_the_mean_rate_is_all_litres_by_all_seconds() -> None:
    # 3 L in 5 s and 1 L in 15 s: 4 L in 20 s.
    assert breathed((3, 5), (1, 15)).mean_l_s() == pytest.approx(0.2)


def test_a_steady_rate_is_both_rates_at_once() -> None:
    consumption = breathed(*[(3.0, 5.0)] * 5)
    assert consumption.recent_l_s() == pytest.approx(0.6)
    assert consumption.mean_l_s() == pytest.approx(0.6)


def test_the_recent_rate_follows_a_change_with_its_memory() -> None:
    consumption = breathed(*[(1.0, 1.0)] * 600, *[(2.0, 1.0)] * 60)
    # After one memory of 60 s, 1 - 1/e of the way is done: 1.632.
    assert consumption.recent_l_s() == pytest.approx(2 - math.exp(-1), abs=0.001)


def test_a_gap_longer_than_the_memory_counts_as_one_memory() -> None:
    # Ten minutes at 1 L/s in one piece, then a minute at 2 L/s, second by second. Of the 60 s
    # that the gap counts, 60 / e = 22.07 are left; of the sixty seconds after it, the sum of
    # e^(-k / 60) for k = 0 to 59, (1 - 1/e) / (1 - e^(-1/60)) = 38.24.
    consumption = breathed((600, 600), *[(2.0, 1.0)] * 60)
    expected = (22.07 + 2 * 38.24) / (22.07 + 38.24)
    assert consumption.recent_l_s() == pytest.approx(expected, abs=0.001)


def test_whole_minutes_are_kept_as_rates() -> None:
    # A minute at 36 and a minute at 60 L/min in packets of 5 s, and a piece of a third.
    sums = breathed(*[(3.0, 5.0)] * 12, *[(5.0, 5.0)] * 12, (4.0, 5.0)).sums
    assert sums.minutes == 2
    assert sums.rates == pytest.approx(0.6 + 1.0)
    assert sums.squares == pytest.approx(0.36 + 1.0)
    assert (sums.minute_s, sums.minute_l) == (5.0, 4.0)


def test_a_minute_ends_with_the_reading_that_completes_it() -> None:
    # 45 s and 30 s: 75 s with 90 L.
    sums = breathed((45, 45), (45, 30)).sums
    assert sums.minutes == 1
    assert sums.rates == pytest.approx(90 / 75)


def test_a_long_gap_says_nothing_of_single_minutes() -> None:
    sums = breathed((30, 30), (600, 600)).sums
    assert (sums.minutes, sums.minute_s, sums.minute_l) == (0, 0.0, 0.0)
    assert sums.litres == 630


def test_noise_of_the_gauge_is_given_back() -> None:
    # One reading 67 L too low, the next right again.
    consumption = breathed((3, 5), (70, 5), (-64, 5), (3, 5))
    assert consumption.sums.litres == pytest.approx(12)
    assert consumption.mean_l_s() == pytest.approx(0.6)


def test_a_rate_is_never_negative() -> None:
    consumption = breathed((-500, 5))
    assert consumption.mean_l_s() == 0
    assert consumption.recent_l_s() == 0


@pytest.mark.parametrize("seconds", [0, -1, math.nan, math.inf, -math.inf])
def test_no_time_adds_nothing(seconds: float) -> None:
    assert breathed((5, seconds)).sums == breathed().sums


@pytest.mark.parametrize("litres", [math.nan, math.inf, -math.inf])
def test_what_is_no_number_adds_nothing(litres: float) -> None:
    assert breathed((litres, 5)).sums == breathed().sums


@settings(max_examples=200)
@given(st.lists(st.tuples(st.floats(-3000, 3000), st.floats(0, 90_000)), max_size=60))
def test_totals_are_plain_sums_whatever_comes(stretches: list[tuple[float, float]]) -> None:
    sums = breathed(*stretches).sums
    taken = [(litres, seconds) for litres, seconds in stretches if seconds > 0]
    assert sums.litres == pytest.approx(sum(litres for litres, _ in taken), abs=1e-6)
    assert sums.seconds == pytest.approx(sum(seconds for _, seconds in taken))
    assert all(math.isfinite(value) for value in sums)


def test_a_wear_takes_no_more_than_150_bytes() -> None:
    consumption = breathed(*[(3.0, 5.0)] * 1000)
    assert sys.getsizeof(consumption) + sys.getsizeof(consumption.record) <= 150


def test_what_came_after_a_time_is_as_if_it_had_begun_then() -> None:
    whole, after = Consumption(), Consumption()
    for _ in range(30):
        whole.take(1.0, 5.0)
    before = whole.sums
    for n in range(36):
        whole.take(4.0 + n % 3, 5.0)
        after.take(4.0 + n % 3, 5.0)
    found, alone = whole.sums.since(before), after.sums
    # 150 s before make two minutes and a half, and the third is whole half a minute later.
    assert found[:4] == pytest.approx(alone[:4])
    assert found.minutes == alone.minutes == 3
    assert found.rates == pytest.approx(alone.rates, rel=0.35)


def test_after_nothing_is_all_and_after_all_is_nothing() -> None:
    whole = Consumption()
    for _ in range(30):
        whole.take(3.0, 5.0)
    assert whole.sums.since(NOTHING) == pytest.approx(whole.sums)
    none = whole.sums.since(whole.sums)
    assert (none.seconds, none.litres, none.minutes) == (0, 0, 0)
    assert none.recent_l == pytest.approx(0)
