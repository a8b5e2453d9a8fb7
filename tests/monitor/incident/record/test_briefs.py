"""Tasks and briefs, areas, reliefs by the clock, other boards, the emergency message."""

from typing import Any

import pytest

from monitor.incident import events
from monitor.incident.orders.events import AnswerByVoice, GiveOrder
from monitor.incident.picture import Phase
from monitor.incident.record.events import Assign, MoveBoard, PlanRelief, SearchArea
from protocol.packets import Motion
from tests.monitor.incident.conftest import PROCEDURE

S = 1_000_000_000
MINUTE = 60 * S


# ---------------------------------------------------------------- briefs


def test_what_is_told_before_connecting_stands_until_off_air(story: Any) -> None:
    story.list_and_join(1, 101)
    story.act(0, Assign, wearers=(1,), task="search", brief="left wall", communications="radio")
    story.act(S, events.Connect, wearers=(1,))
    story.act(2 * S, events.Enter, wearers=(1,), brief="to door two")
    line = story.line()
    assert (line.task, line.brief, line.communications) == ("search", "to door two", "radio")
    story.act(3 * S, events.ComeOut, wearers=(1,))
    story.act(4 * S, events.OffAir, wearers=(1,))
    line = story.line()
    assert (line.task, line.brief, line.communications) == ("", "", "")


def test_what_is_empty_stays_as_it_was(story: Any) -> None:
    story.enter(1)
    story.act(S, Assign, wearers=(1,), task="search")
    story.act(2 * S, Assign, wearers=(1,), communications="line")
    assert (story.line().task, story.line().communications) == ("search", "line")


# ---------------------------------------------------------------- areas


def test_the_last_word_on_an_area_counts(story: Any) -> None:
    story.enter(1)
    story.act(S, SearchArea, area="kiln hall", state="to search")
    story.act(2 * S, SearchArea, area="loft", state="part searched", wearers=(1,))
    story.act(3 * S, SearchArea, area="kiln hall", state="searched", wearers=(1,))
    told = [(a.area, a.state, a.wearers, a.at_ns, a.by) for a in story.picture().areas]
    assert told == [
        ("kiln hall", "searched", (1,), 3 * S, "R. Harrow"),
        ("loft", "part searched", (1,), 2 * S, "R. Harrow"),
    ]


def test_whoever_searched_is_on_the_board(story: Any) -> None:
    assert story.act(S, SearchArea, area="loft", state="searched", wearers=(9,)) == (
        "There is no wearer 9 on the board."
    )


# ---------------------------------------------------------------- reliefs


def test_a_relief_falls_due_at_its_time_and_not_before(story: Any) -> None:
    story.enter(1)
    story.act(S, PlanRelief, crew="Alpha 1", by_crew="Alpha 2", due_ns=10 * MINUTE)
    assert "relief" not in story.alarms(10 * MINUTE - 1)
    (view,) = story.picture().reliefs
    assert (view.crew, view.by_crew, view.due_in_ns) == ("Alpha 1", "Alpha 2", 1)
    assert "relief" in story.alarms(10 * MINUTE)
    assert story.alarm("relief").subject == "Alpha 1"


def test_it_is_over_when_the_crew_is_off_air_or_it_is_planned_no_more(new_story: Any) -> None:
    for over in ("off air", "no longer"):
        story = new_story()
        story.enter(1)
        story.act(S, PlanRelief, crew="Alpha 1", due_ns=MINUTE)
        assert "relief" in story.alarms(MINUTE)
        if over == "no longer":
            story.act(story.now, PlanRelief, crew="Alpha 1", due_ns=None)
        else:
            story.act(story.now, events.ComeOut, wearers=(1,))
            story.act(story.now, events.OffAir, wearers=(1,))
        assert "relief" not in story.alarms()
        assert story.picture().reliefs == ()


def test_two_reliefs_fall_due_one_after_the_other(story: Any) -> None:
    story.list_and_join(1, 101, crew="Alpha 1")
    story.list_and_join(2, 102, crew="Alpha 2")
    story.enter(1, 2)
    story.act(S, PlanRelief, crew="Alpha 2", due_ns=20 * MINUTE)
    story.act(S, PlanRelief, crew="Alpha 1", due_ns=10 * MINUTE)
    assert story.alarms(10 * MINUTE).count("relief") == 1
    assert story.alarms(20 * MINUTE).count("relief") == 2


