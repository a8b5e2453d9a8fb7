"""Making a journal's file: everything that it has before its first row."""

import contextlib
import os
import sqlite3
from collections.abc import Mapping, Sequence
from pathlib import Path

from monitor.journal.schema import (
    APPLICATION_ID,
    FORMAT_VERSION,
    PAGE_BYTES,
    TABLES,
    Batch,
    Session,
)

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
