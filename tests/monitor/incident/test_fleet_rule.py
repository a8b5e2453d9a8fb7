"""The rule of the fleet against arithmetic and against chance itself."""

import math
from random import Random

import pytest

from monitor.incident.fleet_rule import all_missed_for, chance_for, missed_for, per_hour, sizes


@pytest.mark.parametrize(
    ("size", "packs", "chance", "expected"),
    [
        # 720 reports an hour, 12 packs, 55 pairs of the other 11, 0.01 cubed.
        (3, 12, 0.01, 720 * 12 * 55 * 1e-6),
        # A crew of two: 720 x 2 x 0.01 squared.
        (2, 2, 0.01, 0.144),
        (12, 12, 0.5, 720 * 12 / 4096),
    ],
)
def test_how_often_an_hour(size: int, packs: int, chance: float, expected: float) -> None:
    assert per_hour(chance, size, packs, 5) == pytest.approx(expected, rel=1e-12)
    assert per_hour(chance, size, packs, 10) == pytest.approx(expected / 2, rel=1e-12)


def test_the_chance_is_the_greatest_that_the_share_allows() -> None:
    for size, packs in ((2, 2), (3, 12), (12, 12), (64, 60 + 4), (3, 500)):
        chance = chance_for(size, packs, 5, 0.005)
        root = (0.005 / (720 * packs * math.comb(packs - 1, size - 1))) ** (1 / size)
        assert chance == pytest.approx(root, rel=1e-9)
        assert per_hour(chance, size, packs, 5) <= 0.005


def test_the_least_run_that_is_so_unlikely() -> None:
    """A tenth lost, each on its own: 0.1 x 0.1^(m-1); bursts of five: 0.2 x 0.8^(m-1)."""
    assert missed_for(0.1, 1 / 0.9, 0.0011) == 3
    assert missed_for(0.1, 1 / 0.9, 0.0009) == 4
    assert missed_for(0.2, 5, 0.2 * 0.8**9 * 1.001) == 10
    # One report is nothing, and some links are never sure.
    assert missed_for(0.001, 1.1, 0.5) == 2
    assert missed_for(0.9, 100, 1e-9) is None
    assert all_missed_for(0.2, 5, [0.027, 0.11, 0.2]) == [10, 4, 2]


def test_sizes_are_those_that_there_can_be() -> None:
    assert sizes(2) == ()
    assert sizes(12) == (3, 4, 6, 8, 12)


def test_chance_makes_no_more_of_it_than_the_bound_says() -> None:
    """Twelve links that lose in bursts of three, 200 h: three silent for m = 4 at once, and more.

    l a^(m-1) = 0.1 x (2/3)^3 = 0.0296; the bound is 720 x 12 x 55 x 0.0296^3 = 12.3 an hour.
    """
    random, runs, met, lost = Random(7), [0] * 12, 0, [False] * 12
    hours, before = 200, 0
    begin, end = 0.1 / 3 / 0.9, 1 / 3
    for _ in range(hours * 720):
        for pack in range(12):
            again = random.random() >= end if lost[pack] else random.random() < begin
            lost[pack] = again
            runs[pack] = runs[pack] + 1 if again else 0
        now = sum(run >= 4 for run in runs)
        met += now >= 3 > before
        before = now
    bound = per_hour(0.1 * (2 / 3) ** 3, 3, 12, 5)
    assert bound == pytest.approx(12.3, abs=0.1)
    assert 0.1 * bound < met / hours <= bound
