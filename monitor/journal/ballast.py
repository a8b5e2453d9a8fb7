"""Space held in reserve beside a journal: a file of nothing, given back when the disk is full.

A full disk is found out by a commit that fails. With the ballast given back the same commit goes
through at once, and the officer has hours, not seconds, in which to free some space: 64 MiB are
half a million frames.
"""

import contextlib
import errno
import os
from pathlib import Path

from monitor.own_file import make_anew

BALLAST_BYTES = 64 * 1024 * 1024
ROOM_AGAIN_BYTES = 2 * BALLAST_BYTES
"""So much must be free before a ballast that was given back is taken again: else it would be given
back with the next commit, and so on in turns."""
ROOM_TO_START_BYTES = 4 * 1024 * 1024
"""A recorder that starts writes some itself, before its first commit can find the disk full."""
_NO_SPACE = (errno.ENOSPC, errno.EDQUOT)


def ballast_path(journal: Path) -> Path:
    """Where the ballast of ``journal`` is."""
    return journal.with_name(journal.name + ".ballast")


class Ballast:
    """The reserve of one journal. Used by whoever holds the journal's lock."""

    def __init__(self, journal: Path, size_bytes: int = BALLAST_BYTES) -> None:
        """Nothing is taken yet; one that an earlier process left behind counts as held."""
        self.path = ballast_path(journal)
        self._bytes = size_bytes
        self.held = self._there()
        self.in_use = False
        """It was given back because the disk was full."""

    def take(self) -> bool:
        """Take the space; False if the disk has not so much. Raises OSError on other faults."""
        if self.held:
            return True
        if self._free_bytes() < self._bytes:
            # Not tried: it would take all that is left from everybody, for as long as it lasts.
            return False
        fd = make_anew(self.path, os.O_WRONLY)
        try:
            _reserve(fd, self._bytes)
        except OSError as error:
            self.give_back()
            if error.errno in _NO_SPACE:
                return False
            raise
        finally:
            os.close(fd)
        self.held = True
        return True

    def take_again(self) -> bool:
        """Take the space once there is plenty; say whether it is held."""
        if self.held:
            return True
        if self._free_bytes() < ROOM_AGAIN_BYTES * self._bytes // BALLAST_BYTES:
            return False
        return self.take()

    def make_room(self, room_bytes: int = ROOM_TO_START_BYTES) -> None:
        """Give it back if less than ``room_bytes`` are free: one that was killed on a full disk."""
        with contextlib.suppress(OSError):
            if self.held and self._free_bytes() < room_bytes:
                self.give_back()
                self.in_use = True

    def give_back(self) -> None:
        """Let the disk have the space. Doing it twice is harmless."""
        self.held = False
        with contextlib.suppress(OSError):
            self.path.unlink()

    def _free_bytes(self) -> int:
        free = os.statvfs(self.path.parent)
        return free.f_bavail * free.f_frsize

    def _there(self) -> bool:
        try:
            return self.path.lstat().st_size >= self._bytes
        except OSError:
            return False


def _reserve(fd: int, size_bytes: int) -> None:
    """Have blocks put by for a file, for sure: a file with holes would reserve nothing."""
    if hasattr(os, "posix_fallocate"):
        os.posix_fallocate(fd, 0, size_bytes)
        return
    block = bytes(1024 * 1024)
    for start in range(0, size_bytes, len(block)):
        os.write(fd, block[: size_bytes - start])
