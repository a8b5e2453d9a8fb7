"""What a mirror says of its replica, in a file beside it: that it is one, and whether to trust it.

``NAME.journal.mirror`` is one JSON object. Whoever finds it knows that nobody but a mirror writes
that journal; the command post's board reads from it whether the door is to be trusted.
"""

import contextlib
import os
from pathlib import Path
from typing import Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from shared import reading
from shared.reading import Unreadable

ENDING = ".mirror"
FILE_BYTES_MAX = 10_000
TEXT_MAX = 400
MODE = 0o600


class Beside(BaseModel):
    """The state of one replica, as its mirror saw it last."""

    model_config = ConfigDict(frozen=True, extra="ignore")

    version: Literal[1] = 1
    operation: str = Field(max_length=TEXT_MAX)
    incident: str = Field(max_length=TEXT_MAX)
    proof: Literal["keyed", "open", "unproved"]
    """What its running digest shows here: see ``taking.Proof``."""
    fault: str = Field(default="", max_length=TEXT_MAX)
    """Why the newest that came was not taken; empty: all that came was right."""
    refused: int = Field(default=0, ge=0)
    """Messages, since the mirror was started, of which something was not taken."""
    cut_back: int = Field(default=0, ge=0)
    """How often the door went on otherwise, after a loss of power; what it had is kept aside."""


def beside(journal: Path) -> Path:
    """Where that file is."""
    return journal.with_name(journal.name + ENDING)


def is_replica(journal: Path) -> bool:
    """Whether a journal is one that only a mirror writes."""
    return os.path.lexists(beside(journal))


def read(journal: Path) -> Beside | None:
    """What is said of a journal; None: it is no replica. ValueError: it cannot be read."""
    if not is_replica(journal):
        return None
    try:
        return Beside.model_validate_json(reading.read_bytes(beside(journal), FILE_BYTES_MAX))
    except (Unreadable, ValidationError) as error:
        raise ValueError("what its mirror says cannot be read") from error


def write(journal: Path, said: Beside) -> None:
    """Say it, whole or not at all. Raises OSError."""
    place = beside(journal)
    making = place.with_name(place.name + ".making")
    with contextlib.suppress(FileNotFoundError):
        making.unlink()
    fd = os.open(making, os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_CLOEXEC, MODE)
    with os.fdopen(fd, "w", encoding="utf-8") as file:
        file.write(said.model_dump_json() + "\n")
    making.replace(place)
