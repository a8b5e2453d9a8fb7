"""Where the reading threads leave what they read, and the one loop that uses it picks it up.

A thread puts a whole burst at once and wakes the loop once, however many bursts come before the
loop gets there: a flood costs one wake-up, not one a packet. What does not fit is counted and the
count is handed over with the rest, so that no loss goes unseen.
"""

import threading
from collections.abc import Callable, Sequence

from monitor.links.chunk import Chunk, Item, LinkDown, Overflow

CHUNKS_MAX = 50_000
"""Datagrams or pieces of a stream: half a second of a flood at 100,000 a second."""
BYTES_MAX = 16 * 1024 * 1024


class Inbox:
    """Bounded, many threads in, one owner out."""

    def __init__(
        self,
        wake: Callable[[], None],
        chunks_max: int = CHUNKS_MAX,
        bytes_max: int = BYTES_MAX,
    ) -> None:
        """Begin empty.

        ``wake`` is called from a reading thread when something is here to be taken, once until it
        has been; such as ``loop.call_soon_threadsafe(...)`` wrapped up.
        """
        self._wake = wake
        self._chunks_max = chunks_max
        self._bytes_max = bytes_max
        self._guard = threading.Lock()
        self._items: list[Item] = []
        self._bytes = 0
        self._overflow: dict[int, int] = {}
        self._woken = False
        self.overflow_total: dict[int, int] = {}
        """Chunks thrown away since the beginning, by link."""

    def put(self, link: int, burst: Sequence[Chunk], burst_bytes: int) -> None:
        """Add what one link read, in order. Never blocks; a burst that does not fit is dropped."""
        with self._guard:
            fits = (
                len(self._items) + len(burst) <= self._chunks_max
                and self._bytes + burst_bytes <= self._bytes_max
            )
            if fits:
                self._items.extend(burst)
                self._bytes += burst_bytes
            else:
                self._overflow[link] = self._overflow.get(link, 0) + len(burst)
                self.overflow_total[link] = self.overflow_total.get(link, 0) + len(burst)
            wake, self._woken = not self._woken, True
        if wake:
            self._wake()

    def put_down(self, down: LinkDown) -> None:
        """Tell of a failed link; there is always room for it, since each link does so once."""
        with self._guard:
            self._items.append(down)
            wake, self._woken = not self._woken, True
        if wake:
            self._wake()

    def take(self) -> list[Item]:
        """Everything that has come since the last time, in order; counts of loss come first."""
        with self._guard:
            items, self._items = self._items, []
            overflow, self._overflow = self._overflow, {}
            self._bytes = 0
            self._woken = False
        if not overflow:
            return items
        return [Overflow(link, count) for link, count in sorted(overflow.items())] + items
