"""What goes to which pack, under which number, and until when."""

from typing import TYPE_CHECKING

import pytest

from monitor.incident import events
from monitor.incident.orders.book import NUMBERS_LOST_MAX
from monitor.incident.orders.events import OrdersSent, SentOrder
from protocol.packets import Kind, OrderKind, ReceiptKind

if TYPE_CHECKING:
    from tests.monitor.incident.orders.conftest import Orders

S = 1_000_000_000
RECEIVED, ACKNOWLEDGED = ReceiptKind.RECEIVED, ReceiptKind.ACKNOWLEDGED


def going(orders: "Orders", wearer: int = 1) -> tuple[OrderKind, int, bool] | None:
    one = orders.sending().get(100 + wearer)
    return None if one is None else (one.what, one.number, one.received)


def test_until_received_then_until_acknowledged(orders: "Orders") -> None:
    orders.go_in(1)
    orders.give()
    assert going(orders) == (OrderKind.EVACUATE, 1, False)
    orders.receipt(1, RECEIVED)
    assert going(orders) == (OrderKind.EVACUATE, 1, True)
    orders.receipt(1, ACKNOWLEDGED)
    assert going(orders) is None


def test_it_names_the_newest_frame_heard(orders: "Orders") -> None:
    orders.go_in(1)
    orders.give()
    orders.story.hear(orders.story.now, sequence=40)
    one = orders.sending()[101]
    assert (one.boot, one.sequence, one.epoch, one.keyed, one.order) == (1, 40, 1, True, 1)


def test_nothing_to_a_pack_that_could_not_take_it(orders: "Orders") -> None:
    """A pack refuses an order that names a frame sent over 60 s ago."""
    orders.go_in(1)
    orders.give()
    heard_ns = orders.story.now
    orders.story.incident.advance(heard_ns + 60 * S)
    assert going(orders) is not None
    orders.story.incident.advance(heard_ns + 60 * S + 1)
    assert going(orders) is None
    orders.story.hear(orders.story.now)
    assert going(orders) == (OrderKind.EVACUATE, 1, False)
    orders.story.hear(orders.story.now, kind=Kind.SIGN_OFF)
    assert going(orders) is None


def test_an_answer_by_voice_ends_the_asking_but_not_the_telling(orders: "Orders") -> None:
    orders.go_in(1)
    orders.give()
    orders.voice(1)
    assert going(orders) == (OrderKind.EVACUATE, 1, False)
    orders.receipt(1, RECEIVED)
    assert going(orders) is None


def test_who_is_out_is_told_no_more(orders: "Orders") -> None:
    orders.go_in(1, 2)
    orders.give()
    orders.out(1)
    assert going(orders, 1) is None
    assert going(orders, 2) is not None


def test_a_pack_that_starts_anew_is_told_anew_under_the_same_number(orders: "Orders") -> None:
    orders.go_in(1)
    orders.give()
    orders.receipt(1, RECEIVED)
    orders.story.hear(orders.story.now, boot=2, sequence=1)
    assert going(orders) == (OrderKind.EVACUATE, 1, False)


def test_one_that_starts_anew_after_the_answer_is_left_in_peace(orders: "Orders") -> None:
    orders.go_in(1)
    orders.give()
    orders.receipt(1, ACKNOWLEDGED)
    orders.story.hear(orders.story.now, boot=2, sequence=1)
    assert going(orders) is None


def test_the_number_lies_above_all_the_pack_has_received(orders: "Orders") -> None:
    orders.go_in(1, 2)
    orders.story.hear(orders.story.now, 101, order_received=499)
    orders.give()
    assert going(orders, 1) == (OrderKind.EVACUATE, 500, False)
    assert going(orders, 2) == (OrderKind.EVACUATE, 1, False)


def test_a_pack_first_heard_after_the_order_gets_a_number_it_will_take(orders: "Orders") -> None:
    orders.story.list_and_join(1, 101)
    orders.story.connect(1)
    orders.give()
    assert going(orders) is None
    orders.story.hear(orders.story.now, order_received=1, order_acknowledged=1)
    assert going(orders) == (OrderKind.EVACUATE, 2, False)
    assert orders.line().received_ns is None


def test_numbers_of_one_base_that_another_overtook(orders: "Orders") -> None:
    orders.go_in(1)
    orders.give()
    orders.story.hear(orders.story.now, order_received=7)
    assert going(orders) == (OrderKind.EVACUATE, 8, False)


