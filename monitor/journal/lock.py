"""One recorder a journal: an advisory lock on a file beside it.

The lock belongs to the open file and so goes with the process, however it dies. It is ``flock``
and not SQLite's own lock because it must be held between commits and be tested by a board that
has no business writing.
"""

import contextlib
import fcntl
import os
import threading
from pathlib import Path
from typing import Self

TRIES = 5
PAUSE_S = 0.01
"""A board that asks ``is_free`` holds the lock for microseconds; somebody who wants it tries again
over 50 ms before they believe that it is taken."""
MODE = 0o600


def lock_path(journal: Path) -> Path:
    """Where the lock of ``journal`` is."""
    return journal.with_name(journal.name + ".lock")


def _try(fd: int, how: int) -> bool:
    try:
        fcntl.flock(fd, how | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    return True


def _is_at(fd: int, path: Path) -> bool:
    """Whether the open file is still the one of that name: a holder removes it as it leaves."""
    try:
        there = path.stat()
    except FileNotFoundError:
        return False
    return os.path.samestat(os.fstat(fd), there)


class Lock:
    """Held from ``take`` to ``release``, or to the end of the process."""

    def __init__(self, fd: int, path: Path) -> None:
        self._fd = fd
        self.path = path

    @classmethod
    def take(cls, journal: Path) -> Self | None:
        """Take the lock of ``journal``; None if somebody else has it.

        Raises OSError where the folder cannot be written.
        """
        path = lock_path(journal)
        for attempt in range(TRIES):
            if attempt:
                threading.Event().wait(PAUSE_S)
            fd = os.open(path, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, MODE)
            if _try(fd, fcntl.LOCK_EX) and _is_at(fd, path):
                with contextlib.suppress(OSError):
                    # For a person to read; a full disk must not keep a recorder from starting.
                    os.ftruncate(fd, 0)
                    os.write(fd, f"{os.getpid()}\n".encode("ascii"))
                return cls(fd, path)
            os.close(fd)
        return None

    def release(self) -> None:
        """Let go, and take the file away. Doing it twice is harmless."""
        if self._fd < 0:
            return
        with contextlib.suppress(FileNotFoundError):
            self.path.unlink()
        os.close(self._fd)
        self._fd = -1

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.release()


def is_free(journal: Path) -> bool:
    """Whether nobody records into ``journal`` at this moment. Makes no file."""
    try:
        fd = os.open(lock_path(journal), os.O_RDONLY | os.O_CLOEXEC)
    except FileNotFoundError:
        return True
    try:
        return _try(fd, fcntl.LOCK_SH)
    finally:
        os.close(fd)


def holder(journal: Path) -> int | None:
    """Process id that the holder wrote into the lock file; None where there is none."""
    try:
        return int(lock_path(journal).read_text(encoding="ascii"))
    except (FileNotFoundError, ValueError):
        return None
