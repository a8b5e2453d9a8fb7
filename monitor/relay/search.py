"""Finding a place in a stream: it holds things in order, so halving finds it in few questions."""

from collections.abc import Callable

from monitor.relay.broker import Found, Stream


async def last_where(broker: Stream, subject: str, right: Callable[[bytes], bool]) -> Found | None:
    """The last message on a subject of those that are right; None: not even the first is.

    All that are right are taken to stand before all that are not; where they do not, it gives one
    that is right and has one that is not behind it.
    """
    low, last = await broker.bounds()
    high, best = last + 1, None
    while low < high:
        middle = (low + high) // 2
        found = await broker.next(subject, middle)
        if found is not None and found.seq < high and right(found.data):
            best, low = found, found.seq + 1
        else:
            high = middle
    return best
