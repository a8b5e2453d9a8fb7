"""What boards and the recorder say to each other over the desk, and where the desk is.

The desk is a Unix socket that only its owner can open. Each message is one JSON object on one
line, with its kind in ``say``. A board speaks first:

1. ``hello`` with its own id and the name of who sits at it; the recorder answers ``role``, and
   says ``role`` again to every board whenever the holder changes.
2. ``ask`` with an act. The answer is ``taken`` once the act is sequenced and on a disk, or
   ``not taken`` with one plain sentence: it never will be, and the board says USE VOICE. Where the
   disk takes long, ``held`` comes first: the recorder has the act and acts on it, but it is in no
   file that a loss of power leaves; ``sent`` says that an order has gone out all the same. Without
   any answer within ``ANSWER_NS_MAX`` a board knows nothing: the act may be done or not, and it
   says so.
3. ``beat`` from the board's drawing loop, so that the recorder knows that somebody is looking.
4. ``stop``: recording ends; the incident stays open and can be taken up again.

Bad input is data: ``read_up`` and ``read_down`` answer a message or the reason why not.
"""

import hashlib
import os
from pathlib import Path
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, TypeAdapter, ValidationError

from monitor import runtime_folder
from monitor.incident.events import Act

LINE_BYTES_MAX = 64 * 1024
"""The longest act names every wearer there can be, in five digits each: 60,000 bytes."""
ANSWER_NS_MAX = 10_000_000_000
"""An act dies this long after it was asked: an officer who waited longer has used the voice."""
BOARD_BEAT_NS = 1_000_000_000
"""A board beats this often; three missed in a row and it does not count as looked at."""

BoardId = Annotated[str, Field(min_length=1, max_length=40)]


class _Message(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


# ---------------------------------------------------------------- from a board


class Hello(_Message):
    """First on a connection. Said again to ask for another role."""

    say: Literal["hello"] = "hello"
    board: BoardId
    """Chosen by the board when it starts; one that comes back under it keeps its role."""
    by: str = Field(min_length=1, max_length=60)
    """Who sits at it."""
    want: Literal["act", "view", "script"] = "act"
    """``act`` is given only if no other board holds the desk. ``script`` is a drill: its acts are
    taken beside the holder's, in an exercise only, and it never becomes the holder."""
    take: bool = False
    """Take the board from whoever holds it; that board becomes view only and is told."""


class Ask(_Message):
    """An act, and when the officer asked for it."""

    say: Literal["ask"] = "ask"
    act: Act
    asked_boot_ns: int = Field(ge=0)
    """Boot-time clock of this machine, ns."""


class BoardBeat(_Message):
    """The board has drawn a frame."""

    say: Literal["beat"] = "beat"
    board: BoardId
    frame: int = Field(ge=0)
    """Frames drawn so far."""


class Stop(_Message):
    """End the recorder's process. Only the holder is heeded."""

    say: Literal["stop"] = "stop"
    by: str = Field(min_length=1, max_length=60)


# ---------------------------------------------------------------- from the recorder


class Role(_Message):
    """What this board is now."""

    say: Literal["role"] = "role"
    holder: bool
    """True: this board may act. False: view only."""
    by: str
    """In whose name the acting board acts; empty when none does."""
    incident: str = ""
    """Unique id of the incident recorded."""
    fold: int = 0
    """The recorder's fold version; a board of another version must not show this incident."""


class Taken(_Message):
    """The act is in the journal."""

    say: Literal["taken"] = "taken"
    id: str


class Held(_Message):
    """The recorder has the act and acts on it; it is not on a disk yet."""

    say: Literal["held"] = "held"
    id: str
    sent: bool = False
    """An order that has gone out to packs."""


class NotTaken(_Message):
    """The act has not been taken and will not be."""

    say: Literal["not taken"] = "not taken"
    id: str
    why: str


class NoAnswer(_Message):
    """Said by a board's own end: nobody has answered, so the act may be done or not.

    The answer may still come.
    """

    say: Literal["no answer"] = "no answer"
    id: str


class Stopping(_Message):
    """The recorder has heeded ``stop``."""

    say: Literal["stopping"] = "stopping"


class Full(_Message):
    """There is no seat for this board: it looks on by the journal alone, and may try again."""

    say: Literal["full"] = "full"
    boards: int = Field(ge=1)
    """As many are connected, the most there can be."""


class NotOnDisk(_Message):
    """No file takes rows for now, neither the journal nor another; said time and again.

    Boards, which read files, see nothing new; everything else goes on.
    """

    say: Literal["not on disk"] = "not on disk"


UpMessage = Hello | Ask | BoardBeat | Stop
DownMessage = Role | Taken | Held | NotTaken | Stopping | Full | NotOnDisk

_up: TypeAdapter[UpMessage] = TypeAdapter(Annotated[UpMessage, Field(discriminator="say")])
_down: TypeAdapter[DownMessage] = TypeAdapter(Annotated[DownMessage, Field(discriminator="say")])


def line(message: UpMessage | DownMessage) -> bytes:
    """Give the message as one line, newline included."""
    return message.model_dump_json().encode() + b"\n"


def read_up(data: bytes) -> UpMessage | str:
    """Read one line a board sent; a string says what is wrong with it."""
    try:
        return _up.validate_json(data)
    except ValidationError as error:
        return _what_is_wrong(error)


def read_down(data: bytes) -> DownMessage | str:
    """Read one line the recorder sent; a string says what is wrong with it."""
    try:
        return _down.validate_json(data)
    except ValidationError as error:
        return _what_is_wrong(error)


def _what_is_wrong(error: ValidationError) -> str:
    first = error.errors(include_url=False, include_input=False)[0]
    where = ".".join(str(part) for part in first["loc"])
    return f"{where}: {first['msg']}" if where else str(first["msg"])


# ---------------------------------------------------------------- where the desk is


def socket_path(journal: Path) -> Path:
    """Where the desk of a recorder that starts now listens; the folder is made if need be.

    Raises NotAnswered where there is no folder of this user's alone.
    """
    return runtime_folder.folder() / _name(journal)


def socket_paths(journal: Path) -> list[Path]:
    """Everywhere that the desk of this journal's recorder may listen, best first."""
    name = _name(journal)
    return [folder / name for folder in runtime_folder.there()]


def _name(journal: Path) -> str:
    """From the journal's full path, so that any process finds it."""
    # ``Path.resolve`` raises where links go round in a circle; this answers in any case.
    full = os.path.realpath(journal)
    return hashlib.sha256(os.fsencode(full)).hexdigest()[:16] + ".desk"
