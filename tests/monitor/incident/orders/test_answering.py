"""What packs say of orders becomes what the list shows: four facts, each with its time."""

from typing import TYPE_CHECKING

import pytest

from monitor.incident import events
from monitor.incident.rows import Standing
from protocol.packets import OrderKind, ReceiptKind

if TYPE_CHECKING:
    from tests.monitor.incident.orders.conftest import Orders

S = 1_000_000_000
RECEIVED, ACKNOWLEDGED = ReceiptKind.RECEIVED, ReceiptKind.ACKNOWLEDGED
COMING_OUT = ReceiptKind.COMING_OUT


def later(orders: "Orders", seconds: int) -> int:
    orders.story.incident.advance(orders.story.now + seconds * S)
    return orders.story.now


def test_receipts_say_it_first_and_reports_say_it_again(orders: "Orders") -> None:
    orders.go_in(1)
    orders.give()
    later(orders, 2)
    orders.receipt(1, RECEIVED)
    orders.story.hear(later(orders, 1), order_received=1)
    orders.receipt(1, ACKNOWLEDGED)
    orders.story.hear(later(orders, 1), order_received=1, order_acknowledged=1)
    line = orders.line()
    assert (line.received_ns, line.acknowledged_ns, line.voice_ns) == (2 * S, 3 * S, None)
    assert (orders.view().received, orders.view().acknowledged, orders.view().answered) == (1, 1, 1)


def test_one_report_is_enough(orders: "Orders") -> None:
    orders.go_in(1)
    orders.give()
    orders.story.hear(later(orders, 7), order_received=1, order_acknowledged=1)
    assert (orders.line().received_ns, orders.line().acknowledged_ns) == (7 * S, 7 * S)


def test_an_acknowledgement_alone_says_that_it_was_received(orders: "Orders") -> None:
    orders.go_in(1)
    orders.give()
    later(orders, 4)
    orders.receipt(1, ACKNOWLEDGED)
    assert (orders.line().received_ns, orders.line().acknowledged_ns) == (4 * S, 4 * S)


def test_a_late_receipt_still_counts(orders: "Orders") -> None:
    orders.go_in(1)
    orders.give()
    orders.story.hear(orders.story.now, sequence=50)
    orders.story.hear_receipt(later(orders, 3), 101, ACKNOWLEDGED, 1, sequence=49)
    assert orders.line().acknowledged_ns == 3 * S


@pytest.mark.parametrize("standing", [s for s in Standing if s is not Standing.LIVE])
def test_what_does_not_count_as_heard_answers_nothing(orders: "Orders", standing: Standing) -> None:
    orders.go_in(1)
    orders.give()
    orders.story.hear_receipt(later(orders, 1), 101, ACKNOWLEDGED, 1, standing=standing)
    orders.story.hear(orders.story.now, 101, standing, order_received=1, order_acknowledged=1)
    assert (orders.line().received_ns, orders.line().acknowledged_ns) == (None, None)


def test_another_boots_receipt_answers_nothing(orders: "Orders") -> None:
    orders.go_in(1)
    orders.give()
    orders.story.hear_receipt(orders.story.now, 101, ACKNOWLEDGED, 1, sequence=90, boot=2)
    assert orders.line().acknowledged_ns is None


@pytest.mark.parametrize("answer", [RECEIVED, ACKNOWLEDGED])
def test_a_number_that_was_not_given_answers_nothing(orders: "Orders", answer: ReceiptKind) -> None:
    orders.go_in(1, 2)
    orders.give("test", 1)
    orders.receipt(1, answer, 2)
    orders.receipt(2, answer, 1)
    assert (orders.view().received, orders.view().acknowledged) == (0, 0)


def test_the_list_has_those_on_top_who_have_not_answered(orders: "Orders") -> None:
    orders.go_in(1, 2, 3, 4)
    orders.give()
    orders.receipt(1, ACKNOWLEDGED)
    orders.voice(2)
    orders.out(2)
    assert [line.wearer for line in orders.view().lines] == [3, 4, 1, 2]
    assert [line.unanswered for line in orders.view().lines] == [True, True, False, False]
    beside = orders.line(3)
    assert (beside.motion, beside.location) == ("moving", "floor 2")
    assert beside.air.pressure_bar == 290


# ---------------------------------------------------------------- coming out


def test_coming_out_is_shown_and_starts_the_way_back(orders: "Orders") -> None:
    orders.go_in(1)
    orders.story.hear(later(orders, 5), coming_out=True)
    line = orders.story.line(t=orders.story.now + 3 * S)
    assert (line.coming_out_ns, line.back_ns) == (3 * S, 3 * S)


