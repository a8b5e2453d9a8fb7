"""Orders in a report: evacuations, coming out, roll calls, tests, emergency crews."""

from collections.abc import Iterator

from monitor.incident.picture import OrderLineView, OrderView
from monitor.report import words
from monitor.report.blocks import Block, Facts, Heading, Row, Section, Table, Text
from monitor.report.teller import NONE, Teller

ANSWERS = (
    "sent", "received by the pack", "acknowledged", "answered by voice", "started back", "out",
)  # fmt: skip
"""Facts apart from one another, each with its time."""
TITLES = {
    "evacuate": "Evacuations",
    "come out": "Orders to come out",
    "roll call": "Roll calls",
    "test": "Tests of reach",
}


def orders(teller: Teller) -> Section:
    """Every order with every answer to it."""
    return Section("orders", "Evacuations, roll calls and other orders", _orders(teller))


def _orders(teller: Teller) -> Iterator[Block]:
    yield Text(
        "That the pack has received an order, that the wearer has acknowledged it, that somebody"
        " has answered by voice, and that they are out are four facts. None stands for another."
    )
    for kind, title in TITLES.items():
        of_kind = [order for order in teller.found.orders if order.order == kind]
        yield Heading(title)
        if not of_kind:
            yield Text("None was given.")
        for order in of_kind:
            yield from _one(teller, order)
    yield Heading("Emergency crews")
    yield Table(
        "Emergency crews",
        ("time", "crew", "state", "by"),
        ((teller.at(t), act.crew, act.state, act.by) for t, act in teller.found.emergency),
        "none was named",
    )


def _one(teller: Teller, order: OrderView) -> Iterator[Block]:
    yield Facts(f"Order {order.number}: {order.order}, {order.scope}", tuple(_facts(teller, order)))
    yield Table(
        f"Answers to order {order.number}",
        ("wearer", "crew", *ANSWERS, "remark"),
        (_answer_row(teller, order, line) for line in order.lines),
        "it covered nobody",
    )


def _facts(teller: Teller, order: OrderView) -> Iterator[Row]:
    yield "given", f"{teller.at(order.given_at_ns)} by {order.by}"
    if order.on_order_of:
        yield "on the order of", order.on_order_of
    if order.reason:
        yield "reason", order.reason
    yield "words to be said", order.say
    yield "received by the pack", _received(order)
    yield "answered", f"{order.answered} of {order.of}: {_how(order)}"
    yield "out", f"{order.out} of {order.of}"
    if order.committed:
        sent_in = words.counted(order.committed, "wearer")
        yield "left out of it", f"{sent_in} sent in as emergency crew"
    if order.is_open:
        yield "state", f"{order.state}; open where the record ends"
    else:
        ended = teller.at(order.given_at_ns + order.for_ns)
        yield "state", f"{order.state}; closed {ended}, after {words.span(order.for_ns)}"
    if order.override:
        yield "closed without everybody because", order.override


def _received(order: OrderView) -> str:
    """Of those who have one: nothing is missing where there is no pack."""
    packs = sum(line.telemetry and not line.committed for line in order.lines)
    without = order.of - packs
    if without <= 0:
        return f"{order.received} of {order.of}"
    return f"{order.received} of {packs} with a pack; {words.counted(without, 'other')} without"


def _how(order: OrderView) -> str:
    return f"{order.acknowledged} by button, {order.by_voice} by voice"


def _answer_row(teller: Teller, order: OrderView, line: OrderLineView) -> Row:
    remarks = [
        word
        for word, holds in (
            ("NOT ANSWERED", line.unanswered),
            ("keeps it open", line.waits and not line.unanswered),
            ("sent in as emergency crew", line.committed),
            ("went in while it stood", line.late),
            ("no telemetry", not line.telemetry),
        )
        if holds
    ]
    who = f"{line.name} ({line.wearer})"
    return who, line.crew, *answers(teller, order, line), ", ".join(remarks) or NONE


def answers(teller: Teller, order: OrderView, line: OrderLineView) -> Row:
    """Each step with its time and how long after the order it came."""
    steps = (
        line.sent_ns, line.received_ns, line.acknowledged_ns, line.voice_ns, line.back_ns,
        line.out_ns,
    )  # fmt: skip
    told = [
        "no" if after is None
        else f"{teller.at(order.given_at_ns + after)}, after {words.seconds_up(after)}"
        for after in steps
    ]  # fmt: skip
    if line.copies > 1:
        told[0] += f", first of {line.copies} copies"
    return tuple(told)
