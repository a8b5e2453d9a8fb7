"""What a base sends to the pack under trial, in turn, and what the pack must make of it.

One question at a time: the next goes out once the last is settled. Orders to be obeyed come first,
since a pack that obeys a wrong one would rightly refuse what has a lower number after it.
"""

from collections.abc import Callable
from dataclasses import dataclass
from random import Random

from protocol import codec
from protocol.fields import U32_MAX
from protocol.integrity import TAIL_BYTES, Keyring, checksum
from protocol.packets import Beacon, Order, OrderKind, Receipt, ReceiptKind, Report, UpPacket
from simulators.conformance.conduct import SLACK_NS, Conduct
from simulators.conformance.rules import Findings

SECOND_NS = 1_000_000_000
BEACON_NS = 5 * SECOND_NS
BEACONS_KEPT = 12
"""Of 60 s."""
BEACONS_MISSED = 3
"""So many may be lost on their way before a pack is said to pass them over."""
FIRST_NS = 2 * SECOND_NS
APART_NS = SECOND_NS // 2
RECEIVED_NS = SECOND_NS
TRIES_MAX = 3
"""Of an order that must be answered: one copy may be lost."""
TRY_NS = SECOND_NS * 3 // 2
HEEDED_NS = TRY_NS
"""By then a pack that obeys would have said so in its next report."""
LATE_NS = 61 * SECOND_NS
FIRST_ORDER, SECOND_ORDER, LOWER_ORDER, WRONG_ORDER = 100, 200, 50, 301
"""Numbers of orders; the wrong ones count up, so that each tells which was obeyed."""
WRONG_ORDERS = (LOWER_ORDER, *range(WRONG_ORDER, WRONG_ORDER + 5))
"""Whoever obeys one breaks the rule of that one, and no other."""
BUTTON = "press the button that acknowledges an order"


@dataclass(slots=True)
class Question:
    """One frame to send, and which rule its answer is about."""

    rule: str
    order: int
    make: Callable[["Asking", int], bytes | None]
    """None: it cannot be put yet."""
    tries: int = 0


