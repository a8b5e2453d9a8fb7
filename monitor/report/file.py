"""The file of a report: it gets its name once all of it is there, and writes over nothing."""

import os
from collections.abc import Iterable
from pathlib import Path

from monitor.errors import AlreadyThere, BadFile

MODE = 0o600
"""It holds names, whereabouts and the state of people."""
MAKING = ".making"


def must_be_new(path: Path) -> None:
    """Raise AlreadyThere where something has that name, be it a link that leads nowhere."""
    if os.path.lexists(path):
        raise AlreadyThere("there is a file already", str(path), "name another")


def write(path: Path, pieces: Iterable[str]) -> None:
    """Write a new file. Raises BadFile where there is one already, or none can be written."""
    must_be_new(path)
    renew(path, pieces)


def renew(path: Path, pieces: Iterable[str]) -> None:
    """Write the file in the place of the one that is there: whoever reads it has either, whole.

    Raises BadFile where it cannot be written.
    """
    making = path.with_name(path.name + MAKING)
    try:
        making.unlink(missing_ok=True)
        try:
            number = os.open(making, os.O_WRONLY | os.O_CREAT | os.O_EXCL, MODE)
            with open(number, "w", encoding="utf-8") as file:  # noqa: PTH123 - an open file
                file.writelines(pieces)
            making.rename(path)
        except BaseException:
            making.unlink(missing_ok=True)
            raise
    except OSError as error:
        what = f"nothing can be written there ({error.strerror})"
        raise BadFile(what, str(path), "choose a place that can be written") from None
