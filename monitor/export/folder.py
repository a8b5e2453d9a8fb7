"""The folder of an export: it gets its name once everything is in it."""

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from monitor.errors import AlreadyThere, BadFile
from monitor.export.dictionary import dictionary
from monitor.export.sinks import MODE, open_new

MAKING = ".making"
FOLDER_MODE = MODE | 0o100
DICTIONARY = "DATA-DICTIONARY.md"


@contextmanager
def new_folder(path: Path) -> Iterator[Path]:
    """Give a folder to fill; it becomes ``path`` at the end, or goes if it could not be filled.

    Raises BadFile where ``path`` is there and not an empty folder, or no folder can be made.
    """
    making = path.with_name(path.name + MAKING)
    with told(path):
        if path.exists() and not (path.is_dir() and not any(path.iterdir())):
            raise AlreadyThere("there is something already", str(path), "name a new folder")
        if making.exists():
            shutil.rmtree(making)
        making.mkdir(FOLDER_MODE, parents=True)
        try:
            yield making
            write_new(making / DICTIONARY, dictionary())
            making.replace(path)
        except BaseException:
            shutil.rmtree(making, ignore_errors=True)
            raise


@contextmanager
def told(path: Path) -> Iterator[None]:
    """Say in plain words what the system says of a place."""
    try:
        yield
    except FileExistsError:
        raise AlreadyThere("there is a file already", str(path), "choose another name") from None
    except OSError as error:
        what = f"nothing can be written there ({error.strerror})"
        raise BadFile(what, str(path), "choose a place that can be written") from None


def write_new(path: Path, text: str) -> None:
    """Write a whole new file, for the owner alone. Raises OSError."""
    with open(open_new(path), "w", encoding="utf-8") as file:  # noqa: PTH123 - an open file
        file.write(text)
