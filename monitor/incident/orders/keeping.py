"""What becomes of orders by itself: who is out, who went in after all, what is over, what is due.

An evacuation closes when everybody it covers is out, and never with somebody in. Whoever goes in
while one for everybody stands is covered from then on, with an alarm, unless they go in as
emergency crew.
"""

from monitor.incident.contact import Contact
from monitor.incident.orders import alarming
from monitor.incident.orders.order import Confirmation, Line, Order
from monitor.incident.orders.sending import settle
from monitor.incident.picture import Phase
from monitor.incident.situation import Situation
from monitor.incident.wearer import Wearer
from protocol.packets import OrderKind


def review(s: Situation) -> None:
    """Look at everything, after an act or a fact that may have changed any of it."""
    book = s.orders
    _confirm_distress(s)
    for order in tuple(book.open()):
        _follow(s, order)
        _close_if_over(s, order)
    for pack in {*book.sending, *_packs_asked(s)}:
        settle(s, pack)
    _follow_roll(s)
    alarming.review_alarms(s)


def review_answers(s: Situation, wearer: int) -> None:
    """Look at what an answer of this wearer's pack may have changed."""
    closed = [
        order
        for order in tuple(s.orders.open())
        if wearer in order.lines and _close_if_over(s, order)
    ]
    if closed:
        alarming.review_alarms(s)
    else:
        alarming.review_wearer_orders(s, wearer)


def _packs_asked(s: Situation) -> set[int]:
    """Packs of everybody covered by an open order, and those that wait for a confirmation."""
    numbers = {number for order in s.orders.open() for number in order.lines}
    packs = {pack for number in numbers if (pack := s.wearers[number].pack) is not None}
    for pack, pager in s.orders.pagers.items():
        if any(confirmation.received_ns is None for confirmation in pager.confirmations):
            packs.add(pack)
    return packs


# ---------------------------------------------------------------- who is out, who went in


def _follow(s: Situation, order: Order) -> None:
    """Note who has come out since, and who has gone in."""
    if order.given.everybody and order.given.order == "evacuate":
        for wearer in s.wearers.values():
            _went_in(s, order, wearer)
    for line in order.lines.values():
        wearer = s.wearers[line.wearer]
        if line.out_ns is None and line.is_out(wearer):
            line.out_ns = _out_ns(s, line)


def _went_in(s: Situation, order: Order, wearer: Wearer) -> None:
    if wearer.phase is not Phase.ENTERED:
        return
    line, wear = order.lines.get(wearer.number), wearer.wear
    committed = s.orders.state_of(wearer.crew) == "committed"
    if line is not None and line.wear is wear and line.out_ns is None:
        if wear is not None and wear.entered_ns is not None and wear.entered_ns > line.since_ns:
            # On air at the door when it was given, and in now.
            line.late = not committed
        return
    order.lines[wearer.number] = Line(
        wearer.number, wear, s.now, late=not committed, committed=committed
    )


def _out_ns(s: Situation, line: Line) -> int:
    """When they came out: as noted, else now."""
    wear = line.wear
    noted = (wear.out_ns, wear.off_ns) if wear else ()
    return min((t for t in noted if t is not None and t >= line.since_ns), default=s.now)


def _close_if_over(s: Situation, order: Order) -> bool:
    if any(order.waits_for(line) for line in order.lines.values()):
        return False
    close(s, order)
    return True


def close(s: Situation, order: Order, override: str = "") -> None:
    """End an order."""
    order.closed_ns = s.now
    order.override = override
    if order.given.order == "evacuate":
        s.orders.roll_wanted_ns = s.now


# ---------------------------------------------------------------- confirmations


def confirm(s: Situation, contact: Contact, what: OrderKind) -> None:
    """Tell a pack that what it said has arrived; a newer one of the same kind replaces an older."""
    pager = s.orders.pager(contact.identity)
    pager.confirmations = [c for c in pager.confirmations if c.what is not what]
    pager.confirmations.append(Confirmation(what, s.now, contact.wearer))
    settle(s, contact.identity)


def _confirm_distress(s: Situation) -> None:
    """Each distress that the officer has taken is confirmed to the pack that sent it, once."""
    for alarm in alarming.distress_taken(s):
        wearer = s.wearers.get(alarm.key.wearer)
        contact = s.contact_of(wearer) if wearer else s.contacts.get(alarm.key.pack)
        pager = s.orders.pagers.get(contact.identity) if contact else None
        if contact is None or pager is None or not pager.distress:
            continue  # another set by now: it has not asked
        if pager.confirmed_alarm != (alarm.number, alarm.waiting_ns):
            pager.confirmed_alarm = (alarm.number, alarm.waiting_ns)
            confirm(s, contact, OrderKind.DISTRESS_CONFIRMED)


# ---------------------------------------------------------------- the roll


def _follow_roll(s: Situation) -> None:
    """The time to the next roll call runs while anybody is in."""
    inside = any(wearer.phase is Phase.ENTERED for wearer in s.wearers.values())
    if not inside:
        s.orders.roll_from_ns = None
    elif s.orders.roll_from_ns is None:
        s.orders.roll_from_ns = s.now
