"""The rule of the fleet against arithmetic and against chance itself."""

import math
from random import Random

import pytest

from monitor.incident.fleet_rule import Runs, chance_for, least_burst, per_hour, sizes
from monitor.incident.link_rule import Link


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


def link(loss: float, burst: float, first: int = 3) -> Link:
    """A link of which all is known."""
    again = 1 - 1 / burst
    begins = loss * (1 - again) * again ** (first - 1)
    return Link(loss, burst, first, begins, again * 1e12, (1 - again) * 1e12)


def missed(one: Link, *chances: float, begins: bool = False) -> list[int | None]:
    return Runs(one, begins=begins).missed_for(chances)


def test_the_least_run_that_is_so_unlikely() -> None:
    """A tenth lost, each on its own: 0.1 x 0.1^(m-1); bursts of five: 0.2 x 0.8^(m-1)."""
    assert missed(link(0.1, 1 / 0.9), 0.0011) == [3]
    assert missed(link(0.1, 1 / 0.9), 0.0009) == [4]
    assert missed(link(0.2, 5), 0.2 * 0.8**9 * 1.001) == [10]
    # One report is nothing, and some links are never sure.
    assert missed(link(0.001, 1.1), 0.5) == [2]
    assert missed(link(0.9, 100), 1e-9) == [None]
    assert missed(link(0.2, 5), 0.027, 0.11, 0.2) == [10, 4, 2]


def test_a_run_begins_as_often_as_it_is_there_by_its_length() -> None:
    """0.2 x 0.2 x 0.8^(m-1): five times as rare, so sooner sure."""
    assert missed(link(0.2, 5), 0.04 * 0.8**9 * 1.001, begins=True) == [10]
    assert missed(link(0.2, 5), 0.04 * 0.8**9 * 0.999, begins=True) == [11]


def test_lone_losses_hide_no_fades_however_short_the_run() -> None:
    """A report each second; a tenth lost alone, and fades of 25 s a tenth of the time.

    By the mean of all runs five missed would be likely once in 1,700 reports; in truth the link is
    within a fade's fifth report or later for 0.1 x 0.96^4 of the time.
    """
    fades = 0.1 * 0.04 * 0.96**14
    mixed = Link(0.19, 1.5, 15, fades, 0.96e12, 0.04e12)
    assert missed(mixed, 0.1 * 0.96**4 * 1.001) == [5]
    assert missed(mixed, 0.1 * 0.96**19 * 1.001) == [20]


def test_where_little_is_known_of_long_gaps_they_may_go_on() -> None:
    sure, unsure = Link(0.1, 2, 3, 0.01, 3e9, 2e9), Link(0.1, 2, 3, 0.01, 3, 2)
    (few,), (many,) = missed(sure, 0.001), missed(unsure, 0.001)
    assert few is not None
    assert many is not None
    assert few < many


def test_the_least_bursty_link_says_how_much_rarer_a_beginning_is() -> None:
    assert least_burst([link(0.2, 5.01), link(0.2, 3.01)]) == 3
    assert least_burst([link(0.1, 1 / 0.9)]) == 1
    # A mean over lone losses and fades, and the fades alone.
    assert least_burst([Link(0.19, 1.5, 15, 0.002, 96, 4)]) == 1


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


def test_of_two_whose_silences_began_together_it_is_the_bound_with_beginnings() -> None:
    """Two links that lose in bursts of three, 800 h: both silent for 4, begun within an interval.

    q = 0.1 / 3 x (2/3)^3 = 0.00988; the bound is 720 x 2 x q^2 = 0.14 an hour.
    """
    random, began, met, before = Random(8), [0, 0], 0, False
    hours, begin, end, lost = 800, 0.1 / 3 / 0.9, 1 / 3, [False, False]
    for now in range(hours * 720):
        for pack in (0, 1):
            again = random.random() >= end if lost[pack] else random.random() < begin
            if again and not lost[pack]:
                began[pack] = now
            lost[pack] = again
        # The second reports half an interval after the first.
        near = began[1] - began[0] in (-1, 0)
        together = all(lost) and near and now - max(began) >= 3
        met += together and not before
        before = together
    bound = per_hour(0.1 / 3 * (2 / 3) ** 3, 2, 2, 5)
    assert bound == pytest.approx(0.1405, abs=0.001)
    assert 0.1 * bound < met / hours <= bound
