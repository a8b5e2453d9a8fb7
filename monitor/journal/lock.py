"""One recorder a journal: an advisory lock on a file beside it, and on the journal itself.

Locks belong to open files and so go with the process, however it dies. They are ``flock`` and not
SQLite's own because they must be held between commits and be tested by a board that has no business
writing.

The file beside is what others look at. It can be deleted, and then says nothing: so whoever records
holds the journal's own file too, which nobody can take from them. That one is opened before SQLite
has the file, or never closed while it has: closing any handle drops the locks that SQLite holds for
the whole process (POSIX record locks; ``flock`` is of another kind on Linux, where neither sees the
other). Elsewhere the two are one kind, and only the file beside is locked.
"""

import contextlib
import fcntl
import logging
import os
import sys
import threading
from collections.abc import Collection
from pathlib import Path
from typing import Self

from monitor.own_file import open_own

LOOK_S = 0.5
"""How often it is looked whether the file beside is still there."""
TRIES = 5
PAUSE_S = 0.01
"""A board that asks ``is_free`` holds the lock for microseconds; somebody who wants it tries again
over 50 ms before they believe that it is taken."""
PATIENT_TRIES = 200
"""And over 2 s where the system lists no lock like a recorder's: on a busy machine a board may be
kept waiting in the midst of asking."""
TABLE = Path("/proc/locks")
"""Linux: every lock on a file; proc(5). A file system that numbers its files otherwise here than to
``stat`` is not found in it: then the file beside alone tells."""
TABLE_BYTES_MAX = 1024 * 1024
_log = logging.getLogger(__name__)
_KIND, _HOW, _FILE = 1, 3, 5
"""Words of a line: ``1: FLOCK ADVISORY WRITE pid major:minor:inode start end``, counted from 0."""
_ON_JOURNAL = sys.platform == "linux"
"""``flock`` and SQLite's record locks do not see each other: flock(2), "Interaction"."""


def lock_path(journal: Path) -> Path:
    """Where the lock of ``journal`` is."""
    return journal.with_name(journal.name + ".lock")


def _taken(path: Path) -> int | None:
    """Open, or make, and lock the file beside; None if somebody else has it. OSError."""
    fd = open_own(path, os.O_RDWR | os.O_CREAT)
    if _try(fd, fcntl.LOCK_EX) and _is_at(fd, path):
        with contextlib.suppress(OSError):
            # For a person to read; a full disk must not keep a recorder from starting.
            os.ftruncate(fd, 0)
            os.write(fd, f"{os.getpid()}\n".encode("ascii"))
        return fd
    os.close(fd)
    return None


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

    def __init__(self, fd: int, journal: Path) -> None:
        self._fd = fd
        self._journal = journal
        self._on_journal = -1
        self.path = lock_path(journal)

    @classmethod
    def take(cls, journal: Path) -> Self | None:
        """Take the lock of ``journal``; None if somebody else has it.

        Raises OSError where the folder cannot be written, or something else lies in the lock's
        place. No SQLite connection of this process may have the journal open.
        """
        for attempt in range(PATIENT_TRIES):
            if attempt:
                threading.Event().wait(PAUSE_S)
            if attempt >= TRIES and _listed(lock_path(journal), kinds=("WRITE",)):
                return None
            fd = _taken(lock_path(journal))
            if fd is not None:
                lock = cls(fd, journal)
                if lock.hold():
                    return lock
                # Its recorder has lost the file beside: it keeps the one that was made here.
                lock.let_go()
                return None
        return None

    def hold(self) -> bool:
        """Hold the journal itself, once it is there; False if somebody else records into it."""
        if not _ON_JOURNAL or self._on_journal >= 0:
            return True
        try:
            flags = os.O_RDONLY | os.O_CLOEXEC | os.O_NONBLOCK
            self._on_journal = os.open(self._journal, flags)
        except FileNotFoundError:
            return True
        return _try(self._on_journal, fcntl.LOCK_EX)

    def restore(self) -> bool:
        """Make the file beside anew if somebody has taken it away; say whether that was so.

        Raises OSError.
        """
        if self._fd < 0 or _is_at(self._fd, self.path):
            return False
        fd = _taken(self.path)
        if fd is None:
            return False
        os.close(self._fd)
        self._fd = fd
        return True

    def release(self) -> None:
        """Let go, and take the file away. Doing it twice is harmless."""
        with contextlib.suppress(OSError):
            if self._fd >= 0 and _is_at(self._fd, self.path):
                self.path.unlink()
        self.let_go()

    def let_go(self) -> None:
        """Let go, and leave the file where it is."""
        for fd in (self._fd, self._on_journal):
            if fd >= 0:
                os.close(fd)
        self._fd = self._on_journal = -1

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.release()


class Guard:
    """Makes the file beside anew when somebody has taken it away.

    A thread of its own, since a disk may hang. ``end`` it before the lock is released.
    """

    def __init__(self, lock: Lock, look_s: float = LOOK_S) -> None:
        """Begin to look, every ``look_s``."""
        self._lock = lock
        self._look_s = look_s
        self._ending = threading.Event()
        self._thread = threading.Thread(target=self._run, name="lock", daemon=True)
        self._thread.start()

    def end(self) -> None:
        """Look no more."""
        self._ending.set()
        self._thread.join(self._look_s)

    def _run(self) -> None:
        while not self._ending.wait(self._look_s):
            with contextlib.suppress(OSError):
                if self._lock.restore():
                    _log.warning("the lock file was taken away, and is made anew")


def is_free(journal: Path) -> bool:
    """Whether nobody records into ``journal`` at this moment. Makes no file. Raises OSError."""
    try:
        fd = os.open(lock_path(journal), os.O_RDONLY | os.O_CLOEXEC | os.O_NONBLOCK)
    except FileNotFoundError:
        return not _listed(journal)
    try:
        return _try(fd, fcntl.LOCK_SH) and not _listed(journal)
    finally:
        os.close(fd)


def is_recorded(journal: Path) -> bool:
    """Whether somebody records into ``journal``, as far as can be seen.

    For whoever looks through a folder, where one bad neighbour must not stand in the way: of a lock
    that cannot be opened (another user's, a link in a circle) only the system's table tells.
    """
    try:
        return not is_free(journal)
    except OSError:
        return _listed(journal)


def _listed(journal: Path, table: Path = TABLE, kinds: Collection[str] = ("READ", "WRITE")) -> bool:
    """Whether the system lists a lock on the journal itself, of these kinds.

    A look into a table: whoever reads the journal by SQLite must not open it in another way.
    """
    try:
        found = journal.stat()
        with table.open("rb") as file:
            lines = file.read(TABLE_BYTES_MAX).decode("ascii", "replace").splitlines()
    except OSError:
        return False
    device = f"{os.major(found.st_dev):02x}:{os.minor(found.st_dev):02x}:{found.st_ino}"
    return any(
        len(words) > _FILE
        and words[_KIND] == "FLOCK"
        and words[_FILE] == device
        and words[_HOW] in kinds
        for words in map(str.split, lines)
    )


def holder(journal: Path) -> int | None:
    """Process id that the holder wrote into the lock file; None where there is none."""
    try:
        return int(lock_path(journal).read_text(encoding="ascii"))
    except (FileNotFoundError, ValueError):
        return None
