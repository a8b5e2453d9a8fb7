"""Time in which the base listened, as against time that merely passed.

When the recorder stalls, is stopped, or is down, silence proves nothing about a pack. Deadlines of
the radio link therefore count listening time only. Ages, and the air projection, count all time:
air is breathed whether anybody listens or not.
"""

from bisect import bisect_right

DEAF_SPELLS_MAX = 10_000
"""Spells kept. A recorder that stalls more often than this has no link worth judging; older spells
are then forgotten, which only makes silences of hours ago look longer."""


class Listening:
    """The spells in which nobody listened: sorted, apart from one another."""

    def __init__(self) -> None:
        self._from: list[int] = []
        self._to: list[int] = []
        self.lost_ns: int | None = None
        """When this machine last lost packets unread; None: not lately."""

    def deaf(self, from_ns: int, to_ns: int) -> None:
        """Nobody listened in this spell. Spells that touch become one."""
        if to_ns <= from_ns:
            return
        at = bisect_right(self._from, from_ns)
        if at and self._to[at - 1] >= from_ns:
            at -= 1
            from_ns = self._from[at]
        end = at
        while end < len(self._from) and self._from[end] <= to_ns:
            to_ns = max(to_ns, self._to[end])
            end += 1
        self._from[at:end] = [from_ns]
        self._to[at:end] = [to_ns]
        if len(self._from) > DEAF_SPELLS_MAX:
            del self._from[0], self._to[0]

    def listened_ns(self, since_ns: int, until_ns: int) -> int:
        """How much of the time between was listened to."""
        total = until_ns - since_ns
        for at in range(max(0, bisect_right(self._from, since_ns) - 1), len(self._from)):
            if self._from[at] >= until_ns:
                break
            overlap = min(self._to[at], until_ns) - max(self._from[at], since_ns)
            total -= max(0, overlap)
        return total

    def due_ns(self, since_ns: int, limit_ns: int) -> int:
        """The first instant at which ``limit_ns`` have been listened to since ``since_ns``."""
        due = since_ns + limit_ns
        for at in range(max(0, bisect_right(self._from, since_ns) - 1), len(self._from)):
            if self._from[at] >= due:
                break
            due += max(0, self._to[at] - max(self._from[at], since_ns))
        return due
