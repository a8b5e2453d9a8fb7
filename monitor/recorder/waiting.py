"""What the links have read and nobody has folded yet: known packs first. Pure.

Whoever owns it takes a little at a time and looks at everything else between. While frames of
known packs wait, "now" is when the first of them was read: so the horizon moves with what has been
folded, and no pack is called silent whose frame lies here. What others send is not waited for.
"""

from collections import deque
from collections.abc import Sequence

from monitor.clock import Stamp
from monitor.links.chunk import Chunk, Item, Overflow

OTHERS_MAX = 50_000
"""As many as an inbox holds; more are thrown away, and counted."""


class Waiting:
    """Two queues."""

    __slots__ = ("_first", "_others")

    def __init__(self) -> None:
        self._first: deque[Item] = deque()
        self._others: deque[Item] = deque()

    def __bool__(self) -> bool:
        """Whether anything waits."""
        return bool(self._first or self._others)

    @property
    def others(self) -> int:
        """How many wait that come after the known packs."""
        return len(self._others)

    def add(self, first: Sequence[Item], others: Sequence[Item]) -> None:
        """Put more at the end; of others only as many as there is room for."""
        self._first.extend(first)
        room = OTHERS_MAX - len(self._others)
        self._others.extend(others[:room])
        dropped: dict[int, int] = {}
        for item in others[room:]:
            dropped[item.link] = dropped.get(item.link, 0) + 1
        self._first.extend(Overflow(link, count) for link, count in sorted(dropped.items()))

    def next(self, count: int) -> list[Item]:
        """At most so many, in the order in which they are to be taken."""
        queue = self._first or self._others
        return [queue.popleft() for _ in range(min(count, len(queue)))]

    def now(self, stamp: Stamp) -> Stamp:
        """The instant up to which everything of known packs has been taken."""
        return next((i.stamp for i in self._first if isinstance(i, Chunk)), stamp)
