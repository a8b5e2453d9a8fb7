"""Procedures: the rules in force at an incident. A TOML file, read once, when one is opened.

Afterwards the journal holds the procedure in full: a file that changes later changes nothing about
an incident that was opened before.
"""

import tomllib
from pathlib import Path

from pydantic import ValidationError

import shared
from monitor.errors import BadFile
from monitor.incident.procedure import Procedure

PROCEDURE_BYTES_MAX = 100_000
"""The longest procedure file; one is a page of values with their sources."""


def names() -> tuple[str, ...]:
    """Name the procedures that come with the program."""
    return shared.names("procedures")


def load(name_or_path: str) -> Procedure:
    """Read the procedure of that name, else the file at that path. Raises BadFile."""
    inside = name_or_path in names()
    path = shared.path("procedures", f"{name_or_path}.toml") if inside else Path(name_or_path)
    where = str(path)
    try:
        data = path.read_bytes()
        if len(data) > PROCEDURE_BYTES_MAX:
            raise BadFile("procedure too long", where, f"at most {PROCEDURE_BYTES_MAX} bytes")
        return Procedure.model_validate(tomllib.loads(data.decode()))
    except FileNotFoundError:
        known = ", ".join(names())
        raise BadFile("no such procedure", where, f"give a path, or one of: {known}") from None
    except OSError as error:
        reason = error.strerror or "not readable"
        raise BadFile(f"procedure: {reason}", where, "make it readable") from None
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise BadFile("procedure is not TOML", where, str(error)) from None
    except ValidationError as error:
        raise _first(error, where) from None


def _first(error: ValidationError, where: str) -> BadFile:
    fault = error.errors()[0]
    place = ".".join(str(part) for part in fault["loc"])
    what = {"extra_forbidden": "unknown key", "missing": "missing key"}.get(fault["type"])
    return BadFile(f"procedure: {what or fault['msg']}", f"{where}: {place}", "correct that line")
