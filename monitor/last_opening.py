"""What was chosen at the last opening, to be offered at the next: a small file of the user's.

It is a convenience: one that cannot be read or kept is as if there were none.
"""

import contextlib
from pathlib import Path

import platformdirs
from pydantic import BaseModel, ConfigDict, Field, ValidationError

from shared.reading import Unreadable, read_bytes

FILE_BYTES_MAX = 4_096
PATH_MAX = 200
"""Characters, as of any setting."""
NAME = "last-opening.json"


class LastOpening(BaseModel):
    """Names of those that come with the program, or whole paths."""

    model_config = ConfigDict(frozen=True, extra="ignore")

    procedure: str = Field(default="", max_length=PATH_MAX)
    roster: str = Field(default="", max_length=PATH_MAX)


def file_path() -> Path:
    """Where it is kept: the platform's folder for state."""
    return platformdirs.user_state_path("outby", appauthor=False) / NAME


def load(path: Path) -> LastOpening:
    """Read it; nothing where there is none."""
    try:
        return LastOpening.model_validate_json(read_bytes(path, FILE_BYTES_MAX))
    except (Unreadable, ValidationError):
        return LastOpening()


def keep(path: Path, last: LastOpening) -> None:
    """Replace it as a whole."""
    beside = path.with_name(f"{NAME}.new")
    with contextlib.suppress(OSError):
        path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        beside.write_text(last.model_dump_json(), encoding="utf-8")
        beside.replace(path)
