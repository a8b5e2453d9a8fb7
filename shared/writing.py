"""A new file that a person named: never one that is there, and none if it could not be filled."""

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO

FOR_ALL = 0o666
"""As the system's mask for new files has it: what tells of no real people."""


@contextmanager
def new_file(path: Path, mode: int = FOR_ALL) -> Iterator[IO[bytes]]:
    """Give a new file to fill; it is taken away again if that could not be done, or was broken off.

    Half of one would be taken for the whole, and be in the way of the next try. Raises OSError;
    FileExistsError where something has that name already.
    """
    number = os.open(path, os.O_RDWR | os.O_CREAT | os.O_EXCL | os.O_CLOEXEC, mode)
    try:
        with os.fdopen(number, "w+b") as file:
            yield file
    except BaseException:
        path.unlink(missing_ok=True)
        raise
