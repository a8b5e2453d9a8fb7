"""What a base remembers from one incident to the next: a small file, replaced whole.

Packs' boot counters and windows, so that frames recorded at an earlier incident are old at the
next one; a short mark of each frame in the window, so that a pack that has lost its counter, and
says other things under numbers of then, is not taken for such a recording; and the base's own
identity and session number. Only a keyed base keeps packs: in open
mode anybody could make up numbers that shut a pack out for good.

Losing the file loses one of two defences: a recording then still fails to answer a beacon.
"""

import contextlib
import logging
import os
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError, field_validator

from monitor.incident.event_parts import Identity
from protocol.freshness import MARKS_BYTES, Numbers
from shared.reading import NotThere, Unreadable, read_bytes

SESSION_MAX = 0xFFFF_FFFF
"""A base's session number is 32 bits on the wire."""
MEMORY_BYTES_MAX = 16 * 1024 * 1024
"""16,384 packs at less than 430 bytes each are under half of it."""
NS_PER_S = 1_000_000_000
_BEFORE_MARKS = 3

_log = logging.getLogger(__name__)

Packs = dict[int, Numbers]
"""By pack: boot counter, highest sequence number, window, marks."""

_U32 = Annotated[int, Field(ge=0, le=0xFFFF_FFFF)]
_U64 = Annotated[int, Field(ge=0, le=0xFFFF_FFFF_FFFF_FFFF)]
_MARKS = Annotated[bytes, Field(max_length=MARKS_BYTES)]


class Memory(BaseModel):
    """The whole file."""

    model_config = ConfigDict(
        frozen=True, extra="forbid", ser_json_bytes="base64", val_json_bytes="base64"
    )

    format: Literal[1, 2] = 2
    """1 had no marks."""
    base: Identity
    """This base's own identity."""
    session: _U32 = 0
    """Number of the last session of this base."""
    packs: dict[Identity, tuple[_U32, _U32, _U64, _MARKS]] = Field(default_factory=dict)
    """By pack: boot counter, highest sequence number, window, marks (base64)."""

    @field_validator("packs", mode="before")
    @classmethod
    def _without_marks(cls, packs: object) -> object:
        """Take what format 1 has of a pack: three numbers."""
        if not isinstance(packs, dict):
            return packs
        return {
            identity: (*kept, "") if isinstance(kept, list) and len(kept) == _BEFORE_MARKS else kept
            for identity, kept in packs.items()
        }

    def next_session(self, wall_ns: int) -> int:
        """Give a number higher than any before.

        It follows the wall clock's seconds, so that a lost file does not make it fall back.
        """
        return min(max(self.session + 1, wall_ns // NS_PER_S), SESSION_MAX)


def memory_path(folder: Path, use: str) -> Path:
    """Where the memory of a use ("exercise" or "real") is; the two never mix."""
    return folder / f"base-{use}.json"


def load(path: Path) -> tuple[Memory | None, str]:
    """Read the file; None where there is none, with what is wrong if it is not readable."""
    try:
        return Memory.model_validate_json(read_bytes(path, MEMORY_BYTES_MAX)), ""
    except NotThere:
        return None, ""
    except Unreadable as error:
        return None, f"it {error.what}"
    except ValidationError as error:
        return None, f"not a base's memory: {error.errors()[0]['msg']}"


def save(path: Path, memory: Memory) -> None:
    """Replace the file as a whole: after a crash there is the old one or the new one. OSError."""
    fd, name = tempfile.mkstemp(prefix=path.name, dir=path.parent)
    try:
        with os.fdopen(fd, "wb") as file:
            file.write(memory.model_dump_json().encode())
            file.flush()
            os.fsync(file.fileno())
        Path(name).replace(path)
    except BaseException:
        with contextlib.suppress(OSError):
            Path(name).unlink()
        raise


class MemoryKeeper:
    """Keeps one base's memory in its file, time and again."""

    def __init__(self, path: Path, memory: Memory, packs: Callable[[], Packs]) -> None:
        """``packs`` gives the numbers as they are now."""
        self._path = path
        self._memory = memory
        self._packs = packs

    def snapshot(self) -> Memory:
        """Give what is to be kept, as it is now. On the loop: what it reads goes on changing."""
        return self._memory.model_copy(update={"packs": self._packs(), "format": 2})

    def keep(self, memory: Memory) -> None:
        """Write it; in any thread. A disk that takes it not is logged: recording goes on."""
        try:
            save(self._path, memory)
        except OSError as error:
            _log.warning("the base's memory cannot be kept: %s: %s", self._path, error)
