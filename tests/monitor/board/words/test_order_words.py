"""Orders and emergency crews in words."""

from dataclasses import replace
from typing import Any

import pytest

from monitor.board.words import order_words
from monitor.incident.picture import CrewCount, EmergencyView, Phase, Priority

S = 1_000_000_000


@pytest.mark.parametrize(
    ("answered", "of", "words"),
    [
        (2, 2, "Alpha 2 two of two"),
        (0, 3, "Alpha 2 none of three"),
        (12, 13, "Alpha 2 twelve of 13"),
    ],
)
def test_a_roll_is_spoken_crew_by_crew(answered: int, of: int, words: str) -> None:
    assert order_words.crew_words(CrewCount("Alpha 2", answered, of)) == words


def test_crews_of_whom_somebody_is_missing_come_first(scenes: Any) -> None:
    (order,) = scenes.evacuation().orders
    crews = (CrewCount("A", 2, 2), CrewCount("", 0, 1), CrewCount("C", 1, 2))
    said = [order_words.crew_words(c) for c in order_words.crews_missing_first(
        replace(order, crews=crews)
    )]  # fmt: skip
    assert said == ["no crew none of one", "C one of two", "A two of two"]


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"sent_ns": None}, "NOT SENT YET"),
        ({}, "NOT RECEIVED"),
        ({"received_ns": S}, "received, NO ANSWER"),
        ({"telemetry": False}, "VOICE ONLY"),
        ({"late": True}, "WENT IN AFTER IT, NOT RECEIVED"),
        ({"unanswered": False, "acknowledged_ns": S}, "acknowledged"),
        ({"unanswered": False, "voice_ns": S}, "by voice"),
        ({"unanswered": False, "voice_ns": S, "back_ns": S}, "by voice, coming out"),
        ({"unanswered": False, "acknowledged_ns": S, "out_ns": S}, "out"),
        ({"unanswered": False, "committed": True}, "COMMITTED"),
    ],
)
def test_how_far_somebody_has_got(scenes: Any, changes: dict[str, Any], words: str) -> None:
    assert order_words.progress(scenes.order_line(scenes.wearer(4), **changes)) == words


def test_all_answered_and_all_out_are_two_states(scenes: Any) -> None:
    """401.2 s are 6 min 42 s: time gone by is never rounded down."""
    (order,) = scenes.evacuation().orders
    assert order_words.state_words(order) == ""
    answered = replace(order, state="all answered")
    assert order_words.state_words(answered) == "ALL ANSWERED"
    over = replace(order, is_open=False, for_ns=401_200_000_000)
    assert order_words.state_words(replace(over, state="all out")) == "ALL OUT after 6 min 42 s"
    rolled = replace(over, state="all answered", order="roll call")
    assert order_words.state_words(rolled) == "ALL ANSWERED after 6 min 42 s"
    closed = replace(over, state="closed", override="out by another way")
    assert order_words.state_words(closed) == "CLOSED after 6 min 42 s: out by another way"


def test_who_gave_it_and_why(scenes: Any) -> None:
    (order,) = scenes.evacuation().orders
    assert order_words.given_words(order) == "by R. Harrow"
    passed_on = replace(order, on_order_of="command", reason="roof")
    assert order_words.given_words(passed_on) == "by R. Harrow, on the order of command: roof"


def test_who_keeps_it_open(scenes: Any) -> None:
    (order,) = scenes.evacuation().orders
    assert order_words.missing_words(order) == "2 not answered, 3 answered, not out"
    assert order_words.missing_words(replace(order, lines=order.lines[2:])) == (
        "3 answered, not out"
    )


def test_emergency_crews(scenes: Any) -> None:
    quiet = scenes.quiet()
    assert order_words.emergency_words(quiet) == "emergency crew NONE"
    ready = EmergencyView("Alpha 4", "ready", (7, 8), 0)
    sent = EmergencyView("Alpha 3", "committed", (5, 6), 0)
    inside = replace(quiet, emergency=(sent, ready))
    assert order_words.emergency_words(inside) == (
        "emergency crew COMMITTED Alpha 3, NOT AT DOOR Alpha 4"
    )
    seventh = replace(quiet.wearers[6], phase=Phase.CHECKED_IN)
    eighth = replace(quiet.wearers[7], phase=Phase.ON_AIR)
    one = replace(inside, wearers=(*quiet.wearers[:6], seventh, quiet.wearers[7]))
    assert order_words.emergency_words(one) == (
        "emergency crew READY Alpha 4 1 of 2, COMMITTED Alpha 3"
    )
    both = replace(inside, wearers=(*quiet.wearers[:6], seventh, eighth))
    assert order_words.emergency_words(both) == ("emergency crew READY Alpha 4, COMMITTED Alpha 3")


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({}, "ok"),
        ({"coming_out_ns": 18 * S}, "COMING OUT"),
        ({"committed": True}, "COMMITTED"),
        ({"committed": True, "coming_out_ns": 18 * S}, "COMING OUT"),
        ({"committed": True, "phase": Phase.CHECKED_IN, "state": "checked in"}, "COMMITTED"),
        ({"committed": True, "phase": Phase.OUT, "state": "out"}, "out"),
        ({"coming_out_ns": S, "phase": Phase.OUT, "state": "out"}, "out"),
        ({"coming_out_ns": S, "state": "no signal"}, "no signal"),
        ({"coming_out_ns": S, "state": "LOW AIR", "priority": Priority.DANGER}, "LOW AIR"),
        ({"committed": True, "state": "crew alarm", "crew_alarm": True}, "crew alarm"),
    ],
)
def test_what_is_not_well_goes_before_where_somebody_goes(
    scenes: Any, changes: dict[str, Any], words: str
) -> None:
    wearer = scenes.wearer(5, **changes)
    assert order_words.row_state(wearer) == words
    since_s = 18 if words == "COMING OUT" else 300
    assert order_words.state_for_ns(wearer) == since_s * S
