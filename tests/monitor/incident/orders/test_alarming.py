"""Alarms that hang on orders, each at its exact instant, in its scope, and what clears it.

The rules of these stories (``Procedure``): 60 s to answer, 300 s from the answer until out.
"""

from typing import TYPE_CHECKING, Any

import pytest

from monitor.incident import events
from monitor.incident.orders.events import AnswerByVoice
from monitor.incident.picture import Priority
from protocol.packets import ReceiptKind

if TYPE_CHECKING:
    from tests.monitor.incident.conftest import Story
    from tests.monitor.incident.orders.conftest import Orders

S = 1_000_000_000
ANSWER_NS, OUT_NS, INTERVAL_NS = 60 * S, 300 * S, 1800 * S
OF_ORDERS = {"order_unanswered", "order_not_out", "went_in", "roll_call"}


def told(story: "Story", t: int | None = None) -> list[str]:
    return [kind for kind in story.alarms(t) if kind in OF_ORDERS]


def given(orders: "Orders", order: str = "evacuate") -> int:
    """Wearer 1 inside, without telemetry, and an order to everybody. Gives its time."""
    orders.story.list_and_join(1, None)
    orders.story.connect(1, pressure_bar=300)
    orders.story.act(orders.story.now, events.Enter, wearers=(1,))
    orders.story.incident.advance(10 * S)
    assert orders.give(order) is None
    return 10 * S


def test_an_evacuation_unanswered_is_a_danger_at_its_instant(orders: "Orders") -> None:
    t = given(orders)
    assert told(orders.story, t + ANSWER_NS - 1) == []
    assert told(orders.story, t + ANSWER_NS) == ["order_unanswered"]
    alarm = orders.story.alarm("order_unanswered")
    assert (alarm.priority, alarm.raised_at_ns, alarm.wearers) == (
        Priority.DANGER,
        t + ANSWER_NS,
        (1,),
    )
    assert alarm.detail == "evacuate, 60 s ago; no telemetry"
    assert alarm.to_do == "Evacuate: Call. No answer: command says who goes."
    assert told(orders.story, t + ANSWER_NS + 1) == ["order_unanswered"]


def test_an_act_at_that_very_instant_does_not_hide_it(orders: "Orders") -> None:
    t = given(orders)
    orders.story.act(t + ANSWER_NS, events.Note, text="radio check")
    assert told(orders.story, t + ANSWER_NS) == ["order_unanswered"]


@pytest.mark.parametrize("order", ["come out", "roll call", "test"])
def test_any_other_order_unanswered_is_a_caution(orders: "Orders", order: str) -> None:
    t = given(orders, order)
    assert told(orders.story, t + ANSWER_NS) == ["order_unanswered"]
    assert orders.story.alarm("order_unanswered").priority is Priority.CAUTION


@pytest.mark.parametrize(
    ("answer", "left"),
    [("voice", []), ("out", []), ("close", []), ("committed", [])],
)
def test_what_clears_it(orders: "Orders", answer: str, left: list[str]) -> None:
    t = given(orders)
    orders.story.picture(t + ANSWER_NS)
    orders.story.take("order_unanswered")
    if answer == "voice":
        orders.voice(1)
    elif answer == "out":
        orders.out(1)
    elif answer == "close":
        orders.close(override="told by voice, stays at the valve")
    else:
        orders.emergency("Alpha 1", "committed")
    assert [kind for kind in told(orders.story) if kind != "roll_call"] == left


def test_answered_in_time_it_never_comes(orders: "Orders") -> None:
    t = given(orders)
    orders.story.act(t + ANSWER_NS - 1, AnswerByVoice, order=1, wearers=(1,))
    assert told(orders.story, t + ANSWER_NS) == []


@pytest.mark.parametrize("order", ["evacuate", "come out"])
def test_answered_and_not_out_at_its_instant(orders: "Orders", order: str) -> None:
    """Where all must leave the place may come down; else it is a delay."""
    t = given(orders, order) + 20 * S
    orders.story.act(t, AnswerByVoice, order=1, wearers=(1,))
    assert told(orders.story, t + OUT_NS - 1) == []
    assert told(orders.story, t + OUT_NS) == ["order_not_out"]
    alarm = orders.story.alarm("order_not_out")
    assert alarm.priority is (Priority.DANGER if order == "evacuate" else Priority.CAUTION)
    assert alarm.detail == f"{order}, answered 300 s ago"
    first = order.capitalize()
    assert alarm.to_do == f"{first}: Call: what holds them? No answer: emergency crew."
    orders.story.take("order_not_out")
    orders.out(1)
    assert "order_not_out" not in told(orders.story)


@pytest.mark.parametrize("order", ["roll call", "test"])
def test_nobody_need_come_out_for(orders: "Orders", order: str) -> None:
    t = given(orders, order)
    orders.story.act(t, AnswerByVoice, order=1, wearers=(1,))
    assert told(orders.story, t + OUT_NS) == []


def test_each_wearer_has_an_alarm_of_their_own(orders: "Orders") -> None:
    orders.go_in(1, 2, 3)
    orders.give()
    t = orders.story.now
    orders.voice(2)
    for n in (1, 2, 3):
        orders.story.hear(t + 50 * S, 100 + n)
    assert told(orders.story, t + ANSWER_NS) == ["order_unanswered"] * 2
    raised = [a.wearers for a in orders.story.picture().alarms if a.kind == "order_unanswered"]
    assert raised == [(1,), (3,)]
    orders.receipt(3, ReceiptKind.RECEIVED)
    assert [a.detail for a in orders.story.picture().alarms if a.kind == "order_unanswered"] == [
        "evacuate, 60 s ago; the pack has not got it",
        "evacuate, 60 s ago; the pack has it",
    ]


