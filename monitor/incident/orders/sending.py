"""Which order goes to which pack now.

To one pack only its most urgent outstanding order is sent at a time, because a pack obeys only
rising numbers. A lesser one waits until the greater is answered; a confirmation, which nobody
answers, waits only until the greater is received. What is sent follows from what the journal says
alone: a recorder that was killed goes on with the same numbers.
"""

from monitor.incident.alarms.catalogue import UNDER_AIR_PHASES
from monitor.incident.contact import Contact
from monitor.incident.orders.events import OrdersSent
from monitor.incident.orders.order import (
    CONFIRMATIONS,
    COPIES_KEPT_MAX,
    Confirmation,
    Line,
    Order,
    Outstanding,
    Pager,
    Reach,
)
from monitor.incident.situation import Situation
from protocol.fields import U16_MAX
from protocol.freshness import ORDER_AGE_NS
from protocol.packets import OrderKind

_Item = tuple[Order | None, Line | Confirmation]


def settle(s: Situation, pack: int) -> None:
    """Find what is to be sent to this pack, and give it a number that the pack will take."""
    book = s.orders
    pager = book.pagers.get(pack)
    contact = s.contacts.get(pack)
    if pager is None or contact is None or (contact.report is None and pager.unproven is None):
        return
    found = _choose(s, contact, pager)
    if found is None:
        book.sending.pop(pack, None)
        return
    item = found[1]
    overtaken = 0 if pager.began_anew else pager.received
    if not has(pager, item) and item.number <= overtaken:
        item.number, item.boot = pager.next_number(), 0
    book.sending[pack] = found


def has(pager: Pager, item: Line | Confirmation) -> bool:
    """Whether the pack has received it, in the boot that it is in, and can still answer it.

    Once the button means a later order, an order without an answer has to come again.
    """
    if item.boot == 0 or item.boot != pager.boot or pager.began_anew:
        return False
    return isinstance(item, Confirmation) or item.number >= pager.asks


def outstanding(s: Situation) -> tuple[Outstanding, ...]:
    """All that is to be sent now, to packs heard lately enough to take it."""
    found = []
    for pack, (order, item) in s.orders.sending.items():
        contact, pager = s.contacts[pack], s.orders.pagers[pack]
        reach = _reach(contact, pager)
        if reach is None or s.now - reach.heard_ns > ORDER_AGE_NS:
            continue
        if (contact.signed_off and reach.boot == contact.boot) or item.number > U16_MAX:
            continue
        found.append(
            Outstanding(
                order=order.number if order else 0,
                pack=pack,
                reach=reach,
                number=item.number,
                what=item.what if isinstance(item, Confirmation) else _wire(order),
                # Of two that answer the other may still have to hear it.
                received=has(pager, item) and not contact.are_two,
            )
        )
    return tuple(found)


def _reach(contact: Contact, pager: Pager) -> Reach | None:
    """The frame of this pack that was heard last, proven or not; of one instant the newer."""
    report, heard_ns, unproven = contact.report, contact.heard_ns, pager.unproven
    if report is None or heard_ns is None:
        return unproven
    live = Reach(heard_ns, contact.boot, contact.sequence, report.epoch, report.keyed)
    if unproven is None:
        return live
    return max(live, unproven)


def sent(s: Situation, fact: OrdersSent) -> None:
    """Note what has gone out: one more copy for each."""
    for number, pack, on_air in fact.sent:
        for item in _with_number(s, number, pack, on_air):
            item.copies += 1
            if isinstance(item, Line) and len(item.copies_ns) < COPIES_KEPT_MAX:
                item.copies_ns.append(s.now)
            item.sent_ns = s.now if item.sent_ns is None else item.sent_ns


def _with_number(s: Situation, number: int, pack: int, on_air: int) -> list[Line | Confirmation]:
    contact, order = s.contacts.get(pack), s.orders.orders.get(number)
    if order is None:
        pager = s.orders.pagers.get(pack)
        return [c for c in pager.confirmations if c.number == on_air] if pager else []
    line = order.lines.get(contact.wearer) if contact else None
    return [] if line is None else [line]


def _wire(order: Order | None) -> OrderKind:
    assert order is not None, "a line belongs to an order"
    return order.rule.wire


def _choose(s: Situation, contact: Contact, pager: Pager) -> _Item | None:
    """The most urgent that the pack has still to get, else what its wearer has still to answer."""
    asked: dict[int, tuple[Order, Line]] = {}
    for order, line in s.orders.lines_of(contact.wearer):
        if line.pack != contact.identity:
            line.pack, line.number, line.boot = contact.identity, 0, 0
        # Of two of one kind the newer counts, and answers for the older.
        asked.setdefault(order.rule.urgency, (order, line))
    items: dict[int, _Item] = {u: pair for u, pair in asked.items() if _goes_to_pack(s, *pair)}
    for confirmation in pager.confirmations:
        if confirmation.received_ns is None and _known_to_somebody(s, confirmation):
            items[CONFIRMATIONS[confirmation.what]] = (None, confirmation)
    unanswered: _Item | None = None
    for _, found in sorted(items.items()):
        if unanswered is not None and isinstance(found[1], Line):
            continue
        if not has(pager, found[1]):
            return found
        unanswered = found
    # A number that a confirmation has passed would be refused: the pack has it, that must do.
    return unanswered if unanswered and unanswered[1].number >= pager.received else None


def _goes_to_pack(s: Situation, order: Order, line: Line) -> bool:
    """Whether this line is still a matter for the radio."""
    wearer = s.wearers[line.wearer]
    on_air = wearer.under_air or wearer.moved_from in UNDER_AIR_PHASES
    if line.committed or line.acknowledged_ns is not None or not on_air:
        return False
    if order.rule.over == "answered":
        return line.voice_ns is None
    # Whoever has answered by voice is told until the pack has it: a name is soon mistaken.
    return line.out_ns is None and (line.voice_ns is None or line.received_ns is None)


def _known_to_somebody(s: Situation, confirmation: Confirmation) -> bool:
    """Coming out is confirmed by the base itself, so only while a board shows it to somebody."""
    return confirmation.what is not OrderKind.COMING_OUT_CONFIRMED or s.watched
