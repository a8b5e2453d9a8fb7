"""A base's side of a trial: puts questions, sends beacons, and judges what the pack answers. Pure.

What is put when, the plan says (``plan``). A question waits for its receipt; one that should be
refused is settled once the time for a receipt is over and a report has not told its number.
"""

from collections import Counter
from dataclasses import dataclass
from random import Random

from protocol.fields import U16_MAX
from protocol.integrity import Keyring
from protocol.packets import CONFIRMATIONS, Receipt, ReceiptKind, Report, UpPacket
from simulators.conformance.beacons import BeaconsSent
from simulators.conformance.conduct import Conduct
from simulators.conformance.down import VALUE_AT, Base, Whose
from simulators.conformance.even import SAMPLES_LEAST, uneven
from simulators.conformance.questions import Question
from simulators.conformance.rules import Findings
from simulators.conformance.timing import SECOND_NS, SLACK_NS

RECEIVED_S = (0.05, 1.0)
RECEIVED_NS = SECOND_NS
SETTLED_NS = RECEIVED_NS + SLACK_NS
TRIES_MAX = 3
"""Of an order that must be answered: one copy may be lost, or its receipt."""
UNANSWERED_SHARE = 4
"""A link that loses a quarter of all is no link to try a pack over."""
LOSS_SAMPLES_LEAST = 10
LOSS_SHARE_MOST = 0.9
"""A pack of which no more than this is heard does not listen, or not to this base."""
BEHIND_NS = SECOND_NS // 5
"""From a beacon on trial to the order whose receipt tells of it."""
STEP = 2
"""From one number to the next: the one between is for an order that comes too late."""
WINDOW_BACK_MAX = 62
"""So far back a frame is named that is among the last 64: one may have been sent since."""


@dataclass(slots=True)
class Put:
    """A question that was put and is not settled."""

    question: Question
    number: int
    sent_ns: int
    highest: int
    """Last sequence number heard by then."""
    value: int = 0
    """Of the beacon before it."""
    tries: int = 1
    silent: bool = False
    """The time for its receipt is over without one; what a report says is still to come."""


