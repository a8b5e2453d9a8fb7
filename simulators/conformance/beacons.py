"""The beacons of a trial, and whether the pack reports the last one. Pure."""

from protocol.packets import UpPacket
from simulators.conformance.down import Base, Whose
from simulators.conformance.rules import Findings
from simulators.conformance.timing import SECOND_NS, SLACK_NS

BEACON_NS = 5 * SECOND_NS
LOST_MAX = 3
"""So many in a row may be lost on their way before a pack is said to pass them over."""
BEHIND_LEAST = 3


class BeaconsSent:
    """What went out in this boot of the pack, and what came back."""

    def __init__(self, findings: Findings, base: Base) -> None:
        """Nothing was sent."""
        self._findings = findings
        self._base = base
        self.due_ns = 0
        self._sent: list[tuple[int, int]] = []
        """When, and the value; of all boots."""
        self._here = 0
        """Where those of this boot begin."""
        self._fresh = 0
        self._behind = 0
        self._example = b""
        self._heard: set[int] = set()
        self._passed_over: set[int] = set()
        """Values that were the last sent when the pack told an earlier one."""

    @property
    def missed(self) -> int:
        """Beacons that the pack has never told."""
        return len(self._passed_over - self._heard)

    @property
    def judged(self) -> int:
        """Beacons that it should have told."""
        return len(self._passed_over | self._heard)

    def due(self, t: int, whose: Whose) -> list[bytes]:
        """Make one now; the next is due 5 s later."""
        self.due_ns = t + BEACON_NS
        value = self._base.any_number()
        self.went(t, value)
        return [self._base.beacon(whose, value)]

    def went(self, t: int, value: int) -> None:
        """Note one that the pack should take."""
        self._sent.append((t, value))

    def lately(self, t: int) -> bool:
        """One may still be on its way."""
        return bool(self._sent) and t - self._sent[-1][0] <= SLACK_NS

    def begin(self) -> None:
        """Another boot of the pack: it has heard none."""
        self._here = len(self._sent)
        self.due_ns = 0

    def judge(self, t: int, packet: UpPacket, frame: bytes, began_ns: int) -> None:
        """Judge the value that a new frame tells."""
        told = packet.beacon_heard
        before = [value for at_ns, value in self._sent if at_ns < began_ns - SLACK_NS]
        if told and told in before:
            self._findings.broken("restart", t, f"{told:#x} is from before this boot", frame)
            return
        # On its way when the boot was heard for the first time.
        here = [(at_ns, value) for at_ns, value in self._sent if at_ns >= began_ns - SLACK_NS]
        due = [value for at_ns, value in here if t - at_ns > SLACK_NS]
        coming = [value for at_ns, value in here if t - at_ns <= SLACK_NS]
        self._heard.update({told}.intersection(due + coming))
        self._passed_over.update(due[-1:] if told not in coming else ())
        if told in due[-1:] or told in coming:
            self._fresh += 1
            self._findings.kept("beacon")
        elif told in due[-LOST_MAX:] or (not told and len(due) < LOST_MAX):
            if due:
                self._behind += 1
                self._example = frame
        elif told in due or not told:
            self._findings.broken("beacon", t, f"{told:#x} is not of late", frame)
        else:
            self._findings.broken("beacon", t, f"{told:#x} was never sent", frame)

    def end(self, t: int) -> None:
        """A link loses now and then; a pack that is always one behind is not the link."""
        if self._behind >= BEHIND_LEAST and self._behind > self._fresh:
            why = f"{self._behind} frames tell an earlier one, {self._fresh} the last"
            self._findings.broken("beacon", t, why, self._example)
