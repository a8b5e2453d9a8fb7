"""Making a journal's file: everything that it has before its first row."""

import contextlib
import os
import sqlite3
from collections.abc import Mapping, Sequence
from pathlib import Path

from monitor.errors import BadJournal
from monitor.journal.schema import (
    APPLICATION_ID,
    FORMAT_VERSION,
    PAGE_BYTES,
    TABLES,
    Batch,
    Session,
)
from monitor.own_file import give_name, is_missing

INSERT_SESSION = "INSERT INTO sessions VALUES(?,?,?,?,?)"
_INSERT_BATCH = "INSERT INTO batches VALUES(?,?,?,?,?,?,?)"


def fill(path: Path, stored: Mapping[str, str], first: Batch, sessions: Sequence[Session]) -> None:
    """Write everything that a journal has before its first row, in one transaction."""
    connection = sqlite3.connect(path, isolation_level=None)
    try:
        connection.execute(f"PRAGMA page_size={PAGE_BYTES}")
        connection.execute("BEGIN EXCLUSIVE")
        connection.execute(f"PRAGMA application_id={APPLICATION_ID}")
        connection.execute(f"PRAGMA user_version={FORMAT_VERSION}")
        for table in TABLES:
            connection.execute(table)
        connection.executemany("INSERT INTO header VALUES(?,?)", stored.items())
        connection.executemany(INSERT_SESSION, sessions)
        connection.execute(_INSERT_BATCH, first)
        connection.execute("COMMIT")
    finally:
        connection.close()


def sync_folder(folder: Path) -> None:
    """Bring the new file's name to the disk too, where the file system can."""
    with contextlib.suppress(OSError):
        fd = os.open(folder, os.O_RDONLY | os.O_CLOEXEC)
        try:
            os.fsync(fd)
        finally:
            os.close(fd)


def wal_path(path: Path) -> Path:
    """SQLite's write-ahead log of the journal at ``path``."""
    return path.with_name(path.name + "-wal")


def check_free(path: Path) -> None:
    """Raises BadJournal where something has this name, or it cannot be told."""
    try:
        missing = is_missing(path)
    except OSError as error:
        what = f"it cannot be told whether there is a file already ({error.strerror})"
        raise BadJournal(what, str(path), "check the disk") from error
    if not missing:
        raise _there_already(path)


def _there_already(path: Path) -> BadJournal:
    return BadJournal("there is a file already", str(path), "choose another name")


def name(making: Path, path: Path) -> None:
    """Give a file that is whole its name. Raises BadJournal if it is not free, OSError."""
    kept = leave_alone(path)
    try:
        give_name(making, path)
    except OSError as error:
        # Somebody else's is there after all, and the log is its own.
        with contextlib.suppress(FileNotFoundError):
            kept.rename(wal_path(path))
        making.unlink(missing_ok=True)
        if isinstance(error, FileExistsError):
            raise _there_already(path) from None
        raise


def leave_alone(path: Path) -> Path:
    """Give the log of another journal that had this name a name of its own; say which.

    SQLite would take it for the log of a new file of that name, and write the old rows into it.
    What is in it may be nowhere else, so it is kept. Raises OSError.
    """
    log, number = wal_path(path), 1
    while (kept := log.with_name(f"{log.name}.{number}")).exists():
        number += 1
    with contextlib.suppress(FileNotFoundError):
        log.rename(kept)
    path.with_name(path.name + "-shm").unlink(missing_ok=True)
    return kept
