"""The fleet key file: the one secret of a base.

A small TOML file, readable by its owner alone::

    use = "exercise"
    current = 2
    journal = "64 hex digits"
    signing = "64 hex digits"

    [keys]
    1 = "64 hex digits"
    2 = "64 hex digits"

Each epoch has its own fleet key. A new epoch keeps the old one, so that packs can change over one
by one; the old one is dropped when the last pack has changed.

The journal key makes the running digests of journals. It is no pack's business and outlives every
epoch, so that a journal can be verified years later. A file from before it has none; the next
change of epoch, or ``add_journal_key``, adds it.

The signing key, if there is one, signs them (Ed25519): see ``journal/signing``.
"""

import os
import secrets
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field, StringConstraints, ValidationError

from monitor.data_files import unreadable
from monitor.errors import AlreadyThere, BadFile, BadUsage
from protocol.integrity import EPOCH_MAX, KEY_BYTES, Keyring, Use
from shared import reading
from shared.reading import Unreadable
from shared.writing import new_file

EPOCHS_HELD_MAX = 4
"""Key epochs in one file: the present one and what packs in the field may still use."""
FILE_BYTES_MAX = 4096
"""Ten times what the fullest key file needs."""
_MODE = 0o600
_OTHERS = 0o077

_Epoch = Annotated[int, Field(ge=1, le=EPOCH_MAX)]
_HexKey = Annotated[str, StringConstraints(pattern=rf"^[0-9a-f]{{{2 * KEY_BYTES}}}$")]


