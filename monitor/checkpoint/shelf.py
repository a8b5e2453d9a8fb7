"""Where the checkpoints of one journal are kept: files beside it, or memory.

They lie in ``.checkpoints/<journal>/`` in the journal's own folder, for the owner alone. A cache: a
disk that takes nothing, a folder that may not be written, a file that is not whole are all the same
as no checkpoint, and never an error.
"""

import contextlib
import os
from pathlib import Path
from typing import Protocol

from monitor.checkpoint.file import FILE_BYTES_MAX
from shared.reading import Unreadable, read_bytes

FOLDER = ".checkpoints"
ENDING = ".checkpoint"
ROOM_BYTES_MIN = 512 * 1024 * 1024
"""What is left of a disk is the journal's: with less than this free nothing is kept. It is eight
times the journal's ballast."""
FOLDER_MODE = 0o700
MODE = 0o600


class Shelf(Protocol):
    """Keeps bytes by name. Nothing it does fails; at worst, nothing is there."""

    def sizes(self) -> dict[str, int]:
        """Give the names of all that is kept, each with its number of bytes."""

    def get(self, name: str) -> bytes:
        """Give what is kept under a name; nothing if it is not there."""

    def put(self, name: str, raw: bytes) -> bool:
        """Keep it whole or not at all; say whether it is."""

    def drop(self, name: str) -> None:
        """Keep it no longer."""


class Memory:
    """Kept as long as the process."""

    def __init__(self) -> None:
        self._kept: dict[str, bytes] = {}

    def sizes(self) -> dict[str, int]:
        """All that is kept."""
        return {name: len(raw) for name, raw in self._kept.items()}

    def get(self, name: str) -> bytes:
        """One of them."""
        return self._kept.get(name, b"")

    def put(self, name: str, raw: bytes) -> bool:
        """Keep it."""
        self._kept[name] = raw
        return True

    def drop(self, name: str) -> None:
        """Forget it."""
        self._kept.pop(name, None)


def folder_of(journal: Path) -> Path:
    """Where the checkpoints of ``journal`` are, if there are any."""
    return journal.parent / FOLDER / journal.name


class Folder:
    """Kept in files beside a journal."""

    def __init__(
        self, journal: Path, room_bytes: int = ROOM_BYTES_MIN, ending: str = ENDING
    ) -> None:
        """Nothing is made before something is kept, nor while less than ``room_bytes`` are free.

        ``ending``: of the files, another for each kind of what is kept.
        """
        self._room_bytes = room_bytes
        self._ending = ending
        self.path = folder_of(journal)

    def sizes(self) -> dict[str, int]:
        """All that is kept."""
        found: dict[str, int] = {}
        with contextlib.suppress(OSError), os.scandir(self.path) as entries:
            for entry in entries:
                if entry.name.endswith(self._ending) and entry.is_file(follow_symlinks=False):
                    found[entry.name.removesuffix(self._ending)] = entry.stat().st_size
        return found

    def get(self, name: str) -> bytes:
        """One of them."""
        try:
            return read_bytes(self.path / f"{name}{self._ending}", FILE_BYTES_MAX)
        except Unreadable:
            return b""

    def put(self, name: str, raw: bytes) -> bool:
        """Write a file of its own, then give it its name: who reads sees all of it or none."""
        made = self.path / f"{name}.{os.getpid()}"
        try:
            if not self.path.is_dir():
                self.path.parent.mkdir(mode=FOLDER_MODE, exist_ok=True)
                self.path.mkdir(mode=FOLDER_MODE, exist_ok=True)
                clear(self.path.parent)
            disk = os.statvfs(self.path)
            if disk.f_bavail * disk.f_frsize < self._room_bytes:
                return False
            fd = os.open(made, os.O_WRONLY | os.O_CREAT | os.O_TRUNC | os.O_CLOEXEC, MODE)
            with os.fdopen(fd, "wb") as file:
                file.write(raw)
            made.replace(self.path / f"{name}{self._ending}")
        except OSError:
            with contextlib.suppress(OSError):
                made.unlink()
            return False
        return True

    def drop(self, name: str) -> None:
        """Take its file away."""
        with contextlib.suppress(OSError):
            (self.path / f"{name}{self._ending}").unlink()


class Both:
    """One shelf, and another for what it does not take."""

    def __init__(self, first: Shelf, second: Shelf) -> None:
        self._first = first
        self._second = second

    def sizes(self) -> dict[str, int]:
        """All that is kept in either."""
        return self._second.sizes() | self._first.sizes()

    def get(self, name: str) -> bytes:
        """From wherever it is."""
        return self._first.get(name) or self._second.get(name)

    def put(self, name: str, raw: bytes) -> bool:
        """In the first, if that takes it."""
        return self._first.put(name, raw) or self._second.put(name, raw)

    def drop(self, name: str) -> None:
        """From both."""
        self._first.drop(name)
        self._second.drop(name)


def clear(folder: Path) -> None:
    """Take away what is kept of journals that are not there any more: it tells of people."""
    with contextlib.suppress(OSError):
        for kept in list(folder.iterdir()):
            if (folder.parent / kept.name).exists():
                continue
            for path in list(kept.iterdir()):
                path.unlink(missing_ok=True)
            kept.rmdir()