class Asking:
    """What was put, what came back, and what is to be pressed."""

    def __init__(
        self, findings: Findings, conduct: Conduct, keyring: Keyring | None, random: Random
    ) -> None:
        """Nothing was sent."""
        self._findings = findings
        self.conduct = conduct
        self.base = Base(keyring, random)
        self.beacons = BeaconsSent(findings, self.base)
        self.identity = 0
        """The pack under trial; 0: none heard."""
        self._epoch = 0
        self._open: dict[int, Put] = {}
        """By number."""
        self._later: list[tuple[int, bytes]] = []
        """Frames that wait for their time."""
        self._put: dict[int, Question] = {}
        """All of this boot."""
        self._asked_times: dict[int, int] = {}
        self._receipts: dict[int, int] = {}
        self._delays: list[float] = []
        self._missed: Counter[Question] = Counter()
        """How often one had not the answer that is right, which may have been lost."""
        self._unanswered = 0
        """Orders without a receipt before a later one was obeyed."""
        self._silences = self._answers = 0
        """How often an order that must be answered was not, and was, within its time."""
        self._boot = 0
        self.level = 0
        """The highest order that the pack rightly has; as it says itself at the beginning."""
        self._top = 0
        """The highest number put, or told by the pack."""
        self._wrong: set[int] = set()
        """Numbers that it should have refused and has not."""
        self.to_press = 0
        """The highest obeyed that asks for the button."""
        self.acknowledged = 0
        self.may_press = False
        """Somebody has been told to press the button."""
        self.presses = self.comings_out = self.boots = 0
        """How often each was seen."""
        self.distress = False
        self.unclear: list[Question] = []
        """To be put once more; whoever does takes it away."""

    @property
    def settled(self) -> bool:
        """Nothing that was put waits for an answer."""
        return not self._open

    @property
    def alone(self) -> bool:
        """What is open must stay alone: a beacon, or what depends on the pack's next frame."""
        return any(put.question.exact or put.question.beacon for put in self._open.values())

    @property
    def receipts(self) -> int:
        """How many came at a moment that can be judged."""
        return len(self._delays)

    @property
    def lost_share(self) -> float:
        """Of what was sent to the pack, how much seems to have been lost on its way or back.

        0 where only orders, or only beacons, are passed over, or nearly all are: that is no link.
        """
        orders = self._silences, self._silences + self._answers
        beacons = self.beacons.missed, self.beacons.judged
        if min(orders[1], beacons[1]) < LOSS_SAMPLES_LEAST:
            return 0.0
        share = min(missed / of for missed, of in (orders, beacons))
        return share if share <= LOSS_SHARE_MOST else 0.0

    # ------------------------------------------------------------ what goes out

    def beacon_due(self, t: int) -> list[bytes]:
        """The beacon of every 5 s; none while one is on trial."""
        if t < self.beacons.due_ns or any(put.question.beacon for put in self._open.values()):
            return []
        return self.beacons.due(t, self.whose())

    def again_due(self, t: int) -> list[bytes]:
        """Settle what has waited long enough; put once more what may have been lost.

        And what goes out behind something else.
        """
        frames = [frame for at_ns, frame in self._later if at_ns <= t]
        self._later = [one for one in self._later if one[0] > t]
        for put in list(self._open.values()):
            if put.silent or t - put.sent_ns <= SETTLED_NS:
                continue
            question = put.question
            if self.level > put.number and question.expect == "obeyed":
                # It would be refused now; what was lost nobody can tell.
                del self._open[put.number]
                self._unanswered += 1
            elif question.expect == "refused" and question.beacon is None:
                put.silent = True
            else:
                frames += self._once_more(put, t)
        return frames

    def put(self, question: Question, t: int) -> list[bytes] | None:
        """Put a question; None: there is no frame that it could name."""
        if question.keyed not in (None, self.base.keyed):
            return []
        number = self._number(question)
        if question.expect == "obeyed" and number <= self._top and not question.again:
            return []
        frames = self._frames(question, number, t)
        if frames is None:
            return None
        self._top = max(self._top, number)
        self._put[number] = question
        return frames

    def whose(self) -> Whose:
        """What the pack was last heard to be."""
        boot = self.conduct.boot
        assert boot is not None, "only a pack that was heard is asked"
        return Whose(self.identity, boot.number, boot.highest, self._epoch)

    def _number(self, question: Question) -> int:
        if question.again:
            return max(self.level, 1)
        if question.number < 0:
            return max(self.level - 1, 1)
        return question.number or min(self._top + STEP, U16_MAX)

    def _frames(self, question: Question, number: int, t: int) -> list[bytes] | None:
        whose = self.whose()
        if question.age_ns is not None:
            sequence = self.conduct.heard_ago(t, question.age_ns, WINDOW_BACK_MAX)
            if sequence is None:
                return None
            named = whose._replace(sequence=sequence)
        else:
            named = question.named(whose)
        put = Put(question, number, t, whose.sequence)
        other = self.base.any_number() if question.other_base else 0
        frames = []
        if question.beacon is not None:
            value = self.base.any_number()
            frames.append(self.base.beacon(whose, value, question.beacon, base=other))
            put.value = int.from_bytes(frames[0][VALUE_AT], "big")
            if question.expect == "obeyed":
                self.beacons.went(t, put.value)
        order = self.base.order(named, number, question.what, question.spoil, base=other)
        self._open[number] = put
        self._asked_times[number] = self._asked_times.get(number, 0) + 1
        if frames:
            # Later, so that it does not overtake its beacon.
            put.sent_ns += BEHIND_NS
            self._later.append((put.sent_ns, order))
            return frames
        return [order] * question.times

    def _once_more(self, put: Put, t: int) -> list[bytes]:
        """Put a question again, if what it got may be the link's doing."""
        question = put.question
        del self._open[put.number]
        self._silences += question.expect == "obeyed" or question.beacon is not None
        if question.exact:
            # With the numbers as they will be then: a lost receipt has moved the pack on.
            self._missed[question] += self._met_between_frames(put)
            if self._missed[question] < TRIES_MAX:
                self.unclear.append(question)
                return []
        elif put.tries < TRIES_MAX:
            frames = self._frames(question, put.number, t) or []
            if put.number in self._open:
                self._open[put.number].tries = put.tries + 1
            return frames
        why = f"order {put.number}: no receipt within {SETTLED_NS / SECOND_NS:.1f} s"
        self._findings.missed(question.rule, t, why)
        return []

    # ------------------------------------------------------------ what comes back

    def heard(self, t: int, packet: UpPacket, frame: bytes) -> None:
        """Take in a new frame of the pack."""
        self._epoch = packet.epoch
        if packet.boot != self._boot:
            self._begin(t, packet)
        self.beacons.judge(t, packet, frame, self.conduct.boot_began_ns)
        if isinstance(packet, Receipt):
            self._receipt(t, packet, frame)
        elif packet.sequence == self.whose().sequence:
            self._report(t, packet, frame)

    def end(self, t: int) -> None:
        """Judge what takes all of a trial."""
        self.beacons.end(t)
        if self._unanswered * UNANSWERED_SHARE > len(self._delays):
            why = f"{self._unanswered} orders, and {len(self._delays)} receipts"
            self._findings.broken("received", t, why)
        if len(self._delays) >= SAMPLES_LEAST:
            late = SLACK_NS / SECOND_NS
            self._findings.judge("receipt at random", t, uneven(self._delays, late=late))

    def _begin(self, t: int, packet: UpPacket) -> None:
        """A boot begins: what was put before is over, and the pack has forgotten it."""
        first = self._boot == 0
        self._boot = packet.boot
        self.boots += 1
        self._open.clear()
        self._later.clear()
        self.unclear.clear()
        self._put.clear()
        self._asked_times.clear()
        self._receipts.clear()
        self._wrong.clear()
        self.level = self._top = self.to_press = self.acknowledged = 0
        self.beacons.begin()
        if isinstance(packet, Report):
            self.distress = packet.distress
            told = (packet.order_received, packet.order_acknowledged)
            if first and packet.sequence > 1:
                self.level = self._top = packet.order_received
                self.acknowledged = packet.order_acknowledged
            elif not first and (told != (0, 0) or packet.coming_out):
                self._findings.broken("restart", t, f"it tells orders {told} of an earlier boot")

    def _receipt(self, t: int, packet: Receipt, frame: bytes) -> None:
        if packet.answer is ReceiptKind.RECEIVED:
            self._received(t, packet, frame)
        elif packet.answer is ReceiptKind.ACKNOWLEDGED:
            self._pressed(t, packet, frame)
        else:
            self.comings_out += 1
            right = packet.order == self.acknowledged
            why = (
                "" if right else f"order {packet.order}, where {self.acknowledged} was acknowledged"
            )
            self._findings.judge("coming out", t, why, frame)

    def _received(self, t: int, packet: Receipt, frame: bytes) -> None:
        number = packet.order
        question = self._put.get(number)
        if question is None:
            self._findings.broken("received", t, f"order {number} was never given", frame)
            return
        count = self._receipts[number] = self._receipts.get(number, 0) + 1
        if count > self._asked_times[number]:
            twice = "twice" if question.times > 1 else "once"
            self._findings.broken(twice, t, f"order {number}: {count} receipts", frame)
        put = self._open.pop(number, None)
        self._answers += put is not None
        if question.beacon is not None:
            if put is not None:
                self._beacon_told(t, put, packet, frame)
            self._obeyed(number, question)
        elif question.expect == "refused":
            self._wrongly(t, number, question, put, frame)
        else:
            self._rightly(t, number, question, put, frame)

    def _rightly(
        self, t: int, number: int, question: Question, put: Put | None, frame: bytes
    ) -> None:
        self._obeyed(number, question)
        if put is None:
            return
        delay_ns = t - put.sent_ns
        late = delay_ns > RECEIVED_NS + SLACK_NS
        self._findings.judge(
            "received", t, f"after {delay_ns / SECOND_NS:.1f} s" if late else "", frame
        )
        self._findings.kept(question.rule)
        if put.tries == 1 and question.times == 1:
            least, most = RECEIVED_S
            self._delays.append((delay_ns / SECOND_NS - least) / (most - least))

    def _obeyed(self, number: int, question: Question) -> None:
        self.level = max(self.level, number)
        if question.what not in CONFIRMATIONS and not question.again:
            self.to_press = max(self.to_press, number)

    def _wrongly(
        self, t: int, number: int, question: Question, put: Put | None, frame: bytes
    ) -> None:
        if question.exact and (put is None or not self._met_between_frames(put)):
            # A frame may have been on its way to us: then the order was right.
            self._obeyed(number, question)
            self.unclear.append(question)
            return
        self._wrong.add(number)
        self._findings.broken(question.rule, t, f"order {number} was obeyed", frame)

    def _beacon_told(self, t: int, put: Put, packet: UpPacket, frame: bytes) -> None:
        heard, question = packet.beacon_heard, put.question
        if question.expect == "refused":
            wrong = heard == put.value
            self._findings.judge(question.rule, t, f"{heard:#x} was taken" if wrong else "", frame)
        elif heard == put.value:
            self._findings.kept(question.rule)
        else:
            self._missed[question] += 1
            if self._missed[question] < TRIES_MAX:
                self.unclear.append(question)
                return
            why = f"{heard:#x}, and not {put.value:#x}"
            self._findings.broken(question.rule, t, why, frame)

    def _met_between_frames(self, put: Put) -> bool:
        """Whether the pack had surely sent nothing when it heard that order."""
        next_ns = self.conduct.first_after(put.highest)
        return next_ns is None or next_ns - put.sent_ns > SLACK_NS

    def _pressed(self, t: int, packet: Receipt, frame: bytes) -> None:
        self.presses += 1
        if not self.may_press:
            self._findings.broken("unasked", t, f"order {packet.order}: nobody has pressed", frame)
        else:
            # The wearer may press before the pack has said that it received the order.
            waits = [n for n, put in self._open.items() if put.question.what not in CONFIRMATIONS]
            right = packet.order in (self.to_press, *waits) and packet.order > self.acknowledged
            why = f"order {packet.order}, where {self.to_press} is the last that asks"
            self._findings.judge("button", t, "" if right else why, frame)
            self._findings.kept("unasked")
        self.may_press = False
        self.acknowledged = max(self.acknowledged, packet.order)

    # ------------------------------------------------------------ reports

    def _report(self, t: int, packet: Report, frame: bytes) -> None:
        self.distress = packet.distress
        whole = self.conduct.boot is not None and not self.conduct.boot.missing
        told = packet.order_received
        question = self._put.get(told)
        if told in self._wrong or (question is not None and question.never):
            if told not in self._wrong:
                self._wrong.add(told)
                self._open.pop(told, None)
                why = f"a report tells order {told} as received"
                self._findings.broken(question.rule if question else "level", t, why, frame)
        else:
            if told > self.level and question is not None:
                self.level = told
            why = f"{told}, and not {self.level}" if told != self.level else ""
            if self.level or why:
                self._findings.judge("level", t, why, frame)
        if packet.order_acknowledged != self.acknowledged:
            why = f"{packet.order_acknowledged}, where {self.acknowledged} was acknowledged"
            if whole or packet.order_acknowledged < self.acknowledged:
                self._findings.broken("button", t, why, frame)
        self._settle_silent()

    def _settle_silent(self) -> None:
        """What no receipt and now no report has told was refused."""
        for number, put in list(self._open.items()):
            if put.silent:
                del self._open[number]
                self._findings.kept(put.question.rule)
