"""What a display gets of orders: which of them, in which order, and for how long."""

from typing import TYPE_CHECKING

from monitor.incident.orders.view import SHOWN_AFTER_NS

if TYPE_CHECKING:
    from tests.monitor.incident.orders.conftest import Orders

S = 1_000_000_000


def shown(orders: "Orders", t: int | None = None) -> list[int]:
    return [order.number for order in orders.story.picture(t).orders]


def test_open_ones_by_urgency_then_the_closed(orders: "Orders") -> None:
    orders.go_in(1, 2, 3)
    orders.give("test", 3)
    orders.give("roll call", 1)
    orders.give("evacuate", 1)
    orders.give("evacuate", 2)
    assert shown(orders) == [4, 3, 2, 1]
    orders.close(4, "told by voice")
    assert shown(orders) == [3, 2, 1, 4]


def test_a_closed_one_stays_for_ten_minutes(orders: "Orders") -> None:
    orders.go_in(1)
    orders.give("test", 1)
    orders.voice(1)
    t = orders.story.now
    assert shown(orders, t + SHOWN_AFTER_NS - 1) == [1]
    assert shown(orders, t + SHOWN_AFTER_NS) == []


def test_the_record_has_every_order_however_long_ago_it_was_closed(orders: "Orders") -> None:
    orders.go_in(1, 2)
    orders.give("test", 1)
    orders.voice(1)
    orders.story.incident.advance(orders.story.now + SHOWN_AFTER_NS)
    orders.give("come out", 2)
    every = orders.story.incident.every_order()
    assert [(order.number, order.is_open) for order in every] == [(1, False), (2, True)]
    assert shown(orders) == [2]


def test_times_count_from_the_giving(orders: "Orders") -> None:
    orders.go_in(1)
    orders.story.incident.advance(100 * S)
    orders.give()
    assert (orders.view().given_at_ns, orders.view().for_ns) == (100 * S, 0)
    orders.story.incident.advance(130 * S)
    assert orders.view().for_ns == 30 * S
    orders.out(1)
    orders.story.incident.advance(200 * S)
    assert (orders.view().for_ns, orders.line().out_ns) == (30 * S, 30 * S)


def test_who_was_on_the_way_before_started_out_at_once(orders: "Orders") -> None:
    orders.go_in(1)
    orders.story.hear(5 * S, coming_out=True)
    orders.story.incident.advance(100 * S)
    orders.give()
    assert orders.line().back_ns == 0


def test_those_without_a_crew_are_counted_together(orders: "Orders") -> None:
    orders.story.list_and_join(1, None, crew="")
    orders.story.list_and_join(2, None, crew="")
    orders.story.connect(1, 2)
    orders.give("roll call")
    orders.voice(2)
    assert [(c.crew, c.answered, c.of) for c in orders.view().crews] == [("", 1, 2)]
