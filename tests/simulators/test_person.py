from typing import Any

import pytest
from pydantic import TypeAdapter

from simulators.deeds import Deed
from simulators.movement import FOREVER_NS
from simulators.person import Person
from simulators.randoms import child
from simulators.scenario import PackPlan, Place
from simulators.wearer import Wearer, Work

S = 1_000_000_000
DEED: TypeAdapter[Deed] = TypeAdapter(Deed)
PLACES = {
    place.name: place
    for place in (
        Place(name="door", x_m=0, y_m=0),
        Place(name="hall", x_m=39, y_m=0),
        Place(name="loft", x_m=0, y_m=10, floor=2, task="hard"),
    )
}


def person(**plan: object) -> Person:
    whole = {"pack": 1, "wearer": 1, "low_air_bar": 55, "at": "door", "breathing": 1.0, **plan}
    wearer = Wearer(child(1, "wearer"), 0, breathing=1.0)
    return Person(PackPlan.model_validate(whole), PLACES, wearer, child(1, "spells"))


def do(one: Person, at_s: int, does: str, **keys: Any) -> None:
    one.live(at_s * S)
    one.do(DEED.validate_python({"at_s": at_s, "does": does, **keys}), at_s * S)


def arrive(one: Person) -> int:
    """Live on until they are there; gives when, in seconds."""
    now_ns = one.arrives_ns
    one.live(now_ns)
    one.arrive()
    return now_ns // S


def test_who_goes_up_climbs_and_begins_with_the_task_of_the_place() -> None:
    one = person()
    do(one, 10, "breathe", work="rest")
    do(one, 20, "go", to="loft", over_s=60)
    assert (one.wearer.work, one.place, one.at_door) == (Work.CLIMB, "", True)
    assert arrive(one) == 80
    assert one.place == "loft"
    works = set()
    for t in range(81, 2000):
        one.live(t * S)
        works.add(one.wearer.work)
    assert works == {Work.SEARCH, Work.TASKS, Work.HEAVY, Work.CLIMB}, "hard work, by spells"


def test_on_the_level_one_walks_at_the_pace_of_a_search_and_goes_on_with_what_one_did() -> None:
    """39 m at 0.39 m/s."""
    one = person()
    do(one, 10, "breathe", work="search")
    do(one, 20, "go", to="hall")
    assert one.wearer.work is Work.WALK
    assert arrive(one) == 120
    assert (one.wearer.work, one.place) == (Work.SEARCH, "hall")


def test_other_work_on_the_way_is_what_they_go_on_with() -> None:
    one = person()
    do(one, 10, "breathe", work="search")
    do(one, 20, "go", to="hall")
    do(one, 30, "work", work="heavy")
    arrive(one)
    assert one.wearer.work is Work.HEAVY


def test_the_way_out_and_what_follows() -> None:
    one = person()
    do(one, 10, "breathe", work="search")
    do(one, 20, "go", to="hall", over_s=70)
    arrive(one)
    assert one.leave(200 * S)
    assert not one.leave(201 * S), "they are on it"
    assert (one.wearer.work, one.out) == (Work.WAY_OUT, False)
    assert arrive(one) == 270
    assert (one.out, one.place, one.wearer.work) == (True, "door", Work.REST)
    assert one.arrives_ns == FOREVER_NS
    assert not one.leave(280 * S)
    do(one, 300, "go", to="hall")
    assert not one.out


def test_who_is_off_air_or_lies_still_does_not_leave() -> None:
    one = person()
    assert not one.leave(5 * S)
    do(one, 10, "breathe")
    do(one, 20, "collapse")
    assert not one.leave(30 * S)
    do(one, 40, "move")
    assert one.leave(40 * S)


def test_who_lies_still_stays_where_they_are_unless_carried() -> None:
    one = person()
    do(one, 10, "breathe")
    do(one, 20, "go", to="hall", over_s=60)
    do(one, 50, "collapse")
    one.live(500 * S)
    assert one.where.at(500 * S).x_m == pytest.approx(19.5)
    do(one, 500, "go", to="door", over_s=40)
    assert arrive(one) == 540
    assert (one.out, one.place) == (True, "door")


def test_air_is_drawn_on_air_and_by_a_leak() -> None:
    one = person(fill_bar=200)
    full_l = one.cylinder.usable_l
    one.live(60 * S)
    assert one.cylinder.usable_l == full_l
    do(one, 60, "leak", l_min=30)
    one.live(120 * S)
    # A few degrees colder, the last atmosphere holds 0.05 L more that cannot be breathed.
    assert full_l - one.cylinder.usable_l == pytest.approx(30, abs=0.1)
    do(one, 120, "leak", l_min=0)
    do(one, 120, "breathe", work="rest")
    one.live(180 * S)
    # At rest 10 L/min, give or take the wander of a twelfth.
    assert full_l - 30 - one.cylinder.usable_l == pytest.approx(10, abs=2.5)


def test_a_gauge_never_shows_under_nothing() -> None:
    one = person(fill_bar=0)
    assert one.gauge_bar == pytest.approx(0, abs=1e-5)
