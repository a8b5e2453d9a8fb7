"""Holds the word that an act is taken until the act stands in what this board has read. Pure.

The desk answers as soon as the act is in the journal; the rows come to a board by another way and
a little later. Whoever reads TAKEN presses the next key at once, and it may build on what was
taken.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Protocol

from monitor.desk import Stopping, Taken
from monitor.desk_client import Answer

UNREAD_NS = 1_000_000_000
"""Then the word is said all the same: it is true, and what keeps the rows back is said itself."""


class Reads(Protocol):
    """What tells how far a board has read."""

    @property
    def catching_up(self) -> bool:
        """More is waiting than one poll takes: no picture is made until it has been read."""

    def did(self, act_id: str) -> bool:
        """Tell whether this act has been read and done."""


@dataclass(slots=True)
class Answers:
    """Answers on their way from the desk to the screen."""

    _unread: list[tuple[Taken, int]] = field(default_factory=list)
    """Taken, and since when that is known, boot clock, ns; oldest first."""

    def ready(self, new: Iterable[Answer], source: Reads, now_ns: int) -> list[Answer]:
        """Give those that may be said now, after ``source`` has been read; each once."""
        said: list[Answer] = []
        ending = False
        for answer in new:
            if isinstance(answer, Taken):
                self._unread.append((answer, now_ns))
            else:
                said.append(answer)
                ending = ending or isinstance(answer, Stopping)
        unread, self._unread = self._unread, []
        for taken, since_ns in unread:
            read = source.did(taken.id) and not source.catching_up
            if read or ending or now_ns - since_ns >= UNREAD_NS:
                said.append(taken)
            else:
                self._unread.append((taken, since_ns))
        # Nothing is heard after the last word of a recorder that stops.
        return sorted(said, key=lambda answer: isinstance(answer, Stopping))
