"""One door as command sees it: how old, how sure, who has least."""

from dataclasses import replace

import pytest

from monitor.overview.doors import (
    CLOCKS_NS,
    NOT_HEARD_NS,
    OLD_NS,
    Hearing,
    age_of,
    difference_of,
    least_air,
    next_mark,
)
from tests.monitor.board import conftest as boards
from tests.monitor.overview.scenes import S, door


@pytest.mark.parametrize(
    ("age_ns", "hearing"),
    [
        (0, Hearing.NOW), (OLD_NS, Hearing.NOW), (OLD_NS + 1, Hearing.OLD),
        (NOT_HEARD_NS, Hearing.OLD), (NOT_HEARD_NS + 1, Hearing.NOT_HEARD),
    ],
)  # fmt: skip
def test_how_far_a_door_is_heard(age_ns: int, hearing: Hearing) -> None:
    picture = boards.quiet_scene()
    one = replace(door(1, "A", picture), age_ns=age_ns)
    assert one.hearing is hearing
    assert replace(one, picture=replace(picture, closed=True)).hearing is Hearing.CLOSED


def test_age_goes_by_the_worse_of_both_clocks() -> None:
    # Came 2 s ago; by the wall clocks it is 6 s old: some of it was on its way.
    assert age_of(2 * S, 6 * S, 0) == 6 * S
    # The door's clock is 300 s behind: by itself 302 s would say nothing.
    assert age_of(2 * S, 302 * S, 300 * S) == 2 * S
    # A clock that is ahead must not make an old picture young.
    assert age_of(40 * S, -260 * S, -300 * S) == 40 * S


def test_clocks_that_differ_by_a_little_do_not() -> None:
    assert difference_of(CLOCKS_NS) == difference_of(-CLOCKS_NS) == 0
    assert difference_of(CLOCKS_NS + 1) == CLOCKS_NS + 1
    assert difference_of(-300 * S) == -300 * S


def test_who_has_least_unknown_first() -> None:
    picture = boards.quiet_scene()  # 188, 195, 233, 201, 159, 148, 207, 212 bar
    one = door(1, "A", picture)
    least = least_air(one)
    assert least is not None
    assert least.air.pressure_bar == 148
    wearers = list(picture.wearers)
    wearers[2] = replace(wearers[2], air=replace(wearers[2].air, pressure_bar=None))
    least = least_air(door(1, "A", replace(picture, wearers=tuple(wearers))))
    assert least is not None
    assert least.wearer == 3
    nobody = tuple(replace(w, under_air=False) for w in picture.wearers)
    assert least_air(door(1, "A", replace(picture, wearers=nobody))) is None
    assert next_mark(door(1, "A", replace(picture, wearers=nobody))) is None


def test_the_next_mark_is_the_first_of_anybody() -> None:
    picture = boards.quiet_scene()
    marks = [w.air.next for w in picture.wearers if w.air.next is not None]
    assert next_mark(door(1, "A", picture)) == min(marks, key=lambda m: m.seconds)


def test_falling_estimates_take_the_place_of_its_wearers() -> None:
    picture = boards.quiet_scene()
    fallen = tuple(replace(w, air=replace(w.air, pressure_bar=99.0)) for w in picture.wearers)
    one = door(1, "A", picture, falling=fallen)
    assert {w.air.pressure_bar for w in one.shown.wearers} == {99.0}
    least = least_air(one)
    assert least is not None
    assert least.air.pressure_bar == 99.0
