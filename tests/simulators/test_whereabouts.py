from math import hypot

import pytest

from simulators.whereabouts import Point, Whereabouts, pace_s

S = 1_000_000_000
DOOR = Point(0, 0, 0)
LOFT = Point(30, 40, 2)


def test_distance_is_through_the_air_and_never_under_a_metre() -> None:
    # 30, 40 and two floors of 3 m.
    assert DOOR.metres_to(LOFT) == pytest.approx(hypot(50, 6))
    assert DOOR.metres_to(Point(0.1, 0, 0)) == 1.0


@pytest.mark.parametrize(("floor", "floors"), [(0, 0), (0.4, 0), (0.5, 1), (2, 2), (-1.2, 1)])
def test_floors_are_counted_from_the_nearer_one(floor: float, floors: int) -> None:
    assert DOOR.floors_to(Point(5, 5, floor)) == floors
    assert Point(5, 5, floor).floors_to(DOOR) == floors


def test_the_pace_is_that_of_a_search() -> None:
    """0.39 m/s on the way in (420 m tunnel); 20 s a floor."""
    assert pace_s(DOOR, LOFT) == pytest.approx(50 / 0.39 + 40)


def test_a_leg_is_walked_evenly() -> None:
    where = Whereabouts(DOOR)
    where.go(10 * S, 100 * S, LOFT)
    assert where.at(10 * S) == DOOR
    assert where.at(60 * S) == Point(15, 20, 1)
    assert where.at(110 * S) == where.at(999 * S) == LOFT
    assert where.arrives_ns == 110 * S


def test_the_way_out_takes_what_the_way_in_took() -> None:
    where = Whereabouts(DOOR)
    where.go(0, 60 * S, Point(10, 0, 0))
    where.go(200 * S, 90 * S, LOFT)
    assert where.way_back_ns(100 * S) == 60 * S
    assert where.way_back_ns(245 * S) == (60 + 45) * S
    assert where.way_back_ns(300 * S) == 150 * S
    where.go_back(300 * S)
    assert (where.arrives_ns, where.homeward) == (450 * S, True)
    assert where.way_back_ns(400 * S) == 50 * S
    assert where.at(450 * S) == DOOR
    assert where.way_back_ns(450 * S) == 0


def test_who_turns_back_on_the_way_walks_as_far_back() -> None:
    where = Whereabouts(DOOR)
    where.go(0, 100 * S, LOFT)
    where.go_back(30 * S)
    assert where.arrives_ns == 60 * S
    assert where.at(45 * S) == Point(*(x * 0.15 for x in LOFT))
    where.go(45 * S, 20 * S, LOFT)  # and in again
    assert where.way_back_ns(65 * S) == 35 * S
    where.go(65 * S, 5 * S, DOOR, homeward=True)
    assert where.at(70 * S) == DOOR


def test_a_halt_puts_off_the_arrival() -> None:
    where = Whereabouts(DOOR)
    where.go(0, 100 * S, Point(100, 0, 0))
    where.halt(40 * S, 70 * S)
    assert [where.at(t * S).x_m for t in (40, 69, 80)] == [40, 40, 50]
    assert where.arrives_ns == 130 * S
    assert where.way_back_ns(70 * S) == 40 * S
    where.halt(100 * S, 1_000_000 * S)
    where.go_on(110 * S)  # helped up
    assert where.arrives_ns == 140 * S
    assert where.at(140 * S).x_m == 100
    where.halt(200 * S, 300 * S)  # has arrived: nothing to put off
    where.go_on(250 * S)
    assert where.arrives_ns == 140 * S
