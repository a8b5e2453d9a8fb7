"""Which commits share a message, and when it goes. Pure: the time is handed in.

A message has its own weight, so commits of a quarter of a second share one. What can be an alarm
waits for nobody: an officer's act, a fact, an announcement goes at once, with all before it.
"""

from dataclasses import dataclass, field

from monitor.incident.rows import RowKind
from monitor.journal.schema import KIND_OF
from monitor.journal.sealing import Sealed
from monitor.relay.wire import COMMITS_MAX

BUNDLE_BYTES_MAX = 64 * 1024
"""Before it is compressed. A larger commit goes alone."""
BUNDLE_WAIT_NS = 200_000_000
"""So long the first commit of a message waits for others. A picture is drawn once a second."""


def is_urgent(sealed: Sealed) -> bool:
    """Whether a commit holds more than frames."""
    return any(KIND_OF.get(kind) is not RowKind.FRAME for kind in sealed.rows.kind)


@dataclass(slots=True)
class Bundle:
    """Commits that wait for their message. They follow one another."""

    first: int = 0
    last: int = -1
    commits: list[bytes] = field(default_factory=list)
    _bytes: int = 0
    _since_ns: int = 0
    _urgent: bool = False

    def add(self, number: int, raw: bytes, now_ns: int, *, urgent: bool) -> None:
        """Add the next commit. ``now_ns``: any clock that only goes forward."""
        if not self.commits:
            self.first, self._since_ns = number, now_ns
        assert number == self.first + len(self.commits), "commits follow one another"
        self.last = number
        self.commits.append(raw)
        self._bytes += len(raw)
        self._urgent = self._urgent or urgent

    @property
    def full(self) -> bool:
        """No more is to be added."""
        return self._bytes >= BUNDLE_BYTES_MAX or len(self.commits) >= COMMITS_MAX

    def is_due(self, now_ns: int) -> bool:
        """Whether it is to go now."""
        waited = now_ns - self._since_ns >= BUNDLE_WAIT_NS
        return bool(self.commits) and (self._urgent or self.full or waited)
