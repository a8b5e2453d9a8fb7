"""What links hand over. Plain tuples: a base makes one for every datagram it hears."""

from typing import NamedTuple

from monitor.clock import Stamp

Address = tuple[str, int] | tuple[str, int, int, int]
"""Where a datagram came from, and may be answered to; the longer one is IPv6."""


class Chunk(NamedTuple):
    """Bytes as read in one go. On UDP a datagram; on a serial line any piece of the stream."""

    link: int
    stamp: Stamp
    source: Address | None
    """None on a serial line."""
    data: bytes


class LinkDown(NamedTuple):
    """A link has failed and reads no more."""

    link: int
    stamp: Stamp
    reason: str


class Overflow(NamedTuple):
    """So many chunks of a link were thrown away since the last hand-over, the inbox being full."""

    link: int
    chunks: int


Item = Chunk | LinkDown | Overflow
