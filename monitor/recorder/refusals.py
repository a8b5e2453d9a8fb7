"""Frames that were not let through: counted by link and reason, a few kept to look at.

A flood must neither fill the disk nor hide: whatever arrives, one row a second and link says how
many of each kind there were, with at most eight of them in full.
"""

from monitor.incident.events import Refused
from protocol.rejects import Reject

REFUSED_ROW_NS = 1_000_000_000
"""At most one row in this time and link."""
SAMPLES_MAX = 8
"""Enough to see what kind of noise it is."""
SAMPLE_BYTES_MAX = 64
"""More than a status frame has; longer ones are cut."""

SILENT = frozenset({Reject.COPY})
"""The format sends copies on purpose: they are neither loss nor repetition."""


class Refusals:
    """Counts since the last row, for every link."""

    __slots__ = ("_counts", "_last_ns", "_samples")

    def __init__(self) -> None:
        self._counts: dict[int, dict[str, int]] = {}
        self._samples: dict[int, list[str]] = {}
        self._last_ns: dict[int, int] = {}

    def count(self, link: int, why: Reject, frame: bytes) -> None:
        """Count one frame; ``frame`` may be empty where the framing has swallowed it."""
        if why in SILENT:
            return
        counts = self._counts.setdefault(link, {})
        counts[why.name] = counts.get(why.name, 0) + 1
        samples = self._samples.setdefault(link, [])
        if frame and len(samples) < SAMPLES_MAX:
            samples.append(frame[:SAMPLE_BYTES_MAX].hex())

    def turned_away(self, link: int, count: int) -> None:
        """Count what the system has kept back of a flood: nobody has looked at it."""
        counts = self._counts.setdefault(link, {})
        counts[Reject.BUSY.name] = counts.get(Reject.BUSY.name, 0) + count

    def due(self, now_ns: int) -> list[Refused]:
        """Give the facts that are due now, by link, and count anew for those links."""
        ready = [
            link
            for link in sorted(self._counts)
            if now_ns - self._last_ns.get(link, now_ns - REFUSED_ROW_NS) >= REFUSED_ROW_NS
        ]
        return [self._take(link, now_ns) for link in ready]

    def _take(self, link: int, now_ns: int) -> Refused:
        self._last_ns[link] = now_ns
        return Refused(
            link=link, counts=self._counts.pop(link), samples=tuple(self._samples.pop(link, ()))
        )
