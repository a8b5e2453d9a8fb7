"""What the officer does with orders: whom they cover, how they end, what is refused."""

from typing import TYPE_CHECKING

import pytest
from pydantic import ValidationError

from monitor.incident import events
from monitor.incident.orders.book import ORDERS_MAX
from monitor.incident.orders.events import GiveOrder

if TYPE_CHECKING:
    from tests.monitor.incident.orders.conftest import Orders

S = 1_000_000_000
GIVE = {"id": "act-00001", "by": "R. Harrow", "order": "evacuate", "scope": "everybody"}


@pytest.mark.parametrize("whom", [{}, {"everybody": True, "wearers": (1,)}])
def test_empty_never_means_all_and_all_never_means_some(whom: dict[str, object]) -> None:
    with pytest.raises(ValidationError, match="either everybody, or wearers"):
        GiveOrder.model_validate(GIVE | whom)


def test_an_evacuation_of_everybody_lists_all_under_air_telemetry_or_not(orders: "Orders") -> None:
    orders.go_in(1, 2)
    orders.story.list_and_join(3, None, crew="Alpha 2")
    orders.story.connect(3)
    orders.story.list_and_join(4, 104, crew="Alpha 2")
    assert orders.give() is None
    view = orders.view()
    assert [line.wearer for line in view.lines] == [1, 2, 3]
    assert [line.telemetry for line in view.lines] == [True, True, False]
    assert (view.of, view.answered, view.out, view.state) == (3, 0, 0, "open")
    assert view.say == "Evacuate, evacuate, evacuate. Everybody: come out now. Acknowledge."


def test_who_stands_at_the_door_is_out_of_it_at_once(orders: "Orders") -> None:
    orders.go_in(1, 2)
    orders.out(2)
    orders.give()
    assert (orders.line(2).out_ns, orders.line(1).out_ns) == (0, None)
    assert set(orders.sending()) == {101}


@pytest.mark.parametrize(
    ("order", "whom", "covered"),
    [("evacuate", (), [1, 2]), ("evacuate", (1, 2), [1]), ("come out", (), [1])],
)
def test_at_the_door_one_is_covered_by_the_evacuation_of_everybody_alone(
    orders: "Orders", order: str, whom: tuple[int, ...], covered: list[int]
) -> None:
    orders.go_in(1, 2)
    orders.out(2)
    assert orders.give(order, *whom) is None
    assert [line.wearer for line in orders.view().lines] == covered


def test_a_selected_order_covers_those_named_and_inside(orders: "Orders") -> None:
    orders.go_in(1, 2, 3)
    orders.out(2)
    assert orders.give("evacuate", 1, 2, scope="crew Alpha 1") is None
    assert [line.wearer for line in orders.view().lines] == [1]
    assert set(orders.sending()) == {101}


def test_an_order_to_nobody_is_refused(orders: "Orders") -> None:
    assert orders.give() == "Nobody is under air."
    orders.go_in(1)
    orders.out(1)
    assert orders.give() == "Nobody is under air."
    assert orders.give("come out", 1) == "Nobody of these is inside."
    assert orders.give("evacuate", 7) == "There is no wearer 7 on the board."
    assert orders.story.picture().orders == ()


def test_by_whose_order_it_was_given_elsewhere(orders: "Orders") -> None:
    orders.go_in(1)
    orders.give("come out", 1, scope="Alpha 1", reason="gauge faulty", on_order_of="sector B")
    view = orders.view()
    assert (view.by, view.on_order_of, view.reason) == ("R. Harrow", "sector B", "gauge faulty")
    assert view.say == "Alpha 1: come out. Acknowledge."