def test_no_number_is_left(orders: "Orders") -> None:
    orders.go_in(1)
    orders.story.hear(orders.story.now, order_received=0xFFFF)
    orders.give()
    assert going(orders) is None
    assert orders.view().of == 1


def test_the_most_urgent_first_and_a_lesser_one_once_that_is_answered(orders: "Orders") -> None:
    orders.go_in(1)
    orders.give("roll call", 1)
    orders.give("evacuate", 1)
    assert going(orders) == (OrderKind.EVACUATE, 2, False)
    orders.receipt(1, RECEIVED, 2)
    assert going(orders) == (OrderKind.EVACUATE, 2, True)
    orders.receipt(1, ACKNOWLEDGED, 2)
    # 1 lies under what the pack has received now: it would be refused.
    assert going(orders) == (OrderKind.ROLL_CALL, 3, False)


def test_an_order_received_and_overtaken_before_the_answer_comes_again(orders: "Orders") -> None:
    orders.go_in(1)
    orders.give("test", 1)
    orders.receipt(1, RECEIVED, 1)
    orders.give("evacuate", 1)
    orders.receipt(1, RECEIVED, 2)
    orders.receipt(1, ACKNOWLEDGED, 2)
    assert going(orders) == (OrderKind.TEST, 3, False)


def test_of_two_evacuations_the_newer_goes_out_and_answers_for_the_older(orders: "Orders") -> None:
    orders.go_in(1, 2)
    orders.give("come out", 1)
    orders.give("evacuate", 1)
    orders.give("evacuate")
    assert going(orders) == (OrderKind.EVACUATE, 3, False)
    orders.receipt(1, RECEIVED, 3)
    orders.receipt(1, ACKNOWLEDGED, 3)
    assert going(orders) is None
    assert [orders.view(n).acknowledged for n in (1, 2, 3)] == [1, 1, 1]


@pytest.mark.parametrize("kind", [OrderKind.DISTRESS_CONFIRMED, OrderKind.COMING_OUT_CONFIRMED])
def test_a_confirmation_waits_only_until_the_evacuation_is_received(
    orders: "Orders", kind: OrderKind
) -> None:
    orders.go_in(1)
    orders.give()
    if kind is OrderKind.DISTRESS_CONFIRMED:
        orders.story.hear(orders.story.now, distress=True)
        orders.story.take("distress")
    else:
        orders.story.hear(orders.story.now, coming_out=True)
    assert going(orders) == (OrderKind.EVACUATE, 1, False)
    orders.receipt(1, RECEIVED)
    assert going(orders) == (kind, 2, False)
    orders.receipt(1, RECEIVED, 2)
    # The pack would refuse 1 now; it has it, and its button still answers 1.
    assert going(orders) is None
    orders.receipt(1, ACKNOWLEDGED, 1)
    assert orders.line().acknowledged_ns is not None


def test_a_new_session_never_uses_a_number_that_may_have_gone_out(orders: "Orders") -> None:
    orders.go_in(1, 2)
    orders.give("test", 1)
    away = events.Resumed(down_ns=0, known_by="boot clock", wall_ns=0)
    orders.story.do(orders.story.now, away)
    assert going(orders) == (OrderKind.TEST, 1, False), "what is in the journal keeps its number"
    orders.give()
    assert going(orders, 1) == (OrderKind.EVACUATE, 2 + NUMBERS_LOST_MAX, False)
    assert going(orders, 2) == (OrderKind.EVACUATE, 1 + NUMBERS_LOST_MAX, False)


def test_copies_sent_are_counted(orders: "Orders") -> None:
    orders.go_in(1)
    orders.give()
    given_ns = orders.story.now
    for after_ns in (0, 2 * S):
        sent = OrdersSent(sent=(SentOrder(1, 101, 1), SentOrder(9, 101, 1), SentOrder(1, 999, 1)))
        orders.story.do(given_ns + after_ns, sent)
    assert (orders.line().copies, orders.line().sent_ns) == (2, 0)


def test_another_pack_in_the_middle_of_it(orders: "Orders") -> None:
    orders.go_in(1)
    orders.give()
    orders.receipt(1, RECEIVED)
    orders.story.act(orders.story.now, events.JoinPack, wearer=1, pack=109)
    assert going(orders, 1) is None
    orders.story.hear(orders.story.now, 109)
    assert going(orders, 9) == (OrderKind.EVACUATE, 1, False)


def test_a_closed_incident_sends_nothing(orders: "Orders") -> None:
    orders.go_in(1)
    orders.give()
    orders.story.act(orders.story.now, events.Close, override="handed over")
    assert orders.sending() == {}
