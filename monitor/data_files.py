"""Files that people write for an incident: by name if one comes with the program, else by path.

One way to read them all, so that what is wrong is always said alike: what, in which file and at
which key, and what to do.
"""

from pathlib import Path
from typing import TypeVar

from pydantic import BaseModel, ValidationError

import shared
from monitor.errors import BadFile
from shared import reading
from shared.reading import Unreadable
from shared.toml_lines import Place, line_of

_Model = TypeVar("_Model", bound=BaseModel)


def load(model: type[_Model], word: str, name_or_path: str, bytes_max: int) -> _Model:
    """Read a file of a kind into its model. Raises BadFile.

    ``word`` is the kind in the singular, as in "no such roster"; its folder in ``shared`` is named
    in the plural.
    """
    path, text = read(word, name_or_path, bytes_max)
    try:
        return model.model_validate(reading.toml_of(text))
    except Unreadable as error:
        raise unreadable(word, path, error) from None
    except ValidationError as error:
        raise _first(error, word, path, text) from None


def path_of(word: str, name_or_path: str) -> Path:
    """Where the file of that name stands, if one comes with the program, else that path."""
    kind = f"{word}s"
    inside = name_or_path in shared.names(kind)
    return shared.path(kind, f"{name_or_path}.toml") if inside else reading.home(name_or_path)


def read(word: str, name_or_path: str, bytes_max: int) -> tuple[Path, str]:
    """Read the text of a file of a kind. Raises BadFile."""
    path = path_of(word, name_or_path)
    try:
        return path, reading.text_of(reading.read_bytes(path, bytes_max))
    except reading.NotThere:
        known = ", ".join(shared.names(f"{word}s"))
        to_do = f"give a path, or one of: {known}" if known else "give the path of one"
        raise BadFile(f"no such {word}", str(path), to_do) from None
    except Unreadable as error:
        raise unreadable(word, path, error) from None


def unreadable(word: str, path: Path, error: Unreadable) -> BadFile:
    """Tell of a file of a kind that cannot be used."""
    return BadFile(f"{word} {error.what}", str(path), error.to_do)


def at(path: Path, text: str, place: Place) -> str:
    """Say where in a file a place is: ``file:line: key``; those in lists are counted from 1."""
    key = ".".join(str(p + 1 if isinstance(p, int) else p) for p in place)
    line = line_of(text, place)
    where = f"{path}:{line}" if line else str(path)
    return f"{where}: {key}" if key else where


def _first(error: ValidationError, word: str, path: Path, text: str) -> BadFile:
    """The first thing that is wrong."""
    fault = error.errors()[0]
    known = {"extra_forbidden": "unknown key", "missing": "missing key"}
    what = known.get(fault["type"], fault["msg"].removeprefix("Value error, "))
    return BadFile(f"{word}: {what}", at(path, text, fault["loc"]), "correct that line")