# ---------------------------------------------------------------- went in


def test_going_in_while_an_evacuation_of_everybody_stands(orders: "Orders") -> None:
    orders.go_in(1)
    orders.give()
    orders.go_in(2)
    assert told(orders.story) == ["went_in"]
    assert (orders.line(2).late, orders.view().of) == (True, 2)
    assert 102 in orders.sending()
    orders.out(1)
    assert orders.view().is_open
    orders.story.take("went_in")
    orders.out(2)
    assert "went_in" not in told(orders.story)
    assert orders.view().state == "all out"


def test_getting_ready_at_the_door_is_not_going_in(orders: "Orders") -> None:
    orders.go_in(1)
    orders.give()
    orders.story.list_and_join(2, 102)
    orders.story.connect(2)
    assert told(orders.story) == []
    assert orders.view().of == 1


def test_who_was_on_air_at_the_door_when_it_was_given_goes_in_against_it(orders: "Orders") -> None:
    orders.go_in(1)
    orders.story.list_and_join(2, 102)
    orders.story.connect(2)
    orders.give()
    assert (told(orders.story), orders.view().of) == ([], 2)
    orders.story.act(orders.story.now + S, events.Enter, wearers=(2,))
    assert told(orders.story) == ["went_in"]
    assert orders.line(2).late


def test_an_entry_noted_late_is_none_against_it(orders: "Orders") -> None:
    orders.go_in(1)
    orders.story.list_and_join(2, 102)
    orders.story.connect(2)
    before = orders.story.now
    orders.give()
    orders.story.act(orders.story.now + S, events.Enter, wearers=(2,), at_ns=before)
    assert told(orders.story) == []


def test_going_back_in_is_going_in(orders: "Orders") -> None:
    orders.go_in(1, 2)
    orders.give()
    orders.out(1)
    orders.story.act(orders.story.now, events.Enter, wearers=(1,))
    assert told(orders.story) == ["went_in"]
    assert orders.line(1).out_ns is None


def test_an_emergency_crew_goes_in_without_it(orders: "Orders") -> None:
    orders.go_in(1)
    orders.give()
    orders.story.list_and_join(3, 103, crew="Alpha 2")
    orders.emergency("Alpha 2", "committed")
    orders.story.connect(3)
    orders.story.act(orders.story.now, events.Enter, wearers=(3,))
    assert told(orders.story) == []
    assert (orders.view().of, orders.view().committed, orders.line(3).committed) == (1, 1, True)
    assert set(orders.sending()) == {101}


def test_into_a_selected_evacuation_nobody_is_drawn(orders: "Orders") -> None:
    orders.go_in(1)
    orders.give("evacuate", 1)
    orders.go_in(3)
    assert told(orders.story) == []
    assert orders.view().of == 1


# ---------------------------------------------------------------- the roll


@pytest.fixture
def hourly(new_story: "type[Story]", orders_in: "type[Orders]") -> "Orders":
    """A story under rules that call the roll every half hour."""
    rules: Any = new_story().incident.opened
    story = new_story(rules.procedure.model_copy(update={"roll_call_s": 1800.0}))
    return orders_in(story)


def roll(orders: "Orders", t: int) -> list[tuple[str, Priority]]:
    return [(a.word, a.priority) for a in orders.story.picture(t).alarms if a.kind == "roll_call"]


def test_the_roll_is_due_by_the_procedure_and_overdue_a_while_later(hourly: "Orders") -> None:
    hourly.go_in(1)
    hourly.story.incident.advance(5 * S)
    assert hourly.story.picture().roll_call_in_ns == INTERVAL_NS - 5 * S
    assert roll(hourly, INTERVAL_NS - 1) == []
    assert roll(hourly, INTERVAL_NS) == [("roll call due", Priority.NOTICE)]
    assert roll(hourly, INTERVAL_NS + ANSWER_NS - 1) == [("roll call due", Priority.NOTICE)]
    assert roll(hourly, INTERVAL_NS + ANSWER_NS) == [("ROLL CALL DUE", Priority.CAUTION)]
    assert hourly.story.picture().roll_call_in_ns == -ANSWER_NS
    hourly.give("roll call")
    assert hourly.story.picture().roll_call_in_ns is None
    hourly.voice(1)
    assert roll(hourly, hourly.story.now) == []
    assert roll(hourly, INTERVAL_NS * 2 + ANSWER_NS) == [("roll call due", Priority.NOTICE)]


def test_a_roll_answered_by_button_starts_the_time_anew(hourly: "Orders") -> None:
    hourly.go_in(1)
    hourly.give("roll call")
    hourly.story.hear(20 * S, order_received=1, order_acknowledged=1)
    assert hourly.view().state == "all answered"
    assert roll(hourly, INTERVAL_NS - 1) == []
    assert roll(hourly, INTERVAL_NS) == [("roll call due", Priority.NOTICE)]


def test_with_nobody_in_no_roll_is_due(hourly: "Orders") -> None:
    hourly.go_in(1)
    hourly.out(1)
    assert hourly.story.picture().roll_call_in_ns is None
    assert roll(hourly, INTERVAL_NS) == []


def test_without_an_interval_only_an_evacuation_asks_for_one(orders: "Orders") -> None:
    orders.go_in(1)
    assert orders.story.picture().roll_call_in_ns is None
    orders.give()
    orders.out(1)
    t = orders.story.now
    assert roll(orders, t) == [("roll call due", Priority.NOTICE)]
    assert roll(orders, t + ANSWER_NS) == [("ROLL CALL DUE", Priority.CAUTION)]
    orders.give("roll call")
    assert (orders.view(2).of, orders.view(2).is_open) == (1, True)
    orders.voice(1, order=2)
    assert roll(orders, t + ANSWER_NS) == []