def test_answers_by_voice_are_told_apart_and_refused_twice(orders: "Orders") -> None:
    orders.go_in(1, 2)
    orders.give("evacuate", 1)
    orders.story.incident.advance(orders.story.now + 9 * S)
    assert orders.voice(1) is None
    assert (orders.line().voice_ns, orders.line().acknowledged_ns) == (9 * S, None)
    assert orders.voice(1) == "Alpha 1 has answered already."
    assert orders.voice(2) == "Alpha 2 is not covered by order 1."
    assert orders.voice(1, order=2) == "There is no open order 2."


def test_all_answered_and_all_out_are_two_states(orders: "Orders") -> None:
    orders.go_in(1, 2)
    orders.give()
    orders.voice(1, 2)
    assert (orders.view().state, orders.view().is_open) == ("all answered", True)
    orders.out(1)
    assert (orders.view().state, orders.view().out) == ("all answered", 1)
    orders.story.incident.advance(orders.story.now + 401 * S)
    orders.out(2)
    assert (orders.view().state, orders.view().is_open) == ("all out", False)
    assert orders.view().for_ns == 401 * S


def test_all_out_though_nobody_answered(orders: "Orders") -> None:
    orders.go_in(1)
    orders.give()
    orders.out(1)
    assert (orders.view().state, orders.view().answered) == ("all out", 0)


def test_with_somebody_in_it_closes_only_by_a_written_override(orders: "Orders") -> None:
    orders.go_in(1, 2)
    orders.give()
    orders.voice(1, 2)
    orders.out(2)
    for nothing in ("", "   "):
        assert orders.close(override=nothing) == "Not out: Alpha 1. Closing now needs a reason."
    assert orders.view().is_open
    assert orders.close(override="false alarm, all told by voice") is None
    view = orders.view()
    assert (view.state, view.override) == ("closed", "false alarm, all told by voice")
    assert orders.close() == "There is no open order 1."
    assert orders.sending() == {}


def test_a_roll_call_is_over_when_answered_not_when_all_are_out(orders: "Orders") -> None:
    orders.go_in(1, 2)
    orders.give("roll call")
    orders.out(1, 2)
    view = orders.view()
    assert (view.state, view.is_open, view.by_voice) == ("open", True, 0)
    orders.voice(1)
    assert (orders.view().by_voice, orders.view().answered) == (1, 1)
    orders.story.hear(orders.story.now, 102, order_received=1, order_acknowledged=1)
    view = orders.view()
    assert (view.by_voice, view.answered, view.state) == (1, 2, "all answered")


def test_a_roll_call_closes_when_all_have_answered(orders: "Orders") -> None:
    orders.go_in(1, 2, 3)
    assert orders.give("roll call") is None
    assert orders.voice(1, 3) is None
    view = orders.view()
    assert [(c.crew, c.answered, c.of) for c in view.crews] == [
        ("Alpha 1", 1, 2),
        ("Alpha 2", 1, 1),
    ]
    assert view.lines[0].wearer == 2
    assert orders.close() == "Not answered: Alpha 2. Closing now needs a reason."
    orders.voice(2)
    assert (orders.view().state, orders.view().is_open) == ("all answered", False)


def test_a_roll_call_after_an_evacuation_counts_those_it_brought_out(orders: "Orders") -> None:
    orders.go_in(1, 2)
    orders.give()
    orders.out(1, 2)
    orders.story.act(orders.story.now, events.OffAir, wearers=(1, 2))
    orders.go_in(3)
    orders.give("roll call")
    assert [line.wearer for line in orders.view(2).lines] == [1, 2, 3]
    orders.voice(1, 2, 3, order=2)
    orders.give("roll call")
    assert [line.wearer for line in orders.view(3).lines] == [3]


def test_an_incident_does_not_close_over_a_roll_call_with_somebody_missing(
    orders: "Orders",
) -> None:
    orders.go_in(1, 2)
    orders.give()
    orders.out(1, 2)
    orders.story.act(orders.story.now, events.OffAir, wearers=(1, 2))
    orders.give("roll call")
    orders.voice(1, order=2)
    why = "The roll call waits for Alpha 2. Closing now needs a reason."
    assert orders.story.act(orders.story.now, events.Close) == why
    assert orders.story.act(orders.story.now, events.Close, override="found at home") is None


