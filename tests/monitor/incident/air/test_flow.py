"""Loss of pressure: by hand, and on the simulators' own wearers and cylinders."""

from collections.abc import Iterator
from itertools import pairwise
from math import floor
from random import Random
from statistics import mean

import pytest

from monitor.incident.air import gas
from monitor.incident.air.flow import LossOfPressure, limit_l
from simulators.cylinder import Cylinder
from simulators.randoms import child
from simulators.wearer import Wearer, Work

S = 1_000_000_000
LIMIT = 20.0
INTERVAL_S = 5
LOSS = 0.2


def told(rate_l_min: float, count: int, seconds: float = 5) -> list[bool]:
    """What the sum says while air goes evenly at a rate."""
    sum_ = LossOfPressure()
    return [sum_.take(rate_l_min / 60 * seconds, seconds, LIMIT) for _ in range(count)]


def test_a_free_flow_by_hand() -> None:
    # 500 L/min in 5 s: 41.67 L, less 16.67 that are allowed: 25 over the limit of 20 at once,
    # confirmed by the next.
    assert told(500, 3) == [False, True, True]
    # 300 L/min: 8.33 a reading: 25 at the third, confirmed by the fourth.
    assert told(300, 5) == [False, False, False, True, True]


@pytest.mark.parametrize("rate", [0, 43, 102, 199])
def test_what_people_breathe_is_no_loss(rate: float) -> None:
    assert not any(told(rate, 1000))


def test_one_bad_reading_is_no_loss() -> None:
    # 10 bar of 6.8 L too low, 67 L, and right again.
    sum_ = LossOfPressure()
    stretches = [4, 4, 4 + 67, 4 - 67, 4, 4]
    assert not any(sum_.take(used, 5, LIMIT) for used in stretches)


def test_one_that_was_too_high_is_none() -> None:
    # 10 bar of 6.8 L too high after a gap: all of it goes at once, then only breath.
    sum_ = LossOfPressure()
    assert not any(sum_.take(used, 5, LIMIT) for used in (4, 4, 4 + 67, 4, 4, 4))


def test_a_flow_that_goes_on_is_whatever_came_before() -> None:
    # 4 L, then 67 L more at once, then 300 L/min.
    sum_ = LossOfPressure()
    assert [sum_.take(used, 5, LIMIT) for used in (4, 71, 25, 25)] == [False, False, True, True]


def test_after_a_gap_the_mean_rate_of_the_gap_counts() -> None:
    # Ten minutes at 80 L/min come in one piece.
    sum_ = LossOfPressure()
    assert not sum_.take(800, 600, LIMIT)
    assert not sum_.take(7, 5, LIMIT)


def test_it_ends_when_the_flow_does() -> None:
    sum_ = LossOfPressure()
    assert [sum_.take(used, 5, LIMIT) for used in (50, 50, 0, 0, 0)][-1] is False


def test_the_limit_is_two_and_a_half_steps_of_a_coarse_gauge() -> None:
    # 2.5 x 1 bar x 6.8 L x 1.1 = 18.7, under 20; 2.5 x 1.5 x 9 x 1.1 = 37.1.
    assert limit_l(6.8, 1.0) == 20
    assert limit_l(9, 1.5) == pytest.approx(37.1, abs=0.05)
    assert limit_l(0, 1.0) == 20


def test_steps_of_the_gauge_at_no_flow_are_no_loss() -> None:
    random = Random(1)
    sum_ = LossOfPressure()
    bars = [200.0 + random.choice((-1, 0, 1)) for _ in range(2000)]
    litres = [gas.usable_l(bar, 9, 15) for bar in bars]
    limit = limit_l(9, 1.0)
    assert not any(sum_.take(a - b, 1, limit) for a, b in pairwise(litres))


def test_gas_that_cools_is_no_loss() -> None:
    # Out of the sun into the cold: 20 K in two minutes, the gas temperature never told.
    cylinder = Cylinder(6.8, 300, 30)
    sum_ = LossOfPressure()
    before = gas.usable_l(300, 6.8, 30)
    for _ in range(24):
        cylinder.temperature_c -= 20 / 24
        now = gas.usable_l(floor(cylinder.pressure_bar), 6.8, 30)
        assert not sum_.take(before - now, 5, LIMIT)
        before = now


def wear(seed: int, leak_from_s: float | None, bad_every_s: float | None) -> Iterator[float]:
    """One wear at hard work, from full to nearly empty; gives the times of the alarm."""
    random = child(seed, "flow")
    wearer = Wearer(child(seed, "wearer"), 0, work=Work.TASKS)
    cylinder = Cylinder(6.8, 300, 15)
    sum_, last_l, last_s = LossOfPressure(), gas.usable_l(300, 6.8, 15), 0
    next_bad_s = bad_every_s or float("inf")
    for t in range(INTERVAL_S, 3600, INTERVAL_S):
        litres = wearer.advance(t * S)
        if leak_from_s is not None:
            litres += max(0, min(INTERVAL_S, t - leak_from_s)) * 300 / 60
        cylinder.draw(litres)
        if cylinder.pressure_bar < 20:
            return
        if random.random() < LOSS:
            continue
        bar = floor(cylinder.pressure_bar)
        if t >= next_bad_s:
            bar, next_bad_s = bar - 10, next_bad_s + (bad_every_s or 0)
        now_l = gas.usable_l(bar, 6.8, 15)
        if sum_.take(last_l - now_l, t - last_s, LIMIT):
            yield t
        last_l, last_s = now_l, t


def test_a_free_flow_of_300_is_found_within_20_s_on_average() -> None:
    delays = []
    for seed in range(100):
        start = 60 + 400 * child(seed, "start").random()
        delays.append(next(t for t in wear(seed, start, None)) - start)
    assert min(delays) > 0
    assert mean(delays) <= 20


def test_bad_readings_raise_next_to_none() -> None:
    """Each ten minutes one of -10 bar; 60 wears of hard work, about 19 minutes each."""
    false = sum(1 for seed in range(60) if next(wear(seed, None, 600), None) is not None)
    # 19 wearer-hours: at 0.05 an hour one is expected.
    assert false <= 1
