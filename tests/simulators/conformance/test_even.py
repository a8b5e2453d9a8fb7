"""The statistics against their own laws: simulated chances, worked values."""

import math
from random import Random

import pytest

from simulators.conformance.even import (
    FALSE_ALARM,
    SAMPLES_LEAST,
    Clock,
    alike,
    chance_of_range,
    distance_limit,
    off_mean,
    uneven,
)

S = 1_000_000_000


def test_the_limit_is_the_bound_turned_round() -> None:
    # Massart 1990: 2 exp(-2 n d^2) = chance. By hand for n = 50: d = sqrt(ln(2e6) / 100) = 0.3809.
    assert distance_limit(50) == pytest.approx(0.3809, abs=1e-4)
    for count in (8, 75, 1000):
        assert 2 * math.exp(-2 * count * distance_limit(count) ** 2) == pytest.approx(FALSE_ALARM)


@pytest.mark.parametrize(("count", "span"), [(2, 0.5), (5, 0.4), (8, 0.6)])
def test_the_chance_of_a_range_as_it_comes_out(count: int, span: float) -> None:
    # For two samples by hand: 2 r - r^2 = 0.75 at 0.5.
    assert chance_of_range(2, 0.5) == 0.75
    random = Random(1)
    trials = 20_000
    draws = ([random.random() for _ in range(count)] for _ in range(trials))
    hits = sum(max(draw) - min(draw) <= span for draw in draws)
    chance = chance_of_range(count, span)
    # Five standard deviations of a binomial.
    assert abs(hits / trials - chance) < 5 * math.sqrt(chance * (1 - chance) / trials)


def test_what_is_even_is_never_called_uneven() -> None:
    random = Random(2)
    for count in (8, 20, 75, 300):
        for _ in range(300):
            assert uneven([random.random() for _ in range(count)]) == ""


def test_nor_if_it_comes_late_by_what_is_allowed() -> None:
    random = Random(3)
    for _ in range(300):
        late = [random.random() + 0.3 * random.random() for _ in range(75)]
        assert uneven(late, late=0.3) == ""
        early = [random.random() - 0.2 for _ in range(75)]
        assert uneven(early, early=0.2) == ""


@pytest.mark.parametrize(("low", "high"), [(0.0, 0.3), (0.7, 1.0), (0.45, 0.55), (0.5, 0.5)])
def test_what_fills_a_part_alone_is_uneven(low: float, high: float) -> None:
    random = Random(4)
    assert uneven([low + (high - low) * random.random() for _ in range(75)])


def test_two_ends_and_nothing_between() -> None:
    assert uneven([0.0, 1.0] * 40)


def test_too_few_say_nothing() -> None:
    few = [0.5] * (SAMPLES_LEAST - 1)
    assert uneven(few) == alike(few) == off_mean(few, 0.1, 1.0) == ""
    assert alike([0.5] * SAMPLES_LEAST)


def test_a_mean_is_right_or_not() -> None:
    random = Random(5)
    for _ in range(300):
        assert off_mean([0.9 + 0.1 * random.random() for _ in range(30)], 0.95, 0.1) == ""
    # 8 % too slow: 1.026 on average, where 0.95 + 0.1 x sqrt(ln(2e6) / 60) = 0.999 is the limit.
    assert off_mean([1.08 * (0.9 + 0.1 * random.random()) for _ in range(30)], 0.95, 0.1)


@pytest.mark.parametrize("ppm", [-10_000, -500, 0, 500, 10_000])
def test_a_clock_is_measured_through_a_way_that_is_never_the_same(ppm: int) -> None:
    random, clock = Random(6), Clock()
    for second in range(120):
        made = second * S
        # What came was made a little before; half of them after hardly any time.
        came = made + round(random.choice((0.001, 0.2)) * random.random() * S)
        clock.take(came, made - made * ppm // 1_000_000)
    measured = clock.measured()
    assert measured is not None
    # A millisecond at either end of 80 s is 25 parts in a million.
    assert abs(measured[0] - ppm) < 30
    assert measured[1] > 60


def test_a_clock_of_a_few_frames_is_not_measured() -> None:
    clock = Clock()
    for second in range(SAMPLES_LEAST - 1):
        clock.take(second * S, second * S)
    assert clock.measured() is None


def test_a_long_trial_keeps_its_memory_small() -> None:
    clock = Clock()
    for second in range(10_000):
        clock.take(second * S, second * S)
    assert len(clock._seen) <= 1001
    measured = clock.measured()
    assert measured is not None
    assert measured[0] == 0
    assert measured[1] > 9_000
