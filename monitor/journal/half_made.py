"""Journals whose incident was never opened.

The recorder was killed, or could not go on, between the making of the file and its first commit:
nothing was heard or done in them. Either the file was not whole yet and has the ending ``.making``
still, or it is whole and has no row. Neither can be taken up. Whoever holds the journal's lock may
take them away.
"""

from pathlib import Path

from monitor.errors import BadJournal
from monitor.journal.ballast import ballast_path
from monitor.journal.reader import JournalReader
from monitor.journal.writer import MAKING

_SQLITE_ENDINGS = ("", "-wal", "-shm", "-journal")
"""What SQLite may have left of one file."""


def making_path(journal: Path) -> Path:
    """What ``journal`` is called before it is whole."""
    return journal.with_name(journal.name + MAKING)


def is_half_made(journal: Path) -> bool:
    """Whether it was never opened; False too where it cannot be told, or there is nothing."""
    if not journal.exists():
        return making_path(journal).exists()
    try:
        with JournalReader(journal) as reader:
            return reader.last_batch().last_row == 0
    except BadJournal:
        return False


def discard(journal: Path) -> None:
    """Take away one that is known to have no row; with its lock held. Raises OSError."""
    _take_away(journal)
    discard_unmade(journal)


def discard_unmade(journal: Path) -> None:
    """Take away what there is of one that never got its name, log and reserve too. OSError.

    Never the journal itself: that it is not to be seen may be a fault of the disk.
    """
    _take_away(making_path(journal))
    for beside in (ballast_path(journal), journal.with_name(journal.name + ".log")):
        beside.unlink(missing_ok=True)


def _take_away(file: Path) -> None:
    for ending in _SQLITE_ENDINGS:
        file.with_name(file.name + ending).unlink(missing_ok=True)
