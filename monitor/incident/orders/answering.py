"""What packs say of orders: received, acknowledged by the wearer, coming out.

Levels, not edges: every report repeats the highest number received and acknowledged, so any one of
them is enough; a receipt says the same earlier. Whatever only repeats what is known does nothing.
"""

from monitor.incident.contact import Contact
from monitor.incident.orders import keeping
from monitor.incident.orders.order import Confirmation, Line, Pager, Reach
from monitor.incident.orders.sending import settle
from monitor.incident.situation import Situation
from monitor.incident.wearer import Wearer
from protocol.packets import OrderKind, Receipt, ReceiptKind, Report


def hear_orders(s: Situation, contact: Contact, packet: Report | Receipt) -> None:
    """Take what a live frame says of orders. Called once ``contact`` has taken the frame."""
    pager = s.orders.pager(contact.identity)
    if packet.boot != contact.boot:
        if packet.boot > contact.boot:
            # A receipt before any report of its boot: what is sent must name that boot.
            hear_unproven(s, contact, packet)
        return
    new_boot = packet.boot != pager.boot
    if new_boot:
        pager.boot = packet.boot
        pager.received = pager.asks = pager.acknowledged = 0
        pager.coming_out = pager.distress = False
    if isinstance(packet, Report) and packet.distress:
        pager.distress = True
    received, acknowledged, coming_out = _said(packet)
    pager.received = max(pager.received, received)
    pager.acknowledged = max(pager.acknowledged, acknowledged)
    if received:
        _received(s, contact, pager, received)
    if acknowledged and not contact.are_two:
        _acknowledged(s, contact, pager, acknowledged)
    if coming_out and not pager.coming_out:
        if not contact.are_two:
            _coming_out(s, contact, pager)
    elif isinstance(packet, Report) and packet.sequence == contact.sequence:
        pager.coming_out = coming_out
    if new_boot or received or coming_out:
        settle(s, contact.identity)
        keeping.review_answers(s, contact.wearer)


def hear_unproven(s: Situation, contact: Contact, packet: Report | Receipt) -> None:
    """Take from a genuine frame that does not count as heard how its pack can be reached."""
    pager = s.orders.pager(contact.identity)
    before = pager.unproven
    numbers = (packet.boot, packet.sequence)
    if before is not None and not contact.clash and numbers < (before.boot, before.sequence):
        return  # come late: its pack is further on
    pager.unproven = Reach(s.now, packet.boot, packet.sequence, packet.epoch, packet.keyed)
    pager.given = max(pager.given, _said(packet)[0])
    if before is None or before.boot != packet.boot:
        settle(s, contact.identity)


def coming_out_ns(s: Situation, wearer: Wearer) -> int | None:
    """So long ago the wearer's button said "coming out"; None: not, or sent on since."""
    pager = None if wearer.pack is None else s.orders.pagers.get(wearer.pack)
    wear = wearer.live_wear
    if pager is None or wear is None or wear.back_ns is None or not pager.coming_out:
        return None
    return s.now - pager.coming_out_ns if pager.coming_out_ns >= wear.connected_ns else None


def _said(packet: Report | Receipt) -> tuple[int, int, bool]:
    """Highest number received, highest acknowledged, coming out: as far as the frame tells."""
    if isinstance(packet, Report):
        return packet.order_received, packet.order_acknowledged, packet.coming_out
    if packet.answer is ReceiptKind.COMING_OUT:
        return 0, 0, True
    acknowledged = packet.order if packet.answer is ReceiptKind.ACKNOWLEDGED else 0
    return packet.order, acknowledged, False


def _received(s: Situation, contact: Contact, pager: Pager, number: int) -> None:
    for confirmation in pager.confirmations:
        if confirmation.number == number:
            _has(s, pager, confirmation, contact)
            return
    pager.asks = max(pager.asks, number)
    for order, line in s.orders.lines_of(contact.wearer):
        if (line.pack, line.number) == (contact.identity, number):
            _has(s, pager, line, contact)
            for older in s.orders.answered_too(contact.wearer, order):
                if older.received_ns is None:
                    older.received_ns = line.received_ns


def _has(s: Situation, pager: Pager, item: Line | Confirmation, contact: Contact) -> None:
    """The pack has it; one of two has, and that is no word of the wearer's own."""
    item.boot = pager.boot
    if item.received_ns is None and not contact.are_two:
        item.received_ns = s.now


def _acknowledged(s: Situation, contact: Contact, pager: Pager, number: int) -> None:
    for order, line in s.orders.lines_of(contact.wearer):
        if (line.pack, line.number) == (contact.identity, number) and line.acknowledged_ns is None:
            _has(s, pager, line, contact)
            line.acknowledged_ns = s.now
            for older in s.orders.answered_too(contact.wearer, order):
                if older.acknowledged_ns is None:
                    older.acknowledged_ns = s.now


def _coming_out(s: Situation, contact: Contact, pager: Pager) -> None:
    """The wearer has said by button that the way back has begun; the base says that it knows."""
    pager.coming_out = True
    pager.coming_out_ns = s.now
    keeping.confirm(s, contact, OrderKind.COMING_OUT_CONFIRMED)
    wearer = s.wearer_of(contact)
    wear = wearer.live_wear if wearer else None
    if wearer is not None and wear is not None and wear.entered_ns is not None:
        wear.back_ns = s.now if wear.back_ns is None else wear.back_ns
