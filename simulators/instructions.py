"""What an instructor wants done in a run that goes on: lines added to a file beside it.

The screen of the instructor only ever adds lines, the player of the packs only ever reads them; so
either may end and come again, and what was asked for stays as evidence beside the truth. A line
that is not understood is told in the truth file and passed over.
"""

import json
import os
from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field, TypeAdapter, ValidationError

from shared import reading
from simulators.injects import WEARERS_MAX, Inject, InjectName
from simulators.values import Model, WearerNumber

LINE_BYTES_MAX = 8_000
"""Of one instruction."""
READ_BYTES_MAX = 65_536
"""Read in one go; the rest comes next time."""
MODE = 0o600
Told = Literal["called", "told command", "read back"]
"""What an instructor ticks when the trainee has done it by voice."""
TOLD: tuple[Told, ...] = ("called", "told command", "read back")


class InjectNow(Model):
    """Let something go wrong at once; its own time counts for nothing."""

    do: Literal["inject"] = "inject"
    inject: Inject


class Sooner(Model):
    """Let one of the scenario's injects come at once instead of at its time."""

    do: Literal["sooner"] = "sooner"
    name: InjectName


class Stand(Model):
    """Let everything stand still, or go on."""

    do: Literal["stand"] = "stand"
    still: bool = True


class Tick(Model):
    """The trainee has done this by voice."""

    do: Literal["tick"] = "tick"
    told: Told
    wearers: Annotated[tuple[WearerNumber, ...], Field(max_length=WEARERS_MAX)] = ()


class Bookmark(Model):
    """A moment to come back to in the debrief."""

    do: Literal["bookmark"] = "bookmark"
    text: Annotated[str, Field(min_length=1, max_length=200)]


Instruction = Annotated[InjectNow | Sooner | Stand | Tick | Bookmark, Field(discriminator="do")]
_ADAPTER: TypeAdapter[Instruction] = TypeAdapter(Instruction)


def add(path: Path, instruction: Instruction) -> None:
    """Add one to the file, which is made if it is not there. Raises OSError."""
    line = instruction.model_dump_json(exclude_none=True).encode() + b"\n"
    number = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_APPEND | os.O_CLOEXEC, MODE)
    try:
        os.write(number, line)
    finally:
        os.close(number)


class Instructions:
    """Reads what has been added since the last look."""

    def __init__(self, path: Path) -> None:
        """Begin at the start of the file, whether or not it is there yet."""
        self._path = path
        self._at = 0
        self._rest = b""

    def take(self) -> list[Instruction | str]:
        """Give what is new, in order; for a line that is not understood why not."""
        try:
            data = reading.part(self._path, READ_BYTES_MAX, self._at)
        except reading.Unreadable:
            return []
        self._at += len(data)
        *whole, self._rest = (self._rest + data).split(b"\n")
        if len(self._rest) > LINE_BYTES_MAX:
            self._rest = b""
            return [*map(read, whole), "a line that does not end"]
        return [read(line) for line in whole]


def read(line: bytes) -> Instruction | str:
    """Understand one line; else say why it is not."""
    if len(line) > LINE_BYTES_MAX:
        return "a line that is too long"
    try:
        return _ADAPTER.validate_json(line)
    except ValidationError as error:
        first = error.errors()[0]
        where = ".".join(str(part) for part in first["loc"])
        return f"{where}: {first['msg']}" if where else str(first["msg"])


def note_of(t_ns: int, instruction: Instruction | str) -> Mapping[str, object]:
    """Give an instruction as one object of the truth file."""
    if isinstance(instruction, str):
        return {"what": "instructor", "t_ns": t_ns, "refused": instruction}
    told = json.loads(instruction.model_dump_json(exclude_none=True))
    return {"what": "instructor", "t_ns": t_ns, **told}