def test_a_relief_later_than_planned_first_moves_the_notice(story: Any) -> None:
    story.enter(1)
    story.act(S, PlanRelief, crew="Alpha 1", due_ns=MINUTE)
    story.act(2 * S, PlanRelief, crew="Alpha 1", due_ns=5 * MINUTE)
    assert "relief" not in story.alarms(2 * MINUTE)
    assert "relief" in story.alarms(5 * MINUTE)


def test_only_a_crew_of_the_board_and_not_by_itself(story: Any) -> None:
    story.enter(1)
    assert story.act(S, PlanRelief, crew="Beta", due_ns=MINUTE) == (
        "There is no crew Beta on the board."
    )
    assert story.act(S, PlanRelief, crew="Alpha 1", by_crew="Alpha 1", due_ns=MINUTE) == (
        "A crew cannot relieve itself."
    )


# ---------------------------------------------------------------- other boards


def test_a_moved_wearer_is_watched_elsewhere(story: Any) -> None:
    story.enter(1)
    story.hear(S, motion=Motion.PRE_ALARM)
    assert "pre_alarm" in story.alarms()
    assert story.act(2 * S, MoveBoard, wearers=(1,), board="board B") is None
    line = story.line()
    assert (line.phase, line.under_air, line.moved_to, line.state) == (
        Phase.MOVED, False, "board B", "moved",
    )  # fmt: skip
    assert story.picture().under_air == 0
    story.hear(3 * S, motion=Motion.PRE_ALARM)
    assert "no_signal" not in story.alarms(10 * MINUTE)


def test_nothing_is_noted_of_one_who_is_elsewhere_but_what_must_be(story: Any) -> None:
    story.enter(1)
    story.act(S, MoveBoard, wearers=(1,), board="board B")
    why = "Alpha 1 is watched by board B: first back to this board."
    assert story.act(2 * S, events.ComeOut, wearers=(1,)) == why
    assert story.act(2 * S, events.JoinPack, wearer=1, pack=102) == why
    assert story.act(2 * S, events.Note, text="seen at door C", wearer=1) is None


def test_back_again_the_wear_goes_on(story: Any) -> None:
    story.enter(1)
    story.act(MINUTE, MoveBoard, wearers=(1,), board="board B")
    story.act(2 * MINUTE, MoveBoard, wearers=(1,))
    line = story.line(t=3 * MINUTE)
    assert (line.phase, line.under_air, line.moved_to) == (Phase.ENTERED, True, "")
    assert line.wear_ns == 3 * MINUTE


def test_who_may_be_moved(story: Any) -> None:
    story.act(0, events.ListWearer, wearer=1, name="A. Quoin")
    assert story.act(0, MoveBoard, wearers=(1,), board="B") == (
        "A. Quoin is not on air: no board need watch."
    )
    story.enter(2)
    assert story.act(0, MoveBoard, wearers=(2,)) == "Alpha 2 is on this board."


def test_moving_brings_nobody_out_of_an_order(story: Any) -> None:
    story.enter(1)
    story.act(S, GiveOrder, order="evacuate", everybody=True, scope="everybody")
    story.act(2 * S, MoveBoard, wearers=(1,), board="board B")
    (order,) = story.picture().orders
    assert (order.is_open, order.out, order.lines[0].waits) == (True, 0, True)
    assert story.act(3 * S, AnswerByVoice, order=1, wearers=(1,)) is None


def test_the_incident_may_close_with_somebody_elsewhere(story: Any) -> None:
    story.enter(1)
    assert story.act(S, events.Close) is not None
    story.act(S, MoveBoard, wearers=(1,), board="board B")
    assert story.act(2 * S, events.Close) is None


# ---------------------------------------------------------------- the emergency message


def test_the_message_is_filled_from_the_last_data(story: Any) -> None:
    story.enter(1)
    story.hear(10 * S, pressure_dbar=2879)
    told = dict(story.incident.emergency_form(1))
    assert told["name"] == "Wearer 1"
    assert told["crew"] == "Alpha 1"
    assert told["air"] == "287 bar, 0 s ago"
    assert told["needs"] == ""
    story.picture(12 * S + 1)
    told = dict(story.incident.emergency_form(1))
    # 2.000000001 s, and 12.000000001 s since the place was told: rounded up.
    assert told["air"] == "287 bar, 3 s ago"
    assert told["last place"] == "floor 2, 13 s ago"


