"""All doors in one picture: order of alarms, totals, what concerns a door as a whole."""

from dataclasses import replace

from monitor.incident.picture import Phase, Priority
from monitor.overview.doors import Trust
from monitor.overview.overview import (
    NOT_ARRIVED,
    NOT_HEARD,
    NOT_TRUSTED,
    NUMBERS_A_DOOR,
    ON_TWO,
    as_picture,
    crews_of,
    overview_of,
)
from tests.monitor.board import conftest as boards
from tests.monitor.overview.scenes import S, door, others, peace, trouble

NOW = boards.WALL


def test_peace_says_nothing() -> None:
    overview = overview_of("Kiln works", peace(), NOW)
    assert overview.alarms == ()
    assert (overview.under_air, overview.old, overview.came_out) == (24, (0, 0), 0)


def test_totals_say_what_of_them_is_old() -> None:
    a, b, c = peace()
    overview = overview_of("", [a, replace(b, age_ns=4 * S), replace(c, age_ns=40 * S)], NOW)
    assert overview.under_air == 24
    assert overview.old == (16, 40 * S)


def test_what_concerns_a_door_stands_on_top() -> None:
    overview = overview_of("", trouble(), NOW)
    assert [(a.word, a.subject) for a in overview.alarms[:2]] == [
        (NOT_TRUSTED, "A: 8 under air"),
        (NOT_HEARD, "C: 8 under air"),
    ]
    assert [a.priority for a in overview.alarms[:2]] == [Priority.DANGER, Priority.DANGER]
    assert overview.alarms[0].detail == "commit 812: its running digest does not fit"
    assert overview.alarms[1].raised_for_ns == 40 * S


def test_a_door_with_nobody_in_is_no_danger() -> None:
    empty = replace(boards.quiet_scene(), under_air=0)
    overview = overview_of("", [door(1, "A", empty, 60), door(2, "B", others(empty, 2))], NOW)
    assert [(a.word, a.priority) for a in overview.alarms] == [(NOT_HEARD, Priority.CAUTION)]


def test_alarms_of_all_doors_by_urgency_each_doors_own_order_kept() -> None:
    one, two = boards.trouble_scene(), boards.trouble_scene()
    doors = [door(1, "A", one), door(2, "B", others(two, 2))]
    alarms = overview_of("", doors, NOW).alarms
    assert len(alarms) == len(one.alarms) + len(two.alarms)
    priorities = [a.priority for a in alarms]
    assert priorities == sorted(priorities)
    for n, picture in ((1, one), (2, two)):
        own = [a.number - n * NUMBERS_A_DOOR for a in alarms if a.number // NUMBERS_A_DOOR == n]
        assert own == [a.number for a in picture.alarms]
    assert alarms[0].subject == "A 4 Alpha 2-2"


def test_everybody_keeps_air_and_mates_under_numbers_of_all_doors() -> None:
    doors = [door(1, "A", boards.quiet_scene()), door(2, "B", boards.trouble_scene())]
    overview = overview_of("", doors, NOW)
    picture = as_picture(overview, doors[0].picture)
    assert len({w.wearer for w in picture.wearers}) == 16
    known = {w.wearer: w for w in picture.wearers}
    for alarm in overview.alarms:
        for number in (*alarm.wearers, *(mate for mate, _, _ in alarm.mates)):
            assert known[number].wearer // NUMBERS_A_DOOR == 2


def test_a_place_is_dated_by_this_machines_clock() -> None:
    """Told 780 s before the picture, which is 40 s old by the clocks: 820 s before now."""
    old = door(1, "A", boards.trouble_scene(), 40)
    first = overview_of("", [old], NOW + 40 * S).alarms[1]
    assert first.location == "stairs, floor 2"
    assert first.location_at_ns == NOW + 40 * S - 820 * S


def test_across_the_doors() -> None:
    a, b, c = peace()
    gone = replace(a.picture.wearers[1], phase=Phase.MOVED, under_air=False, moved_to="B")
    wearers = (a.picture.wearers[0], gone, *a.picture.wearers[2:])
    twice = replace(b.picture.wearers[0], pack=a.picture.wearers[0].pack)
    doors = [
        replace(a, picture=replace(a.picture, wearers=wearers)),
        replace(b, picture=replace(b.picture, wearers=(twice, *b.picture.wearers[1:]))),
        c,
    ]
    alarms = overview_of("", doors, NOW).alarms
    assert [(one.word, one.subject) for one in alarms] == [
        (ON_TWO, "Alpha 1-1/1: A and B"), (NOT_ARRIVED, "A Alpha 1-2/1"),
    ]  # fmt: skip
    assert alarms[1].to_do == "Moved to B: ask there."


def test_crews_in_the_order_of_check_in() -> None:
    found = [(name, [w.wearer for w in wearers]) for name, wearers in crews_of(peace()[0])]
    assert found == [
        ("Alpha 1", [1, 2]), ("Alpha 2", [3, 4]), ("Alpha 3", [5, 6]), ("Alpha 4", [7, 8]),
    ]  # fmt: skip


def test_trust_words_are_short() -> None:
    assert max(map(len, Trust)) <= 8
