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

_Model = TypeVar("_Model", bound=BaseModel)


def load(model: type[_Model], word: str, name_or_path: str, bytes_max: int) -> _Model:
    """Read a file of a kind into its model. Raises BadFile.

    ``word`` is the kind in the singular, as in "no such roster"; its folder in ``shared`` is named
    in the plural.
    """
    kind = f"{word}s"
    inside = name_or_path in shared.names(kind)
    path = shared.path(kind, f"{name_or_path}.toml") if inside else Path(name_or_path)
    where = str(path)
    try:
        data = path.read_bytes()
        if len(data) > bytes_max:
            raise BadFile(f"{word} too long", where, f"at most {bytes_max} bytes")
        return model.model_validate(tomllib.loads(data.decode()))
    except FileNotFoundError:
        known = ", ".join(shared.names(kind))
        raise BadFile(f"no such {word}", where, f"give a path, or one of: {known}") from None
    except OSError as error:
        reason = error.strerror or "not readable"
        raise BadFile(f"{word}: {reason}", where, "make it readable") from None
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise BadFile(f"{word} is not TOML", where, str(error)) from None
    except ValidationError as error:
        raise _first(error, word, where) from None


def _first(error: ValidationError, word: str, where: str) -> BadFile:
    """The first thing that is wrong; places in lists are counted from 1, as people do."""
    fault = error.errors()[0]
    place = ".".join(str(p + 1 if isinstance(p, int) else p) for p in fault["loc"])
    known = {"extra_forbidden": "unknown key", "missing": "missing key"}
    what = known.get(fault["type"], fault["msg"])
    return BadFile(f"{word}: {what}", f"{where}: {place}" if place else where, "correct that line")
