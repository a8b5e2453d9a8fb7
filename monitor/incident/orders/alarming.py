"""The alarms that hang on orders, and when they come.

| condition | alarm |
|---|---|
| an order stands unanswered for the procedure's time | order unanswered; a danger if evacuate |
| answered, and not out within the procedure's time | answered, not out; a danger if evacuate |
| went in while an evacuation of everybody stands | in against order |
| a roll call is due, by the clock or after an evacuation | roll call due, then overdue |
"""

from monitor.incident import wording
from monitor.incident.air.shown import SECOND_NS
from monitor.incident.alarms.catalogue import Kind
from monitor.incident.alarms.engine import Alarm, Key
from monitor.incident.deadlines import Due
from monitor.incident.orders.order import Line, Order
from monitor.incident.picture import Priority
from monitor.incident.situation import Situation
from monitor.incident.wearer import Wearer


def review_alarms(s: Situation) -> None:
    """Tell the engine everything that hangs on orders, and put in what comes next."""
    numbers = {n for order in s.orders.open() for n in order.lines} | s.orders.alarmed
    for number in sorted(numbers):
        review_wearer_orders(s, number)
    _review_roll(s)


def review_wearer_orders(s: Situation, wearer: int) -> None:
    """The same for one wearer."""
    unanswered = not_out = late = False
    worse: dict[Kind, Priority] = {}
    for order in s.orders.open():
        line = order.lines.get(wearer)
        if line is None:
            continue
        dangers = []
        if _past(s, unanswered_ns(s, order, line)):
            unanswered = True
            dangers.append(Kind.ORDER_UNANSWERED)
        if _past(s, not_out_ns(s, order, line)):
            not_out = True
            dangers.append(Kind.ORDER_NOT_OUT)
        if order.given.order == "evacuate":
            worse |= dict.fromkeys(dangers, Priority.DANGER)
        late = late or (line.late and line.out_ns is None and not line.committed)
        _watch(s, order, line)
    holds = {
        Kind.ORDER_UNANSWERED: unanswered,
        Kind.ORDER_NOT_OUT: not_out,
        Kind.WENT_IN: late,
    }
    for kind, condition in holds.items():
        s.engine.put(Key(kind, wearer=wearer), s.now, worse.get(kind), condition=condition)
    if any(holds.values()):
        s.orders.alarmed.add(wearer)
    else:
        s.orders.alarmed.discard(wearer)


def unanswered_ns(s: Situation, order: Order, line: Line) -> int | None:
    """When a missing answer becomes an alarm; None: none is missing."""
    if not order.is_open or not order.unanswered(line):
        return None
    return line.since_ns + int(s.procedure.order_acknowledge_s * SECOND_NS)


def not_out_ns(s: Situation, order: Order, line: Line) -> int | None:
    """When it becomes an alarm that somebody who answered is not out; None: it cannot."""
    answered_ns = line.answered_ns
    if not order.is_open or answered_ns is None or order.rule.over != "out":
        return None
    if line.committed or line.out_ns is not None:
        return None
    return answered_ns + int(s.procedure.order_out_s * SECOND_NS)


def order_due_ns(s: Situation, number: int) -> int | None:
    """When an order next gives an alarm, now included; None: no more."""
    order = s.orders.orders[number]
    times = [
        due
        for line in order.lines.values()
        for due in (unanswered_ns(s, order, line), not_out_ns(s, order, line))
        if due is not None and due >= s.now
    ]
    return min(times, default=None)


def roll_next_ns(s: Situation) -> int | None:
    """The next instant of the two below, now included; None: neither comes."""
    times = (roll_due_ns(s), roll_overdue_ns(s))
    return min((t for t in times if t is not None and t >= s.now), default=None)


def roll_due_ns(s: Situation) -> int | None:
    """When the roll is due to be called; None: not at all."""
    book, interval_s = s.orders, s.procedure.roll_call_s
    if any(order.given.order == "roll call" for order in book.open()):
        return None
    times = [] if book.roll_wanted_ns is None else [book.roll_wanted_ns]
    if book.roll_from_ns is not None and interval_s is not None:
        times.append(book.roll_from_ns + int(interval_s * SECOND_NS))
    return min(times, default=None)


def roll_overdue_ns(s: Situation) -> int | None:
    """When it becomes a caution that nobody has called it."""
    due = roll_due_ns(s)
    return None if due is None else due + int(s.procedure.order_acknowledge_s * SECOND_NS)


def unanswered_words(s: Situation, wearer: Wearer) -> str | None:
    """Which order waits for this wearer, for how long, and whether the pack has it."""
    for order, line in s.orders.lines_of(wearer.number):
        if _past(s, unanswered_ns(s, order, line)):
            ago = wording.seconds(s.now - line.since_ns)
            if wearer.pack is None:
                return f"{order.given.order}, {ago} ago; no telemetry"
            has = "the pack has it" if line.received_ns is not None else "the pack has not got it"
            return f"{order.given.order}, {ago} ago; {has}"
    return None


def not_out_words(s: Situation, wearer: Wearer) -> str | None:
    """How long ago this wearer answered the order that they have not followed yet."""
    for order, line in s.orders.lines_of(wearer.number):
        if _past(s, not_out_ns(s, order, line)) and line.answered_ns is not None:
            return f"{order.given.order}, answered {wording.seconds(s.now - line.answered_ns)} ago"
    return None


def which(s: Situation, kind: Kind, wearer: Wearer) -> str:
    """Name the orders that an alarm of this kind is about: ``Evacuate``; empty: none."""
    due = {Kind.ORDER_UNANSWERED: unanswered_ns, Kind.ORDER_NOT_OUT: not_out_ns}.get(kind)
    if due is None:
        return ""
    lines = s.orders.lines_of(wearer.number)
    orders = [order.given.order for order, line in lines if _past(s, due(s, order, line))]
    return ", ".join(dict.fromkeys(orders)).capitalize()


def distress_taken(s: Situation) -> list[Alarm]:
    """Each distress that the officer has acknowledged."""
    return [
        alarm
        for alarm in s.engine.by_key.values()
        if alarm.key.kind is Kind.DISTRESS and not alarm.waits and alarm.counts
    ]


def _review_roll(s: Situation) -> None:
    due, overdue = roll_due_ns(s), roll_overdue_ns(s)
    worse = Priority.CAUTION if _past(s, overdue) else None
    s.engine.put(Key(Kind.ROLL_CALL), s.now, worse, condition=_past(s, due))
    for t in (due, overdue):
        if t is not None and t > s.now:
            s.deadlines.put(t, Due.ROLL_CALL, 0)


def _watch(s: Situation, order: Order, line: Line) -> None:
    for due in (unanswered_ns(s, order, line), not_out_ns(s, order, line)):
        if due is not None and due > s.now:
            s.deadlines.put(due, Due.ORDER, order.number)


def _past(s: Situation, due: int | None) -> bool:
    return due is not None and due <= s.now
