"""Where the reading threads leave what they read, and the one loop that uses it picks it up.

A thread puts a whole burst at once and wakes the loop once, however many bursts come before the
loop gets there: a flood costs one wake-up, not one a packet. What does not fit is counted and the
count is handed over with the rest, so that no loss goes unseen.

Packs that are known, and lines, have a queue of their own: a flood of others neither fills nor
delays it. That a datagram is of a known pack is taken from what it says; it proves nothing.
"""

import threading
from collections.abc import Callable, Container, Sequence

from monitor.links.chunk import Chunk, Item, LinkDown, Overflow

CHUNKS_MAX = 50_000
"""Datagrams or pieces of a stream: half a second of a flood at 100,000 a second."""
BYTES_MAX = 16 * 1024 * 1024
_IDENTITY = slice(4, 8)
"""Of a frame of a pack, ..."""
_INNER = slice(16, 20)
"""... and of one in a base radio's envelope."""
_KIND = slice(1, 2)
_ENVELOPE = bytes((12,))


class _Queue:
    """One of the two."""

    def __init__(self) -> None:
        self.items: list[Item] = []
        self.bytes = 0

    def fits(self, burst: Sequence[Chunk], chunks_max: int, bytes_max: int) -> bool:
        """Take a burst whole, if there is room for it."""
        size = sum(len(chunk.data) for chunk in burst)
        if len(self.items) + len(burst) > chunks_max or self.bytes + size > bytes_max:
            return False
        self.items.extend(burst)
        self.bytes += size
        return True

    def take(self) -> list[Item]:
        """Everything in it."""
        items, self.items, self.bytes = self.items, [], 0
        return items


class Inbox:
    """Bounded, many threads in, one owner out."""

    def __init__(
        self,
        wake: Callable[[], None],
        chunks_max: int = CHUNKS_MAX,
        bytes_max: int = BYTES_MAX,
    ) -> None:
        """Begin empty; the limits are of each of the two queues.

        ``wake`` is called from a reading thread when something is here to be taken, once until it
        has been; such as ``loop.call_soon_threadsafe(...)`` wrapped up.
        """
        self.known: Container[bytes] = frozenset()
        """Identities, as in a frame, of the packs that come first."""
        self.forged: Callable[[bytes], bool] = lambda _frame: False
        """Whether a frame in a known pack's name cannot be genuine; asked in a flood alone, and by
        reading threads."""
        self._wake = wake
        self._chunks_max = chunks_max
        self._bytes_max = bytes_max
        self._guard = threading.Lock()
        self._first = _Queue()
        self._others = _Queue()
        self._overflow: dict[int, int] = {}
        self._woken = False
        self.overflow_total: dict[int, int] = {}
        """Chunks thrown away since the beginning, by link."""

    def put(self, link: int, burst: Sequence[Chunk]) -> None:
        """Add what one link read, in order. Never blocks; what does not fit is dropped."""
        first = [chunk for chunk in burst if self._comes_first(chunk)]
        others = [chunk for chunk in burst if not self._comes_first(chunk)] if first else burst
        with self._guard:
            for queue, part in ((self._first, first), (self._others, others)):
                if part and not queue.fits(part, self._chunks_max, self._bytes_max):
                    self._overflow[link] = self._overflow.get(link, 0) + len(part)
                    self.overflow_total[link] = self.overflow_total.get(link, 0) + len(part)
            wake, self._woken = not self._woken, True
        if wake:
            self._wake()

    def put_down(self, down: LinkDown) -> None:
        """Tell of a failed link; there is always room for it, since each link does so once."""
        with self._guard:
            self._first.items.append(down)
            wake, self._woken = not self._woken, True
        if wake:
            self._wake()

    def take(self) -> list[Item]:
        """Everything that has come since the last time: counts of loss, what comes first, the rest.

        Each of the two queues in its order.
        """
        first, others = self.take_both()
        return first + others

    def take_both(self) -> tuple[list[Item], list[Item]]:
        """The same, the rest apart."""
        with self._guard:
            first, others = self._first.take(), self._others.take()
            overflow, self._overflow = self._overflow, {}
            self._woken = False
        return [Overflow(link, count) for link, count in sorted(overflow.items())] + first, others

    def _comes_first(self, chunk: Chunk) -> bool:
        data, known = chunk.data, self.known
        if chunk.source is None or data[_IDENTITY] in known:
            return True
        return data[_KIND] == _ENVELOPE and data[_INNER] in known
