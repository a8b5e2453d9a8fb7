"""Everything that is on its way: frames being sent, and frames that the way has made late.

On a shared channel a frame takes its time to send, and any two that overlap are lost, both (pure
ALOHA: nobody listens before it sends, no frame is strong enough to win). The base sends on the
same channel. A frame too weak or too shaded to reach the base disturbs nobody. This is the one
place where packs meet: collisions are physics, and another pack makes more of them.

Without a shared channel sending takes no time and nothing collides.
"""

import heapq
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from simulators.channel import NEVER_THERE, Fate, Loss
from simulators.movement import FOREVER_NS
from simulators.pack import Outgoing
from simulators.radio import Shared

SECOND_NS = 1_000_000_000
NEVER_NS = FOREVER_NS

Counts = Counter[str]
"""Of one way: ``sent``, a count for each cause of loss, and what befell those that arrived."""
COUNTED = ("sent", *Loss, "corrupted", "delayed", "reordered", "repeated", "arrived")


BASE = -1
"""The base as a sender; packs are theirs by their place in the fleet."""


class Heading(StrEnum):
    """Which way a frame goes."""

    UP = "up"
    DOWN = "down"


@dataclass(slots=True)
class Passage:
    """One frame on its way to one hearer."""

    heading: Heading
    unit: int
    """Place in the fleet of the pack that sent it, or that is to hear it."""
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
    disturbs: bool
    collided: bool = False

    def meets(self, other: "_Flight") -> bool:
        """Whether both are on the channel at once; one may begin as the other ends."""
        at_once = self.start_ns < other.end_ns and other.start_ns < self.end_ns
        return self.disturbs and other.disturbs and at_once


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
        too_weak = bool(passages) and all(
            p.heading is Heading.UP and p.fate.lost in NEVER_THERE for p in passages
        )
        flight = _Flight(start_ns, end_ns, passages, disturbs=not too_weak)
        if self._shared is not None:
            for _, _, other in self._flights:
                if flight.meets(other):
                    other.collided = flight.collided = True
        self._serial += 1
        heapq.heappush(self._flights, (end_ns, self._serial, flight))

    def settled(self, now_ns: int) -> list[Passage]:
        """Frames whose last bit has been sent by now: their fates are certain, and counted."""
        certain: list[Passage] = []
        while self._flights and self._flights[0][0] <= now_ns:
            flight = heapq.heappop(self._flights)[2]
            for passage in flight.passages:
                if flight.collided and passage.fate.lost not in NEVER_THERE:
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


def count_lines(counts: dict[Heading, Counts]) -> dict[str, dict[str, int]]:
    """Give the counts of both ways with every name, also where nothing was counted."""
    return {heading.value: {name: counts[heading][name] for name in COUNTED} for heading in Heading}
