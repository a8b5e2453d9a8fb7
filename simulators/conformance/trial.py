"""One trial of one pack: what is heard goes in, what a base sends comes out, rows at the end."""

from random import Random

from protocol import codec
from protocol.integrity import Keyring
from protocol.packets import Envelope, Receipt, Report
from protocol.rejects import Reject
from simulators.conformance.asking import Asking
from simulators.conformance.conduct import Conduct
from simulators.conformance.frames import RULE_OF, judge
from simulators.conformance.plan import RESTART, RESTART_NS, SWITCH_OFF, Press, course
from simulators.conformance.rules import Findings, Row

SECOND_NS = 1_000_000_000
AFTER_SIGN_OFF_NS = 4 * SECOND_NS
"""All copies are out within 3 s."""
SWITCH_OFF_NS = 15 * SECOND_NS
"""So long a person has to switch the pack off; asked at the latest so long before the end."""


class Trial:
    """A pack under trial: the one that is named, else the first that is heard."""

    def __init__(
        self,
        keyring: Keyring | None,
        random: Random,
        now_ns: int,
        *,
        length_ns: int,
        identity: int = 0,
    ) -> None:
        """Begin; ``identity`` 0: whoever is heard first."""
        self.findings = Findings(now_ns)
        self.conduct = Conduct(self.findings)
        self.asking = Asking(self.findings, self.conduct, keyring, random)
        self.asking.identity = identity
        self.frames = 0
        """Of the pack, copies among them."""
        self.others: set[int] = set()
        """Other packs that were heard."""
        self._keyring = keyring
        self._end_ns = now_ns + length_ns
        self._steps = course()
        self._said: object = None
        self._off_asked_ns: int | None = None

    @property
    def identity(self) -> int:
        """The pack under trial; 0: none was heard or named."""
        return self.asking.identity

    @property
    def lost_share(self) -> float:
        """What the link loses, the worse of both ways as far as can be told, 0 to 1."""
        return max(self.conduct.lost_share, self.asking.lost_share)

    def hear(self, t: int, frame: bytes | Reject) -> bool:
        """Take in a frame, or what of one was damaged on a line; True: it is the pack's."""
        if isinstance(frame, Reject):
            self.findings.broken(RULE_OF[frame], t, frame.words)
            return False
        identity = _identity(frame)
        if identity is not None and self.identity not in (0, identity):
            self.others.add(identity)
            return False
        found = judge(frame, self._keyring, self.findings, t)
        if found is None:
            return identity is not None
        packet, own = found
        self.asking.identity = packet.identity
        self.frames += 1
        if self.conduct.take(t, packet, own):
            self.asking.heard(t, packet, own)
        return True

    def step(self, t: int) -> list[bytes]:
        """The frames to send now."""
        if not self.frames or self.conduct.boot is None:
            return []
        if self.conduct.signed_off_ns is not None:
            return []
        frames = self.asking.again_due(t) + self.asking.beacon_due(t)
        while self._steps and self._steps[0].over(self.asking, t):
            self._steps.pop(0)
        if self._steps and self._off_asked_ns is None:
            frames += self._steps[0].due(self.asking, t)
        return frames

    def prompt(self, t: int) -> str:
        """What the person at the pack is to do, once; empty: nothing new."""
        if not self.frames or self._off_asked_ns is not None:
            return ""
        if not self._steps or t > self._end_ns - SWITCH_OFF_NS:
            self._off_asked_ns = t
            return SWITCH_OFF
        step = self._steps[0]
        if step is self._said or not isinstance(step, Press):
            return ""
        self._said = step
        return step.prompt

    def over(self, t: int) -> bool:
        """Its time is over, or the pack has signed off and does not come on again."""
        if t >= self._end_ns:
            return True
        if self._off_asked_ns is not None and t - self._off_asked_ns > SWITCH_OFF_NS:
            return True
        off_ns = self.conduct.signed_off_ns
        if off_ns is None:
            return False
        step = self._steps[0] if self._steps else None
        comes_back = isinstance(step, Press) and step.prompt == RESTART
        return t - off_ns > (RESTART_NS if comes_back else AFTER_SIGN_OFF_NS)

    def rows(self, t: int) -> list[Row]:
        """Give the table; the trial is over."""
        self.conduct.end(t)
        self.asking.end(t)
        return self.findings.rows()


def _identity(frame: bytes) -> int | None:
    """Whose it says it is, if it can be read at all."""
    packet = codec.decode(frame)
    if isinstance(packet, Envelope):
        packet = codec.decode(packet.frame)
    return packet.identity if isinstance(packet, Report | Receipt) else None
