import pytest

from monitor.report.curves import LEVELS, POINTS_MAX, TICKS_MAX, levels, runs, thinned, ticks, until

S = 1_000_000_000
MINUTE = 60 * S


def test_no_line_goes_over_a_gap() -> None:
    points = [(t, 1.0) for t in (0, 5, 40, 45, 90)]
    assert [[t for t, _ in run] for run in runs(points, [(5, 40), (45, 90)])] == [
        [0, 5],
        [40, 45],
        [90],
    ]


def test_without_gaps_it_is_one_line() -> None:
    points = [(0, 1.0), (5, 2.0)]
    assert list(runs(points, [])) == [tuple(points)]
    assert list(runs([], [(1, 2)])) == []


def test_few_points_stay_as_they_are() -> None:
    points = [(t, float(t)) for t in range(POINTS_MAX)]
    assert thinned(points) == tuple(points)


def test_of_many_the_lowest_and_the_ends_stay() -> None:
    points = [(t, 100.0) for t in range(POINTS_MAX * 10)]
    points[1234] = (1234, 40.0)
    kept = thinned(points)
    assert len(kept) <= POINTS_MAX + 2
    assert (1234, 40.0) in kept
    assert (kept[0], kept[-1]) == (points[0], points[-1])
    assert list(kept) == sorted(kept)


def test_marks_are_full_minutes_of_the_wall_clock() -> None:
    """The wall clock is 20 s past a minute at the start: the first mark comes 40 s later."""
    found = ticks(0, 5 * MINUTE, lambda t: t + 20 * S)
    assert found == [40 * S + n * MINUTE for n in range(5)]


@pytest.mark.parametrize("minutes", [1, 10, 61, 600, 10_000, 10_000_000])
def test_marks_are_never_too_many(minutes: int) -> None:
    assert 1 <= len(ticks(0, minutes * MINUTE, lambda t: t)) <= TICKS_MAX + 1


def test_signs_on_one_another_stand_higher() -> None:
    assert levels([0, 10, 11, 12, 13, 30], 5) == [0, 0, 1, 2, 0, 0]
    assert LEVELS == 3


def test_a_plan_ends_where_the_wear_does() -> None:
    """Halfway from 300 to 200."""
    assert until([(0, 300.0), (10, 200.0)], 5) == ((0, 300.0), (5, 250.0))
    assert until([(0, 300.0), (10, 200.0)], 10) == ((0, 300.0), (10, 200.0))
    assert until([(5, 300.0)], 1) == ()
