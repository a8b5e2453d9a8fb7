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
BATCH_COLUMNS = ", ".join(Batch._fields)
"""By name: Python cannot even say what a damaged column name is."""
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


class Damaged(BadJournal):
    """The file itself, or the disk below it, is not as SQLite left it."""


def in_plain_words(error: sqlite3.Error, path: Path) -> BadJournal:
    """Turn SQLite's error into one for people."""
    code = getattr(error, "sqlite_errorcode", 0) & PRIMARY_CODE_BITS
    what, to_do = _PLAIN.get(code, ("the journal cannot be used", "see what SQLite says of it"))
    kind = _KINDS.get(code, BadJournal)
    return kind(f"{what} ({error})", str(path), to_do)


_KINDS: dict[int, type[BadJournal]] = {
    sqlite3.SQLITE_FULL: DiskFull,
    sqlite3.SQLITE_CORRUPT: Damaged,
    sqlite3.SQLITE_IOERR: Damaged,
}


def is_busy(error: sqlite3.Error) -> bool:
    """Whether it is only that the recorder is opening or closing the file at this moment."""
    code: int = getattr(error, "sqlite_errorcode", 0)
    return code & PRIMARY_CODE_BITS == sqlite3.SQLITE_BUSY


def connect(path: Path, mode: Literal["ro", "rw"], *, damaged: bool = False) -> sqlite3.Connection:
    """Open a journal and make sure that it is one this program knows.

    ``damaged``: open one whose end is cut off too, to see how far it reaches. Raises BadJournal:
    no such file, another kind of file, a newer format.
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
        if damaged:
            # The switch by which SQLite reads a file that is shorter than its first page says.
            connection.execute("PRAGMA writable_schema=ON")
        # Damaged text is data: it is looked at, and found to be wrong, by whoever asked for it.
        connection.text_factory = _text
        _check_kind(connection, path)
        connection.execute("SELECT count(*) FROM sqlite_master").fetchall()
    except UnicodeDecodeError as error:
        # SQLite quotes a damaged table's name in what it says of it.
        if connection is not None:
            connection.close()
        raise Damaged("the journal is damaged", str(path), "keep the file") from error
    except sqlite3.Error as error:
        if connection is not None:
            connection.close()
        raise in_plain_words(error, path) from error
    except BadJournal:
        if connection is not None:
            connection.close()
        raise
    return connection


def _text(raw: bytes) -> str:
    return raw.decode("utf-8", "replace")


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
    newest = f"SELECT {BATCH_COLUMNS} FROM batches ORDER BY batch DESC LIMIT 1"  # noqa: S608
    found = connection.execute(newest).fetchall()
    return Batch(*found[0]) if found else None


def batch(connection: sqlite3.Connection, number: int) -> Batch | None:
    """Return the commit of that number; None if there is none."""
    one = f"SELECT {BATCH_COLUMNS} FROM batches WHERE batch = ?"  # noqa: S608
    found = connection.execute(one, (number,)).fetchall()
    return Batch(*found[0]) if found else None


def first_batch_reaching(connection: sqlite3.Connection, row: int, after: int) -> Batch | None:
    """Return the first commit after number ``after`` that has ``row`` in it or behind it."""
    first = (
        f"SELECT {BATCH_COLUMNS} FROM batches "  # noqa: S608
        "WHERE batch > ? AND last_row >= ? ORDER BY batch LIMIT 1"
    )
    found = connection.execute(first, (after, row)).fetchall()
    return Batch(*found[0]) if found else None


def sessions(connection: sqlite3.Connection) -> list[Session]:
    """Every stretch of recording, in order."""
    every = f"SELECT {', '.join(Session._fields)} FROM sessions ORDER BY session"  # noqa: S608
    found = connection.execute(every).fetchall()
    return [Session(*row) for row in found]