class _Contents(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", hide_input_in_errors=True)

    use: Use
    current: _Epoch
    journal: _HexKey | None = Field(default=None, repr=False)
    signing: _HexKey | None = Field(default=None, repr=False)
    keys: dict[_Epoch, _HexKey] = Field(min_length=1, max_length=EPOCHS_HELD_MAX, repr=False)

    def keyring(self) -> Keyring:
        """ValueError if ``current`` names no key."""
        keys = {epoch: bytes.fromhex(key) for epoch, key in self.keys.items()}
        return Keyring(keys, self.use, self.current)


def load(path: Path) -> Keyring:
    """Read the fleet keys. BadFile if it cannot be read, is not right or not private."""
    return _read(path).keyring()


def journal_key(path: Path) -> bytes:
    """The key of this fleet's journals; empty where the file is from before there was one.

    BadFile as ``load``.
    """
    return bytes.fromhex(_read(path).journal or "")


def signing_key(path: Path) -> bytes:
    """The private key that signs this fleet's journals; empty where there is none.

    BadFile as ``load``.
    """
    return bytes.fromhex(_read(path).signing or "")


def create(path: Path, use: Use) -> Keyring:
    """Make a new file with a new fleet key, epoch 1. BadFile if there is one already."""
    fleet, journal = secrets.token_hex(KEY_BYTES), secrets.token_hex(KEY_BYTES)
    contents = _Contents(use=use, current=1, journal=journal, keys={1: fleet})
    _write_new(path, contents)
    return contents.keyring()


def next_epoch(path: Path) -> Keyring:
    """Add a fleet key for the next epoch and make it the current one; the old ones stay.

    BadUsage if as many are held as a file may hold.
    """
    held = _read(path)
    if len(held.keys) >= EPOCHS_HELD_MAX:
        raise BadUsage(
            f"{EPOCHS_HELD_MAX} key epochs are held already",
            str(path),
            "drop those that no pack uses any more",
        )
    current = held.current % EPOCH_MAX + 1
    if current in held.keys:
        raise BadUsage(f"epoch {current} is still held", str(path), "drop it first")
    keys = held.keys | {current: secrets.token_hex(KEY_BYTES)}
    return _replace(path, held.model_copy(update={"current": current, "keys": keys}))


def drop_epoch(path: Path, epoch: int) -> Keyring:
    """Take an old epoch out: packs that still use it are no longer believed.

    BadUsage for the current epoch or one that is not held.
    """
    held = _read(path)
    if epoch not in held.keys:
        raise BadUsage(f"epoch {epoch} is not held", str(path), f"held: {_listed(held)}")
    if epoch == held.current:
        raise BadUsage(f"epoch {epoch} is the current one", str(path), "make the next one first")
    keys = {number: key for number, key in held.keys.items() if number != epoch}
    return _replace(path, held.model_copy(update={"keys": keys}))


def add_journal_key(path: Path) -> None:
    """Give a file from before journal keys one. BadUsage if it has one: it never changes."""
    held = _read(path)
    if held.journal is not None:
        raise BadUsage("there is a journal key already", str(path), "it stays as it is")
    _replace(path, held)


def add_signing_key(path: Path) -> None:
    """Give a file a signing key. BadUsage if it has one: it never changes."""
    held = _read(path)
    if held.signing is not None:
        raise BadUsage("there is a signing key already", str(path), "it stays as it is")
    _replace(path, held.model_copy(update={"signing": secrets.token_hex(KEY_BYTES)}))


def _listed(contents: _Contents) -> str:
    return ", ".join(str(epoch) for epoch in sorted(contents.keys))


def _read(path: Path) -> _Contents:
    text, mode = _text_of(path)
    try:
        contents = _Contents.model_validate(reading.toml_of(text))
        contents.keyring()
    except Unreadable as wrong:
        raise BadFile(f"key file {wrong.what} ({wrong.to_do})", str(path), _ANOTHER) from None
    except ValidationError as wrong:
        first = wrong.errors(include_input=False)[0]
        key = ".".join(str(part) for part in first["loc"])
        raise BadFile(f"key file: {key}: {first['msg']}", str(path), _ANOTHER) from None
    except ValueError as wrong:
        raise BadFile(f"key file: {wrong}", str(path), _ANOTHER) from None
    if os.name == "posix" and mode & _OTHERS:
        raise BadFile(
            "key file: others can read or write it",
            str(path),
            f"chmod 600 {path}, and make a new epoch if somebody may have read it",
        )
    return contents


_ANOTHER = "restore it from a copy, or make a new one with outby keys create"


def _text_of(path: Path) -> tuple[str, int]:
    """What stands in it, and who may read it: told of nothing but a key file."""
    try:
        # The mode of the open file, not of the path: the two could differ a moment later.
        data, mode = reading.read_private(path, FILE_BYTES_MAX)
    except Unreadable as wrong:
        raise unreadable("key file", path, wrong) from None
    try:
        return data.decode("ascii"), mode
    except UnicodeDecodeError:
        raise BadFile("not a key file", str(path), _ANOTHER) from None


_SIGNING = "# Signs journals; its public part, by which anybody checks: outby keys public."


def _text(contents: _Contents) -> str:
    lines = [
        "# Fleet keys. Whoever reads this file can pose as any pack of the fleet.",
        f'use = "{contents.use}"',
        f"current = {contents.current}",
        "# Verifies journals; who has it could also make one that verifies.",
        f'journal = "{contents.journal}"',
        *([_SIGNING, f'signing = "{contents.signing}"'] if contents.signing else []),
        "",
        "[keys]",
        *(f'{epoch} = "{key}"' for epoch, key in sorted(contents.keys.items())),
    ]
    return "\n".join(lines) + "\n"


@contextmanager
def _told(path: Path) -> Iterator[None]:
    """Turn what the system says of a file into what a person can act on."""
    try:
        yield
    except FileExistsError:
        raise AlreadyThere("there is a file already", str(path), "name another") from None
    except OSError as wrong:
        raise BadFile(
            f"key file: {wrong.strerror}", str(path), "name a place that can be written"
        ) from None


def _write_new(path: Path, contents: _Contents) -> None:
    with _told(path), new_file(path, _MODE) as file:
        file.write(_text(contents).encode("ascii"))
        file.flush()
        os.fsync(file.fileno())


def _replace(path: Path, contents: _Contents) -> Keyring:
    """Write beside it, then put in its place: a crash leaves the old file or the new one.

    A file written anew has a journal key.
    """
    journal = contents.journal or secrets.token_hex(KEY_BYTES)
    contents = contents.model_copy(update={"journal": journal})
    beside = path.with_name(f"{path.name}.{secrets.token_hex(4)}.new")
    _write_new(beside, contents)
    with _told(path):
        try:
            beside.replace(path)
        finally:
            beside.unlink(missing_ok=True)
    return contents.keyring()
