from math import exp, log
from statistics import correlation, mean, stdev

import pytest

from simulators.randoms import child
from simulators.wearer import LAG_PER_MIN, MINUTE_VOLUME_L, PERSON_SPREAD, Wearer, Work

S = 1_000_000_000


def steady(work: Work, breathing: float | None = 1.0, seed: int = 1) -> Wearer:
    return Wearer(child(seed, "wearer"), 0, work=work, breathing=breathing)


def test_a_drop_of_work_follows_the_measured_lag() -> None:
    """Rate constant 0.93 a minute (Stein, NIOSH 1980)."""
    wearer = steady(Work.HEAVY)
    wearer.work = Work.WAY_OUT
    wearer.advance(9 * S)  # the work first wanders at 10 s
    assert wearer.rate_l_min == pytest.approx(38.9 + (102.0 - 38.9) * exp(-0.93 * 9 / 60))


def test_half_of_a_drop_takes_45_s() -> None:
    """Half-time about 45 s: ln 2 / 0.93 = 0.745 min = 44.7 s."""
    assert log(2) / LAG_PER_MIN * 60 == pytest.approx(44.7, abs=0.05)
    drops = []
    for seed in range(50):
        wearer = steady(Work.HEAVY, seed=seed)
        wearer.work = Work.WAY_OUT
        wearer.advance(round(44.7 * S))
        drops.append(wearer.rate_l_min)
    # The wander of the work moves one by about 2 L/min, the mean of 50 by 0.3.
    assert mean(drops) == pytest.approx((102.0 + 38.9) / 2, abs=1.0)


def test_litres_are_the_integral_of_the_rate() -> None:
    fine, coarse = steady(Work.REST), steady(Work.REST)
    fine.work = coarse.work = Work.CLIMB
    litres = rate_sum = 0.0
    step = S // 100
    for t in range(step, 60 * S + 1, step):
        before = fine.rate_l_min
        litres += fine.advance(t)
        rate_sum += (before + fine.rate_l_min) / 2 / 6000  # a hundredth of a second, in minutes
    assert litres == pytest.approx(rate_sum, rel=1e-6)
    assert coarse.advance(60 * S) == pytest.approx(litres, rel=1e-9)


@pytest.mark.parametrize("work", list(Work))
def test_steady_work_breathes_its_measured_mean(work: Work) -> None:
    hours = [steady(work, seed=seed).advance(3600 * S) for seed in range(20)]
    # The work wanders by 0.083, correlated over about 90 s: 40 independent stretches an hour,
    # 800 in all, so 0.083 / sqrt(800) = 0.3 %; three of them.
    assert mean(hours) / 60 == pytest.approx(MINUTE_VOLUME_L[work], rel=0.01)


def test_people_differ_as_measured() -> None:
    factors = [steady(Work.REST, None, seed).breathing for seed in range(500)]
    assert mean(factors) == pytest.approx(1.0, abs=3 * PERSON_SPREAD / 500**0.5)
    assert 1 - 2 * PERSON_SPREAD <= min(factors) < 0.8
    assert 1.2 < max(factors) <= 1 + 2 * PERSON_SPREAD


def test_time_that_does_not_pass_takes_no_air() -> None:
    wearer = steady(Work.TASKS)
    wearer.advance(5 * S)
    assert wearer.advance(5 * S) == 0.0


def pairs(crew: bool, count: int = 800) -> list[tuple[Wearer, Wearer]]:
    """Two wearers each, of one crew or of none."""
    return [
        (
            Wearer(child(n, "a"), 0, crew=child(n, "crew") if crew else None, work=Work.SEARCH),
            Wearer(child(n, "b"), 0, crew=child(n, "crew") if crew else None, work=Work.SEARCH),
        )
        for n in range(count)
    ]


@pytest.mark.parametrize(("crew", "shared"), [(True, 0.5), (False, 0.0)])
def test_members_of_a_crew_are_alike_by_half(*, crew: bool, shared: float) -> None:
    found = pairs(crew)
    # The error of a correlation from 800 pairs is at most 1 / sqrt(800) = 0.035; three of it.
    people = correlation(*zip(*((a.breathing, b.breathing) for a, b in found), strict=True))
    assert people == pytest.approx(shared, abs=0.106)
    for a, b in found:
        a.breathing = b.breathing = 1.0
        a.advance(600 * S)
        b.advance(600 * S)
    wander = correlation(*zip(*((a.rate_l_min, b.rate_l_min) for a, b in found), strict=True))
    assert wander == pytest.approx(shared, abs=0.106)


def test_a_crew_spreads_as_others_do() -> None:
    factors = [a.breathing for a, _ in pairs(crew=True)]
    # Held to two deviations the spread is 0.88 of the whole; error 0.137 / sqrt(1600) = 0.0034.
    assert stdev(factors) == pytest.approx(0.88 * PERSON_SPREAD, abs=0.0103)
