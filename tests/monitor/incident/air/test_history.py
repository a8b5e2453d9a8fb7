import sys

from hypothesis import given
from hypothesis import strategies as st

from monitor.incident.air.history import POINTS_MAX, PressureHistory


def of(*readings: tuple[int, int]) -> PressureHistory:
    history = PressureHistory()
    for seconds, dbar in readings:
        history.take(seconds, dbar)
    return history


def test_readings_come_back_in_bar() -> None:
    assert of((0, 3000), (5, 2993)).points() == ((0, 300.0), (5, 299.3))


def test_nothing_read_is_nothing_drawn() -> None:
    assert of().points() == ()
    assert of().gaps(0) == ()


def test_of_one_second_the_last_reading_stands() -> None:
    assert of((0, 3000), (5, 2990), (5, 2980)).points() == ((0, 300.0), (5, 298.0))


def test_an_older_reading_is_passed_over() -> None:
    assert of((0, 3000), (10, 2980), (5, 2990)).points() == ((0, 300.0), (10, 298.0))


def test_what_cannot_be_kept_is_passed_over() -> None:
    assert of((-1, 3000), (70_000, 2000), (5, -1), (6, 70_000)).points() == ()


def test_gaps_are_the_spells_that_are_longer() -> None:
    history = of((0, 3000), (5, 2990), (21, 2950), (36, 2900), (37, 2899))
    assert history.gaps(15) == ((5, 21),)
    assert history.gaps(14.5) == ((5, 21), (21, 36))


def test_an_hour_at_one_a_second_takes_less_than_16_kb() -> None:
    history = of(*((second, 3000 - second // 2) for second in range(3600)))
    assert len(history.points()) == 3600
    size = sum(sys.getsizeof(part) for part in (history, history._seconds, history._dbar))
    assert size < 16_000


def test_a_full_history_is_thinned_to_half_with_both_ends() -> None:
    history = of(*((second, second % 3000) for second in range(POINTS_MAX)))
    assert len(history.points()) == POINTS_MAX
    history.take(POINTS_MAX, 1234)
    points = history.points()
    assert len(points) == POINTS_MAX // 2 + 1
    assert points[:3] == ((0, 0.0), (2, 0.2), (4, 0.4))
    # 7199 = 2 x 3000 + 1199.
    assert points[-2:] == ((POINTS_MAX - 1, 119.9), (POINTS_MAX, 123.4))


@given(st.lists(st.tuples(st.integers(-10, 70_000), st.integers(-10, 70_000)), max_size=50))
def test_times_always_rise(readings: list[tuple[int, int]]) -> None:
    seconds = [at for at, _ in of(*readings).points()]
    assert seconds == sorted(set(seconds))


def test_however_long_it_stays_within_its_limit() -> None:
    history = of(*((second, 2000) for second in range(60_000)))
    points = history.points()
    assert len(points) <= POINTS_MAX
    assert (points[0][0], points[-1][0]) == (0, 59_999)
