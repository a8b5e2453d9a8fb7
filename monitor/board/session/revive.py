"""Why the display has stopped, and starting a dead recorder again.

A recorder that holds its lock is alive, if stopped or starved: nothing is started beside it. One
whose lock is free is dead and is started anew, as a process in its own session, with pauses that
grow, so that one that cannot start does not eat the machine.
"""

from collections.abc import Callable
from dataclasses import dataclass

PAUSE_NS_FIRST = 2_000_000_000
PAUSE_NS_MAX = 30_000_000_000

ALIVE = "the recorder is there but does not answer"
STARTING = "the recorder had died: starting it again"
FAILED = "the recorder cannot be started"
HANGS = "the journal's disk does not answer"
ENDED = "recording was stopped on purpose"
"""Nothing is started before somebody asks for it."""


@dataclass(slots=True)
class Revive:
    """Looked at only while the display has stopped. Times are the boot clock, ns."""

    is_free: Callable[[], bool | None]
    """Whether nobody records into the journal; None: the disk does not answer."""
    start: Callable[[], None]
    """Starts a recorder; raises OSError."""
    last_words: Callable[[], str]
    """What the recorder started last said before it ended; empty while it runs."""
    starts: int = 0
    _next_ns: int = 0
    _pause_ns: int = PAUSE_NS_FIRST
    _cause: str = STARTING
    _ended: bool = False

    def look(self, now_ns: int) -> str:
        """Start the recorder if it is dead and its turn has come; say what is the matter."""
        try:
            free = self.is_free()
        except OSError as error:
            return f"the lock cannot be read: {error.strerror}"
        if free is None:
            return HANGS
        if not free:
            return ALIVE
        if self._ended:
            return ENDED
        if now_ns < self._next_ns:
            said = self.last_words()
            return f"{FAILED}: {said}" if said else self._cause
        self._next_ns = now_ns + self._pause_ns
        self._pause_ns = min(PAUSE_NS_MAX, self._pause_ns * 2)
        self.starts += 1
        try:
            self.start()
        except OSError as error:
            self._cause = f"{FAILED}: {error.strerror}"
        else:
            self._cause = STARTING
        return self._cause

    def well(self) -> None:
        """Take note that the display lives: the next death is met without a pause."""
        self._next_ns = 0
        self._pause_ns = PAUSE_NS_FIRST
        self._ended = False

    def ended(self) -> None:
        """Take note that the recorder ends on purpose: it is left alone until somebody asks."""
        self._ended = True

    def again(self) -> None:
        """Let a recorder that was stopped on purpose be started again; a held key counts once."""
        if self._ended:
            self._ended = False
            self._next_ns = 0


@dataclass(slots=True)
class LookOn:
    """For a view only board, which starts nothing."""

    is_free: Callable[[], bool | None]
    """Whether nobody records into the journal; None: the disk does not answer."""

    def look(self, now_ns: int) -> str:
        """Say what is the matter."""
        assert now_ns >= 0
        try:
            free = self.is_free()
        except OSError as error:
            return f"the lock cannot be read: {error.strerror}"
        if free is None:
            return HANGS
        return "nobody records" if free else ALIVE

    def well(self) -> None:
        """Nothing to take note of."""

    def ended(self) -> None:
        """Nothing to take note of."""

    def again(self) -> None:
        """Nothing is started by who only looks on."""
