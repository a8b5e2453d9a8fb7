"""Orders and emergency crews as a display shows them: those who have not answered on top."""

from typing import Literal

from monitor.incident import wording
from monitor.incident.orders.alarming import roll_due_ns
from monitor.incident.orders.order import Line, Order
from monitor.incident.picture import CrewCount, EmergencyView, OrderLineView, OrderView
from monitor.incident.situation import Situation
from monitor.incident.wearer_view import air_of

SHOWN_AFTER_NS = 600_000_000_000
"""A closed order stays in the picture for ten minutes."""
SHOWN_MAX = 20
"""Newest kept."""


def order_views(s: Situation) -> tuple[OrderView, ...]:
    """Open orders, most urgent first, then those closed a short while ago, newest first."""
    shown = [
        order
        for order in s.orders.orders.values()
        if order.closed_ns is None or s.now - order.closed_ns < SHOWN_AFTER_NS
    ]
    shown.sort(key=lambda o: (not o.is_open, o.rule.urgency if o.is_open else 0, -o.number))
    return tuple(_view(s, order) for order in shown[:SHOWN_MAX])


def every_order(s: Situation) -> tuple[OrderView, ...]:
    """All orders of the incident in the order of giving, however long ago they were closed."""
    return tuple(_view(s, order) for _, order in sorted(s.orders.orders.items()))


def copies_of(s: Situation, number: int) -> dict[int, tuple[int, ...]]:
    """When each copy of an order went to each wearer's pack, ns since it was given."""
    order = s.orders.orders[number]
    return {
        line.wearer: tuple(t - order.given_ns for t in line.copies_ns)
        for line in order.lines.values()
    }


def emergency_views(s: Situation) -> tuple[EmergencyView, ...]:
    """Crews that are ready or committed, by name."""
    return tuple(
        EmergencyView(
            crew=crew,
            state=emergency.state,
            wearers=tuple(w.number for _, w in sorted(s.wearers.items()) if w.crew == crew),
            for_ns=s.now - emergency.since_ns,
        )
        for crew, emergency in sorted(s.orders.emergency.items())
    )


def roll_call_in_ns(s: Situation) -> int | None:
    """How long until the roll is due, negative: so long ago; None: it is not going to be."""
    due = roll_due_ns(s)
    return None if due is None else due - s.now


# ---------------------------------------------------------------- one order


def _view(s: Situation, order: Order) -> OrderView:
    lines = sorted(order.lines.values(), key=lambda line: _place(order, line))
    asked = [line for line in lines if not line.committed]
    given = order.given
    return OrderView(
        number=order.number,
        order=given.order,
        say=order.rule.say.format(scope=given.scope[:1].upper() + given.scope[1:]),
        scope=given.scope,
        everybody=given.everybody,
        reason=given.reason,
        by=given.by,
        on_order_of=given.on_order_of,
        given_at_ns=order.given_ns,
        for_ns=(s.now if order.closed_ns is None else order.closed_ns) - order.given_ns,
        state=_state(order, asked),
        is_open=order.is_open,
        override=order.override,
        of=len(asked),
        received=sum(line.received_ns is not None for line in asked),
        acknowledged=sum(line.acknowledged_ns is not None for line in asked),
        by_voice=sum(line.voice_ns is not None for line in asked),
        answered=sum(line.answered_ns is not None for line in asked),
        out=sum(line.out_ns is not None for line in asked),
        committed=len(lines) - len(asked),
        lines=tuple(_line(s, order, line) for line in lines),
        crews=_crews(s, asked),
    )


def _state(order: Order, asked: list[Line]) -> Literal["open", "all answered", "all out", "closed"]:
    if order.override:
        return "closed"
    if order.rule.over == "out" and all(line.out_ns is not None for line in asked):
        return "all out"
    if not any(order.unanswered(line) for line in asked):
        return "all answered"
    return "open" if order.is_open else "closed"


def _place(order: Order, line: Line) -> tuple[int, int]:
    """Who has not answered on top, then who is not out, then the others; each by number."""
    if order.unanswered(line):
        rank = 0
    elif order.waits_for(line):
        rank = 1
    else:
        rank = 3 if line.committed else 2
    return rank, line.wearer


def _line(s: Situation, order: Order, line: Line) -> OrderLineView:
    wearer = s.wearers[line.wearer]
    contact = s.contact_of(wearer)
    wear = line.wear
    back_ns = wear.back_ns if wear else None
    return OrderLineView(
        wearer=wearer.number,
        name=wearer.label,
        crew=wearer.crew,
        waits=order.waits_for(line),
        unanswered=order.unanswered(line),
        committed=line.committed,
        late=line.late,
        sent_ns=_after(order, line.sent_ns),
        copies=line.copies,
        received_ns=_after(order, line.received_ns),
        acknowledged_ns=_after(order, line.acknowledged_ns),
        voice_ns=_after(order, line.voice_ns),
        back_ns=_after(order, back_ns),
        out_ns=_after(order, line.out_ns),
        telemetry=contact is not None,
        motion=wording.MOTION_WORDS[contact.motion()] if contact else "",
        air=air_of(s, wearer, contact),
        location=wearer.location,
        location_at_ns=wearer.location_ns,
    )


def _after(order: Order, t: int | None) -> int | None:
    """Since the order was given; what was so before it, from its beginning."""
    return None if t is None else max(0, t - order.given_ns)


def _crews(s: Situation, asked: list[Line]) -> tuple[CrewCount, ...]:
    found: dict[str, list[Line]] = {}
    for line in sorted(asked, key=lambda line: line.wearer):
        found.setdefault(s.wearers[line.wearer].crew, []).append(line)
    return tuple(
        CrewCount(crew, sum(line.answered_ns is not None for line in lines), len(lines))
        for crew, lines in found.items()
    )