def test_an_estimate_says_so(story: Any) -> None:
    story.enter(1)
    story.hear(S, pressure_dbar=2900)
    story.picture(5 * MINUTE)
    air = dict(story.incident.emergency_form(1))["air"]
    assert "by estimate, last read 5 min ago" in air
    assert int(air.split()[0]) < 290


def test_nobody_of_that_number_has_no_message(story: Any) -> None:
    assert story.incident.emergency_form(9) == ()


@pytest.mark.parametrize("field", ["time", "name", "unit", "location", "task", "air", "mates"])
def test_every_field_that_a_procedure_can_ask_for_has_a_heading(new_story: Any, field: str) -> None:
    rules = PROCEDURE.model_copy(update={"emergency_form": {field: "heading"}})
    story = new_story(rules)
    story.enter(1)
    ((heading, _value),) = story.incident.emergency_form(1)
    assert heading == "heading"


# ---------------------------------------------------------------- found on reading


def test_an_order_to_a_crew_goes_out_with_one_of_it_elsewhere(story: Any) -> None:
    """It was refused for the whole crew: an evacuation that nobody heard."""
    for wearer in (1, 2):
        story.list_and_join(wearer, 100 + wearer)
    story.enter(1, 2)
    story.act(S, MoveBoard, wearers=(2,), board="board B")
    given = {"order": "evacuate", "wearers": (1, 2), "scope": "crew Alpha 1"}
    assert story.act(2 * S, GiveOrder, **given) is None
    (order,) = story.picture().orders
    assert {line.wearer for line in order.lines} == {1, 2}
    assert all(line.waits for line in order.lines)


def test_an_order_for_one_who_is_elsewhere_alone_goes_to_their_pack(story: Any) -> None:
    story.enter(1)
    story.act(S, MoveBoard, wearers=(1,), board="board B")
    assert story.act(2 * S, GiveOrder, order="evacuate", wearers=(1,), scope="1") is None
    assert [one.pack for one in story.incident.outstanding()] == [101]
    # Everybody of this board is nobody: board B gives its own.
    assert story.act(3 * S, GiveOrder, order="come out", everybody=True, scope="all") == (
        "Nobody is under air."
    )


def test_an_order_that_stands_goes_on_to_the_pack_of_one_who_is_moved(story: Any) -> None:
    """It stayed in the list, and nothing was sent any more."""
    story.enter(1)
    story.act(S, GiveOrder, order="evacuate", everybody=True, scope="everybody")
    assert [one.pack for one in story.incident.outstanding()] == [101]
    story.act(2 * S, MoveBoard, wearers=(1,), board="board B")
    assert [one.pack for one in story.incident.outstanding()] == [101]


def test_moved_before_connecting_is_not_inside(story: Any) -> None:
    story.list_and_join(1, 101)
    story.act(S, MoveBoard, wearers=(1,), board="board B")
    assert story.act(2 * S, GiveOrder, order="evacuate", wearers=(1,), scope="1") == (
        "Nobody of these is inside."
    )


def test_back_again_steps_may_be_noted_as_they_were_elsewhere(story: Any) -> None:
    """The time of coming back was taken for that of going in, so nothing before it could be."""
    story.enter(1)
    story.act(MINUTE, MoveBoard, wearers=(1,), board="board B")
    story.act(10 * MINUTE, MoveBoard, wearers=(1,))
    assert story.act(11 * MINUTE, events.ComeOut, wearers=(1,), at_ns=5 * MINUTE) is None
    assert story.act(12 * MINUTE, events.OffAir, wearers=(1,), at_ns=6 * MINUTE) is None


def test_no_step_is_noted_before_the_wear_was(story: Any) -> None:
    story.enter(1)
    story.act(MINUTE, events.ComeOut, wearers=(1,))
    story.act(2 * MINUTE, events.OffAir, wearers=(1,))
    story.act(3 * MINUTE, events.JoinPack, wearer=1, pack=101)
    assert story.act(4 * MINUTE, events.Connect, wearers=(1,), at_ns=MINUTE) == (
        "Alpha 1: that is before off air was noted."
    )
    assert story.act(4 * MINUTE, events.Connect, wearers=(1,), at_ns=2 * MINUTE) is None