class Asking:
    """A base's side of the trial."""

    def __init__(
        self, findings: Findings, conduct: Conduct, keyring: Keyring | None, random: Random
    ) -> None:
        """Nothing was sent."""
        self._findings = findings
        self._conduct = conduct
        self._keyring = keyring
        self._random = random
        self._base = self._number()
        self._sent = 0
        self.identity = 0
        """The pack under trial; 0: none heard."""
        self._epoch = 0
        self._beacons: list[tuple[int, int]] = []
        """When each went out, and its value."""
        self._beacon_ns = 0
        self._forged_beacon = 0
        self._open = _questions(keyed=keyring is not None)
        self._asked: tuple[int, Question] | None = None
        self._next_ns: int | None = None
        self._level = 0
        """The highest order the pack has said it received, of those it should."""
        self._level_boot = 0
        self._put_order = 0
        """The highest order sent of those it should obey."""
        self._acknowledged = 0
        self.prompt = ""
        """What the person at the pack is to do next; taken away by who says it."""

    @property
    def done(self) -> bool:
        """Every question was put and settled."""
        return not self._open and self._asked is None

    def heard(self, t: int, packet: UpPacket, frame: bytes) -> None:
        """Take in a new frame of the pack."""
        self._epoch = packet.epoch
        if self._next_ns is None:
            self._next_ns = t + FIRST_NS
        if packet.boot != self._level_boot:
            self._level, self._level_boot, self._acknowledged = 0, packet.boot, 0
        self._beacon(t, packet, frame)
        if isinstance(packet, Receipt):
            self._receipt(t, packet, frame)
        else:
            self._levels(t, packet, frame)
        if self._asked is not None:
            self._settle(*self._asked, t, packet, frame)

    def due(self, t: int) -> list[bytes]:
        """The frames to send now."""
        if not self.identity:
            return []
        frames = self._beacons_due(t)
        if self._asked is not None:
            frames += self._again(*self._asked, t)
        elif self._open and self._next_ns is not None and t >= self._next_ns:
            frames += self._put(self._open[0], t)
        return frames

    # ------------------------------------------------------------ what goes out

    def order(
        self,
        number: int,
        *,
        boot: int = 0,
        sequence: int = 0,
        identity: int = 0,
        spoil: bool = False,
    ) -> bytes:
        """An order as a base makes it, but for what is said."""
        conduct = self._conduct.boot
        assert conduct is not None, "only a pack that was heard is asked"
        packet = Order(
            identity=identity or self.identity,
            boot=boot or conduct.number,
            sequence=sequence or conduct.highest,
            epoch=self._epoch,
            keyed=self._keyring is not None,
            base=self._base,
            order=number,
            what=OrderKind.ROLL_CALL if number == SECOND_ORDER else OrderKind.TEST,
        )
        key = None
        if self._keyring is not None:
            key = self._keyring.pack_key(packet.identity, self._epoch, up=False)
        frame = codec.encode(packet, key)
        return _spoilt(frame) if spoil else frame

    @property
    def last_heard(self) -> int:
        """The pack's highest sequence number."""
        assert self._conduct.boot is not None, "only a pack that was heard is asked"
        return self._conduct.boot.highest

    @property
    def boot(self) -> int:
        """The pack's boot counter."""
        assert self._conduct.boot is not None, "only a pack that was heard is asked"
        return self._conduct.boot.number

    def heard_before(self, t: int) -> int | None:
        """A frame of the pack that is too old to be named in an order."""
        return self._conduct.sent_at(t - LATE_NS)

    def forged_beacon(self) -> bytes:
        """A beacon with a wrong tag."""
        self._forged_beacon = self._number()
        return _spoilt(self._beacon_frame(self._forged_beacon, self._epoch))

    def _beacons_due(self, t: int) -> list[bytes]:
        # A right beacon would hide that the wrong one was believed.
        waits = self._asked is not None and self._asked[1].rule == "forged beacon"
        if t < self._beacon_ns or waits:
            return []
        self._beacon_ns = t + BEACON_NS
        value = self._number()
        self._beacons = [*self._beacons, (t, value)][-BEACONS_KEPT:]
        epochs = self._keyring.epochs if self._keyring else (0,)
        return [self._beacon_frame(value, epoch) for epoch in epochs]

    def _beacon_frame(self, value: int, epoch: int) -> bytes:
        self._sent += 1
        keyring = self._keyring
        packet = Beacon(self._base, 1, self._sent, epoch, keyring is not None, value)
        return codec.encode(packet, keyring.broadcast_key(epoch) if keyring else None)

    def _put(self, question: Question, t: int) -> list[bytes]:
        frame = question.make(self, t)
        if frame is None:
            return []
        question.tries += 1
        if question.order in (FIRST_ORDER, SECOND_ORDER):
            self._put_order = question.order
        self._asked = (t, question)
        if question.order == SECOND_ORDER and question.tries == 1:
            self.prompt = BUTTON
        return [frame]

    def _again(self, since_ns: int, question: Question, t: int) -> list[bytes]:
        """Ask once more where an answer is due and does not come."""
        if question.rule not in ("received", "again") or t - since_ns < TRY_NS:
            return []
        if question.tries < TRIES_MAX:
            return self._put(question, t)
        self._findings.broken(question.rule, t, f"order {question.order}: no receipt")
        self._settled(t)
        return []

    def _number(self) -> int:
        return 1 + int(self._random.random() * (U32_MAX - 1))

    # ------------------------------------------------------------ what comes back

    def _settle(
        self, since_ns: int, question: Question, t: int, packet: UpPacket, frame: bytes
    ) -> None:
        rule = question.rule
        if rule in ("received", "again"):
            if _receives(packet, question.order):
                late = t - since_ns > RECEIVED_NS + SLACK_NS
                why = f"after {(t - since_ns) / SECOND_NS:.1f} s" if late else ""
                self._findings.judge(rule, t, why, frame)
                self._level = max(self._level, question.order)
                self._settled(t)
            return
        heeded = packet.beacon_heard == self._forged_beacon
        if rule != "forged beacon":
            heeded = _receives(packet, question.order)
        if heeded:
            self._findings.broken(rule, t, "it was believed", frame)
            self._settled(t)
        elif isinstance(packet, Report) and t - since_ns > HEEDED_NS:
            self._findings.kept(rule)
            self._settled(t)

    def _settled(self, t: int) -> None:
        self._open.pop(0)
        self._asked = None
        self._next_ns = t + APART_NS

    def _beacon(self, t: int, packet: UpPacket, frame: bytes) -> None:
        """Judge the beacon it answers with: one of ours, and of late."""
        heard = [value for at_ns, value in self._beacons if t - at_ns > SLACK_NS]
        if not heard or packet.beacon_heard == self._forged_beacon != 0:
            return
        if packet.beacon_heard in [value for _, value in self._beacons[-BEACONS_MISSED:]]:
            self._findings.kept("beacon")
        elif len(heard) >= BEACONS_MISSED:
            self._findings.broken("beacon", t, f"{packet.beacon_heard:#x} is not of late", frame)

    def _receipt(self, t: int, packet: Receipt, frame: bytes) -> None:
        if packet.answer is ReceiptKind.ACKNOWLEDGED and packet.order not in WRONG_ORDERS:
            # The wearer may press before the pack has said that it received the order.
            right = packet.order > 0 and packet.order in (self._level, self._put_order)
            why = "" if right else f"order {packet.order}, where {self._level} is the last"
            self._findings.judge("button", t, why, frame)
            if right:
                self._acknowledged = packet.order

    def _levels(self, t: int, packet: Report, frame: bytes) -> None:
        """Judge what a report says of orders; one that was wrongly obeyed has its own rule."""
        told = packet.order_received
        if told in WRONG_ORDERS:
            return
        if told > self._level and self._asked is not None and told == self._asked[1].order:
            self._level = told
        why = f"{told}, and not {self._level}" if told != self._level else ""
        if self._level or why:
            self._findings.judge("level", t, why, frame)
        if self._acknowledged and packet.order_acknowledged != self._acknowledged:
            why = f"{packet.order_acknowledged} in a report after {self._acknowledged}"
            self._findings.broken("button", t, why, frame)
        elif packet.order_acknowledged > told:
            self._findings.broken("button", t, "acknowledged before it was received", frame)


