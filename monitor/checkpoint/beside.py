"""The checkpoints that lie beside a journal, for a reader of it."""

from pathlib import Path

from monitor.checkpoint import code
from monitor.checkpoint.file import Key
from monitor.checkpoint.keeping import Checkpoints
from monitor.checkpoint.shelf import Both, Folder, Memory
from monitor.incident.incident import FOLD_VERSION
from monitor.journal.schema import Header


def key_of(header: Header) -> Key:
    """What a checkpoint of this journal must be of, to be used by this program."""
    return Key(FOLD_VERSION, code.digest(), header.incident)


def for_this_process(header: Header) -> Checkpoints:
    """Some that are kept in memory, as long as the process."""
    return Checkpoints(Memory(), key_of(header)._replace(code="in memory"))


def for_replay(journal: Path, header: Header, *, beside: bool) -> Checkpoints:
    """Those beside the journal; what cannot be kept there is kept in memory.

    Only in memory where they are not wanted, and where the source of the fold cannot be read.
    """
    if not beside or not code.digest():
        return for_this_process(header)
    return Checkpoints(Both(Folder(journal), Memory()), key_of(header))


def checkpoints_of(journal: Path, header: Header, secret: bytes = b"") -> Checkpoints:
    """Those beside the journal; with the journal's key only those that were tagged with it."""
    return Checkpoints(Folder(journal), key_of(header), secret=secret)
