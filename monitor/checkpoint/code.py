"""A digest of the source of the fold: a checkpoint is used by the very program that made it."""

import sys
from functools import cache
from hashlib import blake2b
from pathlib import Path

from pydantic import VERSION

import monitor
import protocol

DIGEST_BYTES = 16
PARTS = (
    Path(monitor.__file__).parent / "incident",
    Path(monitor.__file__).parent / "checkpoint",
    Path(protocol.__file__).parent,
)
"""What makes a state of rows, and what writes it down."""


@cache
def digest() -> str:
    """Give it in hex; empty where the source is not there to be read: then nothing is kept."""
    return of(PARTS)


def of(parts: tuple[Path, ...]) -> str:
    """Digest of every Python file in these folders, with its place in them; and of what runs it.

    Numbers in arrays are kept in the order of bytes of this kind of machine.
    """
    runs = f"{sys.implementation.cache_tag} {sys.byteorder} {VERSION}"
    found = blake2b(runs.encode(), digest_size=DIGEST_BYTES)
    read = 0
    try:
        for part in parts:
            for path in sorted(part.rglob("*.py")):
                name, text = path.relative_to(part.parent).as_posix().encode(), path.read_bytes()
                found.update(b"%d %d " % (len(name), len(text)) + name + text)
                read += 1
    except OSError:
        return ""
    return found.hexdigest() if read else ""