def _receives(packet: UpPacket, order: int) -> bool:
    """Whether the pack says here that it has that order."""
    if isinstance(packet, Receipt):
        return packet.order == order and packet.answer is ReceiptKind.RECEIVED
    return packet.order_received == order and order not in (FIRST_ORDER, SECOND_ORDER)


def _spoilt(frame: bytes) -> bytes:
    """The same with one bit of its tag turned, and a right checksum."""
    body, tag = frame[:-TAIL_BYTES], frame[-TAIL_BYTES:-2]
    content = body + bytes((tag[0] ^ 1,)) + tag[1:]
    return content + checksum(content)


def _late(asking: Asking, t: int) -> bytes | None:
    sequence = asking.heard_before(t)
    return None if sequence is None else asking.order(WRONG_ORDER + 3, sequence=sequence)


def _questions(*, keyed: bool) -> list[Question]:
    """Everything that is put to a pack, in order."""
    wrong = WRONG_ORDER
    tagged = [
        Question("forged", wrong + 4, lambda a, _: a.order(wrong + 4, spoil=True)),
        Question("forged beacon", 0, lambda a, _: a.forged_beacon()),
    ]
    return [
        Question("received", FIRST_ORDER, lambda a, _: a.order(FIRST_ORDER)),
        Question("again", FIRST_ORDER, lambda a, _: a.order(FIRST_ORDER)),
        Question("received", SECOND_ORDER, lambda a, _: a.order(SECOND_ORDER)),
        *(tagged if keyed else []),
        Question(
            "other pack", wrong, lambda a, _: a.order(wrong, identity=a.identity % U32_MAX + 1)
        ),
        Question("other boot", wrong + 1, lambda a, _: a.order(wrong + 1, boot=_other(a.boot))),
        Question("ahead", wrong + 2, lambda a, _: a.order(wrong + 2, sequence=a.last_heard + 1000)),
        Question("passed", LOWER_ORDER, lambda a, _: a.order(LOWER_ORDER)),
        Question("late", wrong + 3, _late),
    ]


def _other(boot: int) -> int:
    return boot - 1 if boot > 1 else boot + 1
