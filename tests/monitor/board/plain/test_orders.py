"""Orders in sentences: what stands, and what has come since."""

from dataclasses import replace
from typing import Any

import pytest

from monitor.board.plain import orders as plain_orders
from monitor.incident.picture import EmergencyView, OrderLineView, Phase, Picture

S = 1_000_000_000
COUNTS = "received 5, acknowledged 3, by voice 1, out 1 of 6, committed 2"
GIVEN = "Order 1, EVACUATE everybody, by R. Harrow"
AT_147 = "motion moving, at least 147 bar, read 1 s ago"
SAY = "Say: Evacuate, evacuate, evacuate. Everybody: come out now. Acknowledge."


def with_line(picture: Picture, wearer: int, **changes: Any) -> Picture:
    """The same picture with one line of its order changed, and the counts of that."""
    (order,) = picture.orders
    lines = tuple(
        replace(line, **changes) if line.wearer == wearer else line for line in order.lines
    )
    received = sum(line.received_ns is not None for line in lines)
    return replace(picture, orders=(replace(order, lines=lines, received=received),))


def test_what_stands_and_who_keeps_it_open(scenes: Any) -> None:
    assert plain_orders.orders_sentences(scenes.evacuation()) == [
        f"{GIVEN}, for 34 s: {COUNTS}. {SAY}",
        f"4 Alpha 2-2: received, NO ANSWER, {AT_147}, last at stairs, floor 2.",
        "6 Alpha 3-2: NOT RECEIVED, motion moving, at least 201 bar, read 1 min 12 s ago.",
        "7 Alpha 4-1: by voice, motion moving, at least 207 bar, read 1 s ago.",
        "3 Alpha 2-1: acknowledged, motion moving, at least 233 bar, read 1 s ago.",
        "5 Alpha 3-1: acknowledged, coming out, motion moving, at least 159 bar, read 1 s ago.",
    ]
    assert plain_orders.orders_sentences(scenes.quiet()) == []


def test_a_roll_by_crews(scenes: Any) -> None:
    evacuation = scenes.evacuation()
    (order,) = evacuation.orders
    roll = replace(order, order="roll call", lines=order.lines[5:6])
    said = plain_orders.orders_sentences(replace(evacuation, orders=(roll,)))
    assert said[1].startswith("Alpha 2 one of two, Alpha 3 one of two, Alpha 4 two of two")


def test_an_order_that_is_over(scenes: Any) -> None:
    (order,) = scenes.evacuation().orders
    over = replace(order, is_open=False, state="all out", for_ns=401 * S)
    assert plain_orders.order_sentence(over) == (
        "Order 1, EVACUATE everybody, by R. Harrow: received 5, acknowledged 3, by voice 1, "
        "out 1 of 6, committed 2. ALL OUT after 6 min 41 s."
    )


def test_a_new_order_is_said_with_its_words(scenes: Any) -> None:
    evacuation = scenes.evacuation()
    before = replace(evacuation, orders=())
    (said,) = plain_orders.order_changes(before, evacuation)
    assert said.startswith("Order 1, EVACUATE everybody, by R. Harrow")
    assert said.endswith(SAY)
    assert plain_orders.order_changes(evacuation, evacuation) == []


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"received_ns": 40 * S}, "Order 1, EVACUATE: received by 6 of 6."),
        (
            {"acknowledged_ns": 40 * S},
            "Order 1, EVACUATE: 6 Alpha 3-2 has acknowledged after 40 s.",
        ),
        (
            {"voice_ns": 40_100_000_000},
            "Order 1, EVACUATE: 6 Alpha 3-2 has answered by voice after 41 s.",
        ),
        ({"out_ns": 61 * S}, "Order 1, EVACUATE: 6 Alpha 3-2 is out after 1 min 1 s."),
        ({"committed": True}, "Order 1, EVACUATE: 6 Alpha 3-2 is committed."),
    ],
)
def test_each_answer_is_a_sentence(scenes: Any, changes: dict[str, Any], said: str) -> None:
    evacuation = scenes.evacuation()
    after = with_line(evacuation, 6, **changes)
    assert plain_orders.order_changes(evacuation, after) == [said]


def test_whoever_goes_in_after_it_is_said(scenes: Any) -> None:
    after = scenes.evacuation()
    (order,) = after.orders

    def without(*numbers: int) -> tuple[OrderLineView, ...]:
        return tuple(line for line in order.lines if line.wearer not in numbers)

    before = replace(after, orders=(replace(order, lines=without(1, 6)),))
    said = plain_orders.order_changes(before, after)
    assert said == [
        "Order 1, EVACUATE: 6 Alpha 3-2 went in after it.",
        "Order 1, EVACUATE: 1 Alpha 1-1 is committed.",
    ]


def test_all_answered_then_all_out(scenes: Any) -> None:
    stands = scenes.evacuation()
    (order,) = stands.orders
    answered = replace(stands, orders=(replace(order, state="all answered"),))
    over = replace(order, state="all out", is_open=False, for_ns=401 * S)
    out = replace(stands, orders=(over,))
    assert plain_orders.order_changes(stands, answered) == ["Order 1, EVACUATE: ALL ANSWERED."]
    assert plain_orders.order_changes(answered, answered) == []
    assert plain_orders.order_changes(answered, out) == [
        "Order 1, EVACUATE: ALL OUT after 6 min 41 s."
    ]


def test_an_emergency_crew_is_said(scenes: Any) -> None:
    quiet = scenes.quiet()
    at_door = tuple(replace(w, phase=Phase.CHECKED_IN) for w in quiet.wearers[6:])
    quiet = replace(quiet, wearers=(*quiet.wearers[:6], *at_door))
    ready = replace(quiet, emergency=(EmergencyView("Alpha 4", "ready", (7, 8), 0),))
    assert plain_orders.order_changes(quiet, ready) == ["Emergency crew READY Alpha 4."]
    assert plain_orders.order_changes(ready, quiet) == ["Emergency crew NONE."]


@pytest.mark.parametrize(
    ("due_ns", "words"),
    [
        (None, ""),
        (119 * S, "roll call in 1 min"),
        (1, "roll call in 0 min"),
        (0, "roll call due"),
        (-S, "roll call due"),
    ],
)
def test_the_next_roll_call_is_rounded_down(scenes: Any, due_ns: int, words: str) -> None:
    picture = replace(scenes.quiet(), roll_call_in_ns=due_ns)
    assert plain_orders.roll_call_words(picture) == words
    assert plain_orders.roll_call_words(replace(picture, closed=True)) == ""
