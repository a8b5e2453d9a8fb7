"""Whether a link's receiver can hear at all: evidence, when packs are silent, that it is the base.

A base radio beats once a second. A link that has beaten and falls quiet altogether has lost its
radio, though the port be open. A line that brings bytes but no frame has the wrong baud rate, or
is not a base radio's. Pure: a time is an argument.

A beat carries no proof, and while the last link counts as lost, alarms that a pack is silent are
held back. So a link that brings a genuine frame with no beat near it is one that does not stand on
a beating radio, and no beat is missed on it: a forged beat is then contradicted by the next pack
that is heard. What is left to a forger: one beat, and jamming from then on, turns NO SIGNAL into
RECEIVER DOWN, which comes sooner, is as urgent, and says voice and paper; what the estimates of air
say is never held back. Beats that go on hide a dead radio from this check; its packs are silent all
the same, and said to be.
"""

from dataclasses import dataclass

QUIET_NS = 2_500_000_000
"""Two beats missed, the second well overdue, and no pack heard either: told within two seconds of
the first that is missing. One beat lost to noise is nothing."""
JUNK_MIN = 8
"""Pieces that are no frames, with not one good frame between, before the line is called wrong."""
JUNK_NS = 5_000_000_000
"""And for at least so long."""

NO_BEAT = "the base radio's beat is missing"
NO_FRAMES = "bytes, but no frames: wrong baud rate, or no base radio?"


@dataclass(slots=True)
class _Receiver:
    wire: bool
    beats: bool = False
    """It is a base radio's, as far as anybody can tell."""
    beat_ns: int = 0
    """Last beat."""
    heard_ns: int = 0
    """Last beat or genuine frame, once it has beaten."""
    junk: int = 0
    """Pieces in a row that were no frames."""
    junk_since_ns: int = 0
    fault: str = ""


class Receivers:
    """One for each link that is open."""

    __slots__ = ("_links",)

    def __init__(self) -> None:
        """No link yet."""
        self._links: dict[int, _Receiver] = {}

    def open(self, link: int, *, wire: bool) -> None:
        """Begin with a link that has been opened; one that is open goes on."""
        self._links.setdefault(link, _Receiver(wire))

    def gone(self, link: int) -> None:
        """Forget a link whose port has failed: that is evidence enough."""
        self._links.pop(link, None)

    def beat(self, link: int, now_ns: int) -> None:
        """The link's base radio has beaten."""
        receiver = self._links.get(link)
        if receiver is not None:
            receiver.beats = True
            receiver.beat_ns = receiver.heard_ns = now_ns
            receiver.junk = 0

    def frame(self, link: int, now_ns: int) -> None:
        """A genuine frame has come by the link."""
        receiver = self._links.get(link)
        if receiver is not None:
            receiver.beats = receiver.beats and now_ns - receiver.beat_ns < QUIET_NS
            receiver.heard_ns = now_ns
            receiver.junk = 0

    def junk(self, link: int, now_ns: int) -> None:
        """Something has come by the link that is no frame."""
        receiver = self._links.get(link)
        if receiver is not None:
            if not receiver.junk:
                receiver.junk_since_ns = now_ns
            receiver.junk += 1

    def stalled(self, by_ns: int) -> None:
        """The recorder itself did not listen for so long."""
        for receiver in self._links.values():
            receiver.beat_ns += by_ns
            receiver.heard_ns += by_ns
            receiver.junk_since_ns += by_ns

    def look(self, now_ns: int) -> list[tuple[int, str]]:
        """Links whose fault has changed, with the fault in words; empty words: well again."""
        changed = []
        for link, receiver in self._links.items():
            fault = _fault(receiver, now_ns)
            if fault != receiver.fault:
                receiver.fault = fault
                changed.append((link, fault))
        return changed


def _fault(receiver: _Receiver, now_ns: int) -> str:
    if receiver.wire and receiver.junk >= JUNK_MIN and now_ns - receiver.junk_since_ns >= JUNK_NS:
        return NO_FRAMES
    if receiver.beats and now_ns - receiver.heard_ns >= QUIET_NS:
        return NO_BEAT
    return ""
