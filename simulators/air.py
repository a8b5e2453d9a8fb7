"""Everything that is on its way: frames being sent, and frames that the way has made late.

On a shared channel a frame takes its time to send, and any two that overlap are lost, both (pure
ALOHA: nobody listens before it sends, no frame is strong enough to win). The base sends on the
same channel. At a base radio that a frame is too weak or too shaded to reach, it disturbs nobody;
a pack is disturbed by all that reaches any base radio. This is the one place where packs meet:
collisions are physics, and another pack makes more of them.

Without a shared channel sending takes no time and nothing collides.
"""

import heapq
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from simulators.channel import NEVER_THERE, Fate, Heading, Loss
from simulators.movement import FOREVER_NS
from simulators.pack import Outgoing
from simulators.radio import BASES_MAX, Shared

SECOND_NS = 1_000_000_000
NEVER_NS = FOREVER_NS

Counts = Counter[str]
"""Of one way: ``sent``, a count for each cause of loss, and what befell those that arrived."""
EVERY_BASE = (1 << BASES_MAX) - 1
COUNTED = ("sent", *Loss, "corrupted", "delayed", "reordered", "repeated", "arrived")


def base_sender(base: int) -> int:
    """Give a base radio as a sender; packs are theirs by their place in the fleet."""
    return -1 - base


@dataclass(slots=True)
class Passage:
    """One frame on its way to one hearer."""

    heading: Heading
    unit: int
    """Place in the fleet of the pack that sent it, or that is to hear it."""
    base: int
    """Place of the base radio that is to hear it, or that sent it."""
    sent_ns: int
    fate: Fate
    out: Outgoing | None = None
    """What the pack sent; None for a frame of the base."""


@dataclass(slots=True)
class _Flight:
    """One frame being sent, with its passage to each hearer."""

    start_ns: int
    end_ns: int
    passages: Sequence[Passage]
    reaches: int
    """The base radios it reaches, a bit each."""
    disturbed: int = 0
    """The base radios that anything sent meanwhile reaches."""

    def meets(self, other: "_Flight") -> bool:
        """Whether both are on the channel at once; one may begin as the other ends."""
        return self.start_ns < other.end_ns and other.start_ns < self.end_ns

    def collided(self, passage: Passage) -> bool:
        """Whether something else was there where the frame was to be heard."""
        if passage.heading is Heading.DOWN:
            return self.disturbed != 0
        return self.disturbed >> passage.base & 1 != 0


class Air:
    """Holds what was sent until it arrives; asked at times that never go back."""

    def __init__(self, shared: Shared | None) -> None:
        """``shared`` None: each pack has a channel of its own."""
        self.counts: dict[Heading, Counts] = {heading: Counter() for heading in Heading}
        self._shared = shared
        self._flights: list[tuple[int, int, _Flight]] = []
        self._arrivals: list[tuple[int, int, Passage]] = []
        self._busy_ns: dict[int, int] = {}
        self._serial = 0

    @property
    def due_ns(self) -> int:
        """When something ends or arrives next."""
        flight_ns = self._flights[0][0] if self._flights else NEVER_NS
        arrival_ns = self._arrivals[0][0] if self._arrivals else NEVER_NS
        return min(flight_ns, arrival_ns)

    def slot(self, sender: int, now_ns: int, frame: bytes) -> tuple[int, int]:
        """From when to when ``sender`` sends a frame: one after the other, each in its time."""
        shared = self._shared
        if shared is None:
            return now_ns, now_ns
        start_ns = max(now_ns, self._busy_ns.get(sender, 0))
        bits = 8 * (len(frame) + shared.extra_bytes)
        end_ns = start_ns - (-bits * SECOND_NS // shared.bit_rate)
        self._busy_ns[sender] = end_ns
        return start_ns, end_ns

    def send(self, start_ns: int, end_ns: int, passages: Sequence[Passage]) -> None:
        """Send one frame in its slot; what ended before now must have been settled."""
        flight = _Flight(start_ns, end_ns, passages, _reach(passages))
        if self._shared is not None:
            for _, _, other in self._flights:
                if flight.meets(other):
                    other.disturbed |= flight.reaches
                    flight.disturbed |= other.reaches
        self._serial += 1
        heapq.heappush(self._flights, (end_ns, self._serial, flight))

    def settled(self, now_ns: int) -> list[Passage]:
        """Frames whose last bit has been sent by now: their fates are certain, and counted."""
        certain: list[Passage] = []
        while self._flights and self._flights[0][0] <= now_ns:
            flight = heapq.heappop(self._flights)[2]
            for passage in flight.passages:
                if passage.fate.lost not in NEVER_THERE and flight.collided(passage):
                    passage.fate.lost = Loss.COLLISION
                self._count(passage)
                if passage.fate.lost is None:
                    for at_ns in passage.fate.arrives_ns:
                        self._serial += 1
                        heapq.heappush(self._arrivals, (at_ns, self._serial, passage))
            certain += flight.passages
        return certain

    def arrived(self, now_ns: int) -> list[tuple[int, Passage]]:
        """What has reached its hearer by now, with the time, in order."""
        there: list[tuple[int, Passage]] = []
        while self._arrivals and self._arrivals[0][0] <= now_ns:
            at_ns, _, passage = heapq.heappop(self._arrivals)
            self.counts[passage.heading]["arrived"] += 1
            there.append((at_ns, passage))
        return there

    def _count(self, passage: Passage) -> None:
        counts = self.counts[passage.heading]
        fate = passage.fate
        counts["sent"] += 1
        if fate.lost is not None:
            counts[fate.lost.value] += 1
            return
        counts["corrupted"] += fate.corrupted
        counts["delayed"] += fate.delayed
        counts["reordered"] += fate.reordered
        counts["repeated"] += len(fate.arrives_ns) - 1


def _reach(passages: Sequence[Passage]) -> int:
    """Give the base radios that a frame reaches; what a base radio sends reaches them all."""
    if not passages or passages[0].heading is Heading.DOWN:
        return EVERY_BASE
    there = 0
    for passage in passages:
        if passage.fate.lost not in NEVER_THERE:
            there |= 1 << passage.base
    return there


def count_lines(counts: dict[Heading, Counts]) -> dict[str, dict[str, int]]:
    """Give the counts of both ways with every name, also where nothing was counted."""
    return {heading.value: {name: counts[heading][name] for name in COUNTED} for heading in Heading}
