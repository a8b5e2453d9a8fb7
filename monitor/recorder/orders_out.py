"""When orders and confirmations go out to packs. Pure.

What is to be sent, and under which number, the fold says (``Incident.outstanding``): a recorder
that was killed goes on with the same. This says when: at once; again just after the pack has been
heard, when its numbers are freshest and its radio listens; and at random distances, so that two
packs never stay in step. The time and the generator are handed in.

Repeats share the air with the packs' own frames, so there is a budget of them; an order that has
not gone to its pack yet needs none.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from monitor.incident.orders.events import SentOrder
from monitor.incident.orders.order import Outstanding
from monitor.recorder.batch import Send
from monitor.recorder.beacons import BeaconSender, Place
from protocol.codec import encode
from protocol.packets import Order, OrderKind

NS_PER_S = 1_000_000_000
UNTIL_RECEIVED_S = (1.0, 3.0)
"""Between repeats until the pack has it: half of them within the 5 s of BS 8608:2014 clause 5
even where every second frame is lost."""
UNTIL_ANSWERED_S = (5.0, 15.0)
"""Between repeats until its wearer has answered."""
HEARD_GAP_NS = 500_000_000
"""At least this between two copies to one pack, however often it is heard."""
REPEATS_A_SECOND = 25
"""An order takes 33 bytes and 10 of the radio's: 6.9 ms at 50 kbit/s. So repeats never take more
than 17 % of such a channel."""
COPIES_A_BATCH_MAX = 32
"""Half of what a serial line lets wait; the rest goes with the next batch, 20 ms later."""


@dataclass(slots=True)
class _Pack:
    """What went to one pack last."""

    number: int
    what: OrderKind
    received: bool
    sequence: int
    last_ns: int
    due_ns: int


class OrderSender:
    """One session of one base. Orders go the same ways as its beacons."""

    def __init__(self, beacons: BeaconSender) -> None:
        """Everything outstanding is due at once."""
        self._beacons = beacons
        self._packs: dict[int, _Pack] = {}
        self._budget = float(REPEATS_A_SECOND)
        self._filled_ns = 0
        self.more = False
        """There is more to send than one batch takes."""

    def due(
        self, outstanding: Sequence[Outstanding], now_ns: int
    ) -> tuple[list[Send], list[SentOrder]]:
        """Give the frames to send now, and what they are, for the journal.

        ``now_ns``: by the boot clock. A pack with no way to it is passed over.
        """
        if not outstanding:
            self._packs.clear()
            self.more = False
            return [], []
        here = {one.pack for one in outstanding}
        self._packs = {pack: last for pack, last in self._packs.items() if pack in here}
        sends: list[Send] = []
        sent: list[SentOrder] = []
        for one, places in self._choose(outstanding, now_ns):
            frame = self._frame(one)
            if frame is not None:
                sends += [Send(link, address, frame) for link, address in places]
                sent.append(SentOrder(one.order, one.pack, one.number))
                self._went(one, now_ns)
        return sends, sent

    def _choose(
        self, outstanding: Sequence[Outstanding], now_ns: int
    ) -> list[tuple[Outstanding, list[Place]]]:
        """What is due, and where to: first copies, then repeats, those longest ago first."""
        first: list[Outstanding] = []
        repeats: list[tuple[bool, int, int, Outstanding]] = []
        for one in outstanding:
            last = self._packs.get(one.pack)
            if last is None or (last.number, last.what) != (one.number, one.what):
                first.append(one)
            elif self._repeat_is_due(one, last, now_ns):
                repeats.append((one.received, last.last_ns, one.pack, one))
        reached = [(one, at) for one in first if (at := self._beacons.places_of(one.pack, now_ns))]
        self.more = len(reached) > COPIES_A_BATCH_MAX
        chosen = reached[:COPIES_A_BATCH_MAX]
        for *_, one in sorted(repeats)[: self._allowed(COPIES_A_BATCH_MAX - len(chosen), now_ns)]:
            at = self._beacons.places_of(one.pack, now_ns)
            self._budget -= bool(at)
            chosen += [(one, at)] if at else []
        return chosen

    def _allowed(self, room: int, now_ns: int) -> int:
        """How many repeats may go now."""
        earned = (now_ns - self._filled_ns) * REPEATS_A_SECOND / NS_PER_S
        self._budget = min(float(REPEATS_A_SECOND), self._budget + earned)
        self._filled_ns = now_ns
        return min(room, int(self._budget))

    def _repeat_is_due(self, one: Outstanding, last: _Pack, now_ns: int) -> bool:
        if one.received and not last.received:
            last.received = True
            last.due_ns = now_ns + self._gap_ns(received=True)
        if now_ns >= last.due_ns:
            return True
        news = one.reach.sequence != last.sequence
        return news and not one.received and now_ns - last.last_ns >= HEARD_GAP_NS

    def _frame(self, one: Outstanding) -> bytes | None:
        """The order as bytes; None if its pack uses a key that is not held here."""
        key = self._beacons.pack_key(one.pack, one.reach.epoch) if one.reach.keyed else None
        if one.reach.keyed and key is None:
            return None
        packet = Order(
            identity=one.pack,
            boot=one.reach.boot,
            sequence=one.reach.sequence,
            epoch=one.reach.epoch,
            keyed=one.reach.keyed,
            base=self._beacons.base,
            order=one.number,
            what=one.what,
        )
        return encode(packet, key)

    def _went(self, one: Outstanding, now_ns: int) -> None:
        due_ns = now_ns + self._gap_ns(received=one.received)
        self._packs[one.pack] = _Pack(
            one.number, one.what, one.received, one.reach.sequence, now_ns, due_ns
        )

    def _gap_ns(self, *, received: bool) -> int:
        least, most = UNTIL_ANSWERED_S if received else UNTIL_RECEIVED_S
        return round(self._beacons.random.uniform(least, most) * NS_PER_S)