def test_orders_have_an_end(orders: "Orders") -> None:
    orders.go_in(1)
    for number in range(1, ORDERS_MAX + 1):
        assert orders.give("test") is None
        orders.voice(1, order=number)
    assert orders.give("test") == "1000 orders are all there can be. Use voice."


# ---------------------------------------------------------------- emergency crews


def test_an_emergency_crew_is_ready_committed_and_stood_down(orders: "Orders") -> None:
    orders.go_in(1, 2)
    assert orders.emergency("Alpha 9", "ready") == "There is no crew Alpha 9 on the board."
    assert orders.emergency("Alpha 1", "stood down") == "Alpha 1 is no emergency crew."
    assert orders.emergency("Alpha 1", "ready") is None
    assert orders.emergency("Alpha 1", "ready") == "Alpha 1 is ready already."
    (crew,) = orders.story.picture().emergency
    assert (crew.crew, crew.state, crew.wearers) == ("Alpha 1", "ready", (1, 2))
    assert not orders.story.line(1).committed
    assert orders.emergency("Alpha 1", "committed") is None
    assert orders.story.line(1).committed
    assert orders.emergency("Alpha 1", "stood down") is None
    assert orders.story.picture().emergency == ()


def test_a_crew_committed_after_the_order_is_left_out_of_it(orders: "Orders") -> None:
    orders.go_in(1, 2, 3, 4)
    orders.give()
    orders.emergency("Alpha 2", "committed")
    view = orders.view()
    assert (view.of, view.committed) == (2, 2)
    assert [line.wearer for line in view.lines if line.committed] == [3, 4]
    assert set(orders.sending()) == {101, 102}
    orders.out(1, 2)
    assert orders.view().state == "all out"


def test_one_committed_before_it_is_told_to_come_out_like_all(orders: "Orders") -> None:
    orders.go_in(1, 2)
    orders.emergency("Alpha 1", "committed")
    orders.give()
    assert (orders.view().of, orders.view().committed) == (2, 0)


def test_a_committed_crew_is_none_once_the_last_of_it_has_come_out(orders: "Orders") -> None:
    """Else the page for the next officer names people as committed who are out and off air."""
    orders.go_in(1, 2)
    orders.emergency("Alpha 1", "committed")
    orders.out(1)
    (crew,) = orders.story.picture().emergency
    assert crew.state == "committed"
    orders.out(2)
    assert orders.story.picture().emergency == ()
    assert orders.emergency("Alpha 1", "stood down") == "Alpha 1 is no emergency crew."


def test_how_many_a_roll_call_would_ask_is_known_before_it_is_given(orders: "Orders") -> None:
    orders.go_in(1, 2, 3)
    orders.give()
    orders.out(1, 2, 3)
    picture = orders.story.picture()
    assert picture.to_account_for == 3
    orders.give("roll call")
    assert len(orders.view(2).lines) == picture.to_account_for


def test_stood_down_inside_they_are_covered_again(orders: "Orders") -> None:
    orders.go_in(1, 2, 3)
    orders.give()
    orders.emergency("Alpha 2", "committed")
    orders.emergency("Alpha 2", "stood down")
    assert orders.view().of == 3
    assert set(orders.sending()) == {101, 102, 103}


def test_the_order_a_committed_crew_has_been_brought_out_of_stays_as_it_was(
    orders: "Orders",
) -> None:
    orders.go_in(1, 2, 3)
    orders.give("roll call")
    orders.give()
    orders.out(3)
    orders.emergency("Alpha 2", "committed")
    assert (orders.view(2).of, orders.view(2).committed, orders.view(2).out) == (3, 0, 1)
    assert (orders.view(1).of, orders.view(1).committed) == (3, 0)
