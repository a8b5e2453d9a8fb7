"""Files that people write for an incident: by name if one comes with the program, else by path.

One way to read them all, so that what is wrong is always said alike: what, in which file and at
which key, and what to do.
"""

import tomllib
from pathlib import Path
from typing import TypeVar

from pydantic import BaseModel, ValidationError

import shared
from monitor.errors import BadFile
from shared.toml_lines import Place, line_of

_Model = TypeVar("_Model", bound=BaseModel)


def load(model: type[_Model], word: str, name_or_path: str, bytes_max: int) -> _Model:
    """Read a file of a kind into its model. Raises BadFile.

    ``word`` is the kind in the singular, as in "no such roster"; its folder in ``shared`` is named
    in the plural.
    """
    path, text = read(word, name_or_path, bytes_max)
    try:
        return model.model_validate(tomllib.loads(text))
    except tomllib.TOMLDecodeError as error:
        raise BadFile(f"{word} is not TOML", str(path), str(error)) from None
    except ValidationError as error:
        raise _first(error, word, path, text) from None


def path_of(word: str, name_or_path: str) -> Path:
    """Where the file of that name stands, if one comes with the program, else that path."""
    kind = f"{word}s"
    inside = name_or_path in shared.names(kind)
    return shared.path(kind, f"{name_or_path}.toml") if inside else Path(name_or_path)


def read(word: str, name_or_path: str, bytes_max: int) -> tuple[Path, str]:
    """Read the text of a file of a kind. Raises BadFile."""
    path = path_of(word, name_or_path)
    try:
        data = path.read_bytes()
        if len(data) > bytes_max:
            raise BadFile(f"{word} too long", str(path), f"at most {bytes_max} bytes")
        return path, data.decode()
    except FileNotFoundError:
        known = ", ".join(shared.names(f"{word}s"))
        to_do = f"give a path, or one of: {known}" if known else "give the path of one"
        raise BadFile(f"no such {word}", str(path), to_do) from None
    except OSError as error:
        reason = error.strerror or "not readable"
        raise BadFile(f"{word}: {reason}", str(path), "make it readable") from None
    except UnicodeDecodeError as error:
        what = f"{word} is not in UTF-8 at byte {error.start}"
        raise BadFile(what, str(path), "save it again as UTF-8") from None


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
