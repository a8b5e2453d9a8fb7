"""What goes to which pack, under which number, and until when."""

from typing import TYPE_CHECKING

import pytest

from monitor.incident import events
from monitor.incident.orders.book import NUMBERS_LOST_MAX
from monitor.incident.orders.events import OrdersSent, SentOrder
from monitor.incident.rows import Standing
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
    assert one.reach == (orders.story.now, 1, 40, 1, True)
    assert one.order == 1


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


@pytest.mark.parametrize("order", ["roll call", "test"])
def test_nobody_is_asked_the_same_twice(orders: "Orders", order: str) -> None:
    """Found from a seed: the older of two roll calls came again once the newer was answered."""
    orders.go_in(1)
    orders.give(order, 1)
    orders.receipt(1, RECEIVED, 1)
    orders.give(order, 1)
    orders.receipt(1, ACKNOWLEDGED, 2)
    assert going(orders) is None
    assert [orders.view(n).state for n in (1, 2)] == ["all answered"] * 2


# ---------------------------------------------------------------- packs that prove nothing yet


@pytest.mark.parametrize("standing", [Standing.NOT_PROVEN, Standing.HELD])
def test_a_pack_that_has_only_just_started_is_told_all_the_same(
    orders: "Orders", standing: Standing
) -> None:
    """Found from a seed: after a new start an order waited for the proof, up to 10 s."""
    orders.go_in(1)
    orders.story.hear(orders.story.now + S, 101, standing, boot=2, sequence=1)
    orders.give()
    assert orders.sending()[101].reach == (orders.story.now, 2, 1, 1, True)
    assert going(orders) == (OrderKind.EVACUATE, 1, False)


def test_one_never_proven_gets_a_number_above_what_it_says(orders: "Orders") -> None:
    orders.story.list_and_join(1, 101)
    orders.story.connect(1)
    orders.story.hear(S, 101, Standing.NOT_PROVEN, order_received=41)
    orders.give()
    assert going(orders) == (OrderKind.EVACUATE, 42, False)


def test_what_it_had_received_before_the_new_start_is_told_fast_again(orders: "Orders") -> None:
    orders.go_in(1)
    orders.give()
    orders.receipt(1, RECEIVED)
    orders.story.hear(orders.story.now + S, 101, Standing.NOT_PROVEN, boot=2, sequence=1)
    assert going(orders) == (OrderKind.EVACUATE, 1, False)


def test_a_new_start_has_received_nothing_whatever_the_old_boot_had(orders: "Orders") -> None:
    """Found from a seed: a confirmation overtook the evacuation, which then came twice."""
    orders.go_in(1)
    orders.story.hear(orders.story.now, distress=True)
    orders.give()
    orders.receipt(1, RECEIVED)
    orders.story.hear(orders.story.now + S, 101, Standing.NOT_PROVEN, boot=2, sequence=1)
    orders.story.take("distress")
    assert going(orders) == (OrderKind.EVACUATE, 1, False)
    orders.story.hear(orders.story.now, boot=2, sequence=2, distress=True, order_received=1)
    assert going(orders) == (OrderKind.DISTRESS_CONFIRMED, 2, False)


def test_the_frame_heard_last_is_named_whatever_its_numbers(orders: "Orders") -> None:
    orders.go_in(1)
    orders.give()
    orders.story.hear(orders.story.now + S, 101, Standing.NOT_PROVEN, boot=2, sequence=1)
    orders.story.hear(orders.story.now + S, 101, boot=1, sequence=60)
    assert orders.sending()[101].reach[1:3] == (1, 60)


@pytest.mark.parametrize("standing", [Standing.OLD, Standing.UNPROVEN_DISTRESS])
def test_frames_that_nobody_vouches_for_reach_nobody(orders: "Orders", standing: Standing) -> None:
    orders.story.list_and_join(1, 101)
    orders.story.connect(1)
    orders.story.hear(S, 101, standing)
    orders.give()
    assert going(orders) is None


@pytest.mark.parametrize("order", ["roll call", "test"])
def test_a_voice_that_answers_is_enough_where_nobody_need_come_out(
    orders: "Orders", order: str
) -> None:
    orders.go_in(1, 2)
    orders.give(order)
    orders.voice(1)
    assert going(orders) is None