def test_coming_out_by_receipt_is_confirmed_until_the_pack_has_it(orders: "Orders") -> None:
    orders.go_in(1)
    orders.receipt(1, COMING_OUT, 0)
    assert orders.story.line().coming_out_ns == 0
    one = orders.sending()[101]
    assert (one.what, one.number, one.order) == (OrderKind.COMING_OUT_CONFIRMED, 1, 0)
    orders.story.hear(orders.story.now, coming_out=True, order_received=1)
    assert orders.sending() == {}
    orders.story.hear(orders.story.now, coming_out=True, order_received=1)
    assert orders.sending() == {}


def test_coming_out_is_confirmed_only_while_a_board_shows_it(orders: "Orders") -> None:
    orders.go_in(1)
    orders.story.do(orders.story.now, events.BoardsAlive(alive=False))
    orders.story.hear(orders.story.now, coming_out=True)
    assert orders.sending() == {}
    orders.story.do(orders.story.now, events.BoardsAlive(alive=True))
    assert orders.sending()[101].what is OrderKind.COMING_OUT_CONFIRMED


def test_a_way_back_that_was_noted_before_keeps_its_time(orders: "Orders") -> None:
    orders.go_in(1)
    orders.story.act(orders.story.now, events.StartBack, wearers=(1,))
    orders.story.hear(later(orders, 5), coming_out=True)
    assert (orders.story.line().back_ns, orders.story.line().coming_out_ns) == (5 * S, 0)


def test_sent_on_they_are_not_coming_out_any_more(orders: "Orders") -> None:
    orders.go_in(1)
    orders.story.hear(later(orders, 5), coming_out=True)
    orders.story.act(later(orders, 5), events.NewObjective, wearers=(1,))
    assert (orders.story.line().coming_out_ns, orders.story.line().back_ns) == (None, None)
    orders.story.hear(later(orders, 5), coming_out=True)
    assert orders.story.line().back_ns is None, "the button was pressed before"
    orders.story.hear(later(orders, 5), coming_out=False)
    orders.story.hear(later(orders, 5), coming_out=True)
    assert (orders.story.line().back_ns, orders.story.line().coming_out_ns) == (0, 0)


def test_a_button_pressed_at_the_door_starts_no_way_back(orders: "Orders") -> None:
    orders.story.list_and_join(1)
    orders.story.connect(1)
    orders.story.hear(orders.story.now, coming_out=True)
    assert (orders.story.line().back_ns, orders.story.line().coming_out_ns) == (None, None)


# ---------------------------------------------------------------- distress


def test_a_distress_is_confirmed_once_the_officer_has_taken_it(orders: "Orders") -> None:
    """BS 8608:2014 clause 5 (e): back to the initiating unit, and to that one only."""
    orders.go_in(1, 2)
    orders.story.hear(orders.story.now, distress=True)
    assert orders.sending() == {}
    orders.story.take("distress")
    ((pack, one),) = orders.sending().items()
    assert (pack, one.what) == (101, OrderKind.DISTRESS_CONFIRMED)
    orders.receipt(1, RECEIVED, one.number)
    assert orders.sending() == {}
    orders.story.act(orders.story.now, events.Note, text="nothing to do with it")
    assert orders.sending() == {}


def test_a_distress_that_comes_again_is_confirmed_again(orders: "Orders") -> None:
    orders.go_in(1)
    orders.story.hear(orders.story.now, distress=True)
    orders.story.take("distress")
    orders.receipt(1, RECEIVED, 1)
    orders.story.hear(orders.story.now, distress=False, order_received=1)
    orders.story.hear(later(orders, 5), distress=True, order_received=1)
    orders.story.take("distress")
    assert orders.sending()[101].number == 2


def test_the_distress_of_a_pack_that_nobody_has_is_confirmed_too(orders: "Orders") -> None:
    orders.story.hear(1 * S, 150, distress=True)
    orders.story.take("distress")
    assert orders.sending()[150].what is OrderKind.DISTRESS_CONFIRMED


def test_another_set_is_told_nothing_of_a_distress_it_did_not_send(orders: "Orders") -> None:
    orders.go_in(1)
    orders.story.hear(orders.story.now, distress=True)
    orders.story.act(orders.story.now, events.JoinPack, wearer=1, pack=109)
    orders.story.hear(orders.story.now, 109)
    for alarm in orders.story.picture().alarms:
        if alarm.kind == "distress":
            orders.story.act(orders.story.now, events.Acknowledge, alarms=(alarm.number,))
    assert set(orders.sending()) == {101}
