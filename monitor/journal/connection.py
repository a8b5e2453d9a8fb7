"""Opening the file, and telling its faults in plain words.

Nothing in this program opens a journal's file other than through SQLite: closing any other handle
on it would silently drop the locks that SQLite holds for the whole process (POSIX record locks).
"""

import sqlite3
from pathlib import Path
from typing import Literal

from monitor.errors import BadJournal
from monitor.journal.schema import APPLICATION_ID, FORMAT_VERSION, Batch, Header, Session

BUSY_WAIT_S = 0.25
"""Readers and writer never block one another; opening and closing can collide, for moments."""

PRIMARY_CODE_BITS = 0xFF
_PLAIN = {
    sqlite3.SQLITE_FULL: ("the disk is full", "free some space; rows wait in memory"),
    sqlite3.SQLITE_READONLY: ("the journal may not be written", "check owner, mode and mount"),
    sqlite3.SQLITE_IOERR: ("the disk reports a fault", "check the disk; copy the journal away"),
    sqlite3.SQLITE_CORRUPT: ("the journal is damaged", "keep the file; check the disk"),
    sqlite3.SQLITE_NOTADB: ("this is not a journal", "name a journal of this program"),
    sqlite3.SQLITE_CANTOPEN: ("the journal cannot be opened", "check its name, folder and mode"),
    sqlite3.SQLITE_BUSY: ("the journal is in use", "close what else writes to it"),
}


class DiskFull(BadJournal):
    """The disk is full. Once there is space, the same rows may be committed again."""


def in_plain_words(error: sqlite3.Error, path: Path) -> BadJournal:
    """Turn SQLite's error into one for people."""
    code = getattr(error, "sqlite_errorcode", 0) & PRIMARY_CODE_BITS
    what, to_do = _PLAIN.get(code, ("the journal cannot be used", "see what SQLite says of it"))
    kind = DiskFull if code == sqlite3.SQLITE_FULL else BadJournal
    return kind(f"{what} ({error})", str(path), to_do)


def is_busy(error: sqlite3.Error) -> bool:
    """Whether it is only that the recorder is opening or closing the file at this moment."""
    code: int = getattr(error, "sqlite_errorcode", 0)
    return code & PRIMARY_CODE_BITS == sqlite3.SQLITE_BUSY


def connect(path: Path, mode: Literal["ro", "rw"]) -> sqlite3.Connection:
    """Open a journal and make sure that it is one this program knows.

    Raises BadJournal: no such file, another kind of file, a newer format.
    """
    if not path.is_file():
        raise BadJournal("there is no such journal", str(path), "check the name")
    connection: sqlite3.Connection | None = None
    try:
        connection = sqlite3.connect(
            f"{path.absolute().as_uri()}?mode={mode}",
            uri=True,
            timeout=BUSY_WAIT_S,
            isolation_level=None,
            check_same_thread=False,
        )
        _check_kind(connection, path)
    except sqlite3.Error as error:
        if connection is not None:
            connection.close()
        raise in_plain_words(error, path) from error
    except BadJournal:
        if connection is not None:
            connection.close()
        raise
    return connection


def number(connection: sqlite3.Connection, pragma: str) -> int:
    """One integer that SQLite answers. The statement is run to its end, so that it pins nothing."""
    return int(connection.execute(f"PRAGMA {pragma}").fetchall()[0][0])


def _check_kind(connection: sqlite3.Connection, path: Path) -> None:
    if number(connection, "application_id") != APPLICATION_ID:
        raise BadJournal("this is not a journal", str(path), "name a journal of this program")
    version = number(connection, "user_version")
    if version > FORMAT_VERSION:
        raise BadJournal(
            f"the journal has format {version}, this program knows up to {FORMAT_VERSION}",
            str(path),
            "read it with a newer version of this program",
        )


def read_header(connection: sqlite3.Connection) -> dict[str, str]:
    """Return the header table as it stands."""
    return dict(connection.execute("SELECT key, value FROM header").fetchall())


def header_of(stored: dict[str, str], path: Path) -> Header:
    """Understand a header. Raises BadJournal where a field is missing or out of range."""
    try:
        return Header.model_validate(stored)
    except ValueError as error:
        raise BadJournal(
            f"the journal's header is not right ({error})", str(path), "keep the file"
        ) from error


def last_batch(connection: sqlite3.Connection) -> Batch | None:
    """Return the newest commit; None only in a damaged file."""
    found = connection.execute("SELECT * FROM batches ORDER BY batch DESC LIMIT 1").fetchall()
    return Batch(*found[0]) if found else None


def sessions(connection: sqlite3.Connection) -> list[Session]:
    """Every stretch of recording, in order."""
    found = connection.execute("SELECT * FROM sessions ORDER BY session").fetchall()
    return [Session(*row) for row in found]
