"""Reads a file that a person named: at once, whole, and never more than it may be.

Whatever stands under a name must end in one line for a person: a pipe that nobody writes to, a
device, a folder, a file of 20 GiB, a name that no system takes, text in another encoding, tables
nested ten thousand deep. So the kind is looked at before opening, the size before reading.
"""

import os
import stat
import tomllib
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO, Any

from shared.printable import escaped

_FLAGS = (
    os.O_RDONLY
    | getattr(os, "O_CLOEXEC", 0)
    | getattr(os, "O_NONBLOCK", 0)
    | getattr(os, "O_NOCTTY", 0)
    | getattr(os, "O_BINARY", 0)
)
"""Nothing is waited for, and no terminal becomes ours. Not every system has all of them."""
_KINDS = (
    (stat.S_ISDIR, "is a folder"),
    (stat.S_ISFIFO, "is a pipe"),
    (stat.S_ISSOCK, "is a socket"),
    (stat.S_ISCHR, "is a device"),
    (stat.S_ISBLK, "is a device"),
)


class Unreadable(Exception):
    """A file that cannot be used: what is wrong, and what to do about it."""

    def __init__(self, what: str, to_do: str) -> None:
        """Hold both parts; ``what`` goes on from the name of the kind: "is not TOML"."""
        super().__init__(what, to_do)
        self.what = what
        self.to_do = to_do


class NotThere(Unreadable):
    """There is nothing of that name."""


def home(text: str) -> Path:
    """The path that a person wrote; ``~`` is their own folder, where the system knows it."""
    path = Path(text)
    try:
        return path.expanduser()
    except RuntimeError:
        return path


def regular(path: Path) -> os.stat_result:
    """Say that ``path`` is a plain file, or a link to one. Raises Unreadable, NotThere."""
    try:
        found = path.stat()
    except (OSError, ValueError) as error:
        raise _told(error) from None
    _check_kind(found.st_mode)
    return found


def read_bytes(path: Path, bytes_max: int) -> bytes:
    """The whole file. Raises Unreadable, NotThere."""
    return read_private(path, bytes_max)[0]


def read_private(path: Path, bytes_max: int) -> tuple[bytes, int]:
    """The whole file and the mode it had when it was open. Raises Unreadable, NotThere."""
    number = _opened(path)
    try:
        found = os.fstat(number)
        _check_kind(found.st_mode)
        if found.st_size <= bytes_max:
            with os.fdopen(os.dup(number), "rb") as file:
                data = file.read(bytes_max + 1)
            if len(data) <= bytes_max:
                return data, found.st_mode
    except OSError as error:
        raise _told(error) from None
    finally:
        os.close(number)
    raise Unreadable("is too long", f"at most {bytes_max} bytes")


def part(path: Path, count: int, at: int = 0) -> bytes:
    """At most ``count`` bytes of a file of any length. Raises Unreadable, NotThere."""
    number = _opened(path)
    try:
        _check_kind(os.fstat(number).st_mode)
        os.lseek(number, at, os.SEEK_SET)
        return os.read(number, count)
    except OSError as error:
        raise _told(error) from None
    finally:
        os.close(number)


@contextmanager
def lines(path: Path, line_bytes_max: int) -> Iterator[Iterator[bytes]]:
    """A file of any length line by line. Raises Unreadable, NotThere; so does taking the next."""
    number = _opened(path)
    with os.fdopen(number, "rb") as file:
        _check_kind(os.fstat(number).st_mode)
        yield _lines(file, line_bytes_max)


def _lines(file: IO[bytes], line_bytes_max: int) -> Iterator[bytes]:
    try:
        while line := file.readline(line_bytes_max + 1):
            if len(line) > line_bytes_max:
                raise Unreadable("has a line that is too long", "is it the right file?")
            yield line
    except OSError as error:
        raise _told(error) from None


def _opened(path: Path) -> int:
    # Opening alone can already do something to a device, so the kind is looked at before too.
    regular(path)
    try:
        return os.open(path, _FLAGS)
    except (OSError, ValueError) as error:
        raise _told(error) from None


def _check_kind(mode: int) -> None:
    if stat.S_ISREG(mode):
        return
    what = next((words for is_kind, words in _KINDS if is_kind(mode)), "is no plain file")
    raise Unreadable(what, "name a file")


def _told(error: OSError | ValueError) -> Unreadable:
    if isinstance(error, FileNotFoundError | NotADirectoryError):
        return NotThere("is not there", "check the name")
    if isinstance(error, OSError):
        return Unreadable(f"cannot be read ({error.strerror})", "name a file that can be read")
    return Unreadable("has a name that no file can have", "check the name")


def text_of(data: bytes) -> str:
    """UTF-8 as text. Raises Unreadable with the line."""
    try:
        return data.decode()
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        what = f"is not in UTF-8 at byte {error.start}, line {line}"
        raise Unreadable(what, "save it again as UTF-8") from None


def toml_of(text: str) -> dict[str, Any]:
    """A table from TOML. Raises Unreadable."""
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise Unreadable("is not TOML", escaped(str(error))) from None
    except RecursionError:
        raise Unreadable("is not TOML", "it is nested too deep") from None
    except ValueError:
        # The language refuses to make a number of more than some thousand digits.
        raise Unreadable("is not TOML", "a number or a date in it cannot be") from None
