from itertools import pairwise
from statistics import mean, stdev

import pytest

from simulators.populations import CALM, HARD, LARGE, MIXED, POPULATIONS, Population, Worker
from simulators.randoms import child

S = 1_000_000_000
MINUTE = 60 * S


def worker(population: Population, seed: int) -> Worker:
    return Worker.of(population, child(seed, "wearer"), child(seed, "spells"))


def rates(population: Population, minutes: int, count: int) -> list[float]:
    """Mean rate of each of many wears, L/min."""
    return [worker(population, seed).advance(minutes * MINUTE) / minutes for seed in range(count)]


@pytest.mark.parametrize("population", POPULATIONS)
def test_shares_are_of_the_whole(population: Population) -> None:
    assert sum(share for _, share in population.shares) == pytest.approx(1)


# Means: a search 43 L/min, with more peaks 55; large: 43 x 1.3 = 56.
@pytest.mark.parametrize(("population", "l_min"), [(CALM, 43), (MIXED, 55), (LARGE, 56)])
def test_the_mean_is_the_one_of_such_work(population: Population, l_min: float) -> None:
    # Between wears of an hour about 17 % differ: 0.17 / sqrt(400) = 0.85 %; three of them.
    assert mean(rates(population, 60, 400)) == pytest.approx(l_min, rel=0.03)


def test_hard_work_is_as_measured() -> None:
    """82 +- 14 L/min in 15 people over 22 minutes (Holmer and Gavhed 2007)."""
    found = rates(HARD, 22, 400)
    assert mean(found) == pytest.approx(82, rel=0.03)
    # A spread found from 15 people has a standard error of 14 / sqrt(28) = 2.6.
    assert stdev(found) == pytest.approx(14, abs=2.6)


def test_work_changes_in_spells_of_minutes() -> None:
    person = worker(CALM, 3)
    works = []
    for second in range(1, 36_001):
        person.advance(second * S)
        works.append(person.wearer.work)
    changes = sum(before is not after for before, after in pairwise(works))
    # 36,000 s / 150 s = 240 spells, of which a share of 1 - sum of squares of the shares, 0.71,
    # is at another level than the one before: 170 +- sqrt(170) = 13; three of them.
    assert changes == pytest.approx(170, abs=39)


def test_a_worker_breathes_the_same_however_time_is_cut() -> None:
    fine, coarse = worker(HARD, 5), worker(HARD, 5)
    litres = sum(fine.advance(t * S) for t in range(1, 1201))
    assert coarse.advance(1200 * S) == pytest.approx(litres, rel=1e-9)
