"""Instants at which something becomes true by itself.

A heap of (time, kind, subject), fired in that order. It is lazy: most deadlines only ever move
later (each frame puts off the end of its pack's silence), so nothing is done here when they move.
When an entry comes up, whoever owns it says when it is really due, and it is put back if that is
later. A deadline that moves earlier must be put in anew.
"""

from enum import IntEnum
from heapq import heappop, heappush

NEVER_NS = 1 << 63
"""Later than any time there is."""


class Due(IntEnum):
    """What becomes true. At the same instant the lower number comes first."""

    ASIDE_OVER = 0
    STILL_AND_SILENT = 1
    SILENT = 2
    DOUBT_OVER = 3
    WORD = 4
    PROJECTED_LOW = 5
    FOREIGN_OVER = 6
    INSIST = 7
    PROJECTED_TURN = 8
    TURN_BACK_LATE = 9
    UNJOINED_STILL = 10
    ALONE = 11
    STANDBY = 12
    PROMPT = 13
    ORDER = 14
    ROLL_CALL = 15
    AIR_AGES = 16
    RELIEF = 17
    LOST_OVER = 18
    FLEET = 19
    OFF_DELAY = 20
    TOGETHER = 21
    TURN_SOON = 22
    OUT_BREATHES = 23
    ALL_NEW = 24


class Deadlines:
    """The heap. At most one entry that counts for each kind and subject."""

    def __init__(self) -> None:
        self.next_ns = NEVER_NS
        """Nothing fires before this; it may turn out that nothing fires at it either."""
        self._heap: list[tuple[int, Due, int]] = []
        self._earliest: dict[tuple[Due, int], int] = {}

    def put(self, t: int, kind: Due, subject: int) -> None:
        """Look at this again at ``t``, or at an earlier time that was already put in."""
        known = self._earliest.get((kind, subject))
        if known is not None and known <= t:
            return
        self._earliest[kind, subject] = t
        heappush(self._heap, (t, kind, subject))
        self.next_ns = min(self.next_ns, t)

    def pop(self, until_ns: int) -> tuple[int, Due, int] | None:
        """The first entry at or before ``until_ns``, taken out; None if there is none."""
        while self._heap and self._heap[0][0] <= until_ns:
            entry = heappop(self._heap)
            self.next_ns = self._heap[0][0] if self._heap else NEVER_NS
            t, kind, subject = entry
            if self._earliest.get((kind, subject)) == t:
                del self._earliest[kind, subject]
                return entry
        return None
