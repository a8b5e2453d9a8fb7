"""Opening the file, and telling its faults in plain words.

Nothing in this program opens a journal's file other than through SQLite: closing any other handle
on it would silently drop the locks that SQLite holds for the whole process (POSIX record locks).

A journal may come from anybody. What SQLite advises for files that are not trusted ("Defense
Against The Dark Arts", sqlite.org/security.html) is done before the first question: only the exact
tables, no views, no triggers, nothing of the schema that runs, short values, bounded questions.
"""

import sqlite3
import stat
import sys
from collections.abc import Iterable
from pathlib import Path
from typing import Any, Literal

from pydantic import ValidationError

from monitor.errors import BadJournal
from monitor.journal.schema import (
    APPLICATION_ID,
    DATA_BYTES_MAX,
    FORMAT_VERSION,
    HEADER_KEYS_MAX,
    HORIZON_BEFORE_ALL,
    HORIZON_NS_MAX,
    SESSIONS_MAX,
    TABLES,
    Batch,
    Header,
    Session,
)
from shared.reading import NotThere, Unreadable, regular

BUSY_WAIT_S = 0.25
"""Readers and writer never block one another; opening and closing can collide, for moments."""

OPS_A_LOOK = 1_000_000
"""Steps of SQLite's machine between two looks at how long a question takes: some 10 ms."""
LOOKS_MAX = 30
"""One row takes some ten steps, and no question of ours goes over more than a million rows."""
_LIMITS = (
    (sqlite3.SQLITE_LIMIT_LENGTH, DATA_BYTES_MAX),
    (sqlite3.SQLITE_LIMIT_SQL_LENGTH, 10_000),
    (sqlite3.SQLITE_LIMIT_COLUMN, 100),
    (sqlite3.SQLITE_LIMIT_EXPR_DEPTH, 10),
    (sqlite3.SQLITE_LIMIT_COMPOUND_SELECT, 3),
    (sqlite3.SQLITE_LIMIT_VDBE_OP, 25_000),
    (sqlite3.SQLITE_LIMIT_FUNCTION_ARG, 8),
    (sqlite3.SQLITE_LIMIT_ATTACHED, 0),
    (sqlite3.SQLITE_LIMIT_LIKE_PATTERN_LENGTH, 50),
    (sqlite3.SQLITE_LIMIT_TRIGGER_DEPTH, 10),
)
"""As SQLite's page has them, but for the length of a value and of a statement: ours are known."""
_SAFE = ("trusted_schema=OFF", "cell_size_check=ON", "mmap_size=0")
_SCHEMA = sorted(
    ("table", name, name, sql) for sql in TABLES for name in [sql.split("(")[0].split()[-1]]
)
BESIDE = ("-wal", "-shm", "-journal")
"""Endings of SQLite's own files; the last is of a journal that was one plain file while changed."""
PRIMARY_CODE_BITS = 0xFF
BATCH_COLUMNS = ", ".join(Batch._fields)
"""By name: Python cannot even say what a damaged column name is."""
_PLAIN = {
    sqlite3.SQLITE_FULL: ("the disk is full", "free some space"),
    sqlite3.SQLITE_READONLY: ("the journal may not be written", "check owner, mode and mount"),
    sqlite3.SQLITE_IOERR: ("the disk reports a fault", "check the disk; copy the journal away"),
    sqlite3.SQLITE_CORRUPT: ("the journal is damaged", "keep the file; check the disk"),
    sqlite3.SQLITE_NOTADB: ("this is not a journal", "name a journal of this program"),
    sqlite3.SQLITE_CANTOPEN: ("the journal cannot be opened", "check its name, folder and mode"),
    sqlite3.SQLITE_BUSY: ("the journal is in use", "close what else writes to it"),
    sqlite3.SQLITE_TOOBIG: ("a value in the journal is too long", "keep the file"),
    sqlite3.SQLITE_INTERRUPT: ("looking something up takes far too long", "keep the file"),
}


class DiskFull(BadJournal):
    """The disk is full. Once there is space, the same rows may be committed again."""


class Damaged(BadJournal):
    """The file itself, or the disk below it, is not as SQLite left it."""


class NotWritten(sqlite3.DatabaseError):
    """A value that no recorder writes. To whoever reads it the file is damaged."""

    sqlite_errorcode = sqlite3.SQLITE_CORRUPT


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
    sqlite3.SQLITE_TOOBIG: Damaged,
    sqlite3.SQLITE_INTERRUPT: Damaged,
}


class _Bounded(sqlite3.Connection):
    """A connection on which no question goes on for ever: pages may lead round in a circle."""

    def __init__(self, *args: Any, **named: Any) -> None:  # noqa: ANN401 - as sqlite3 has them
        super().__init__(*args, **named)
        # Not a method, which would hold the connection: it is gone with its last user.
        self._looks = looks = [0]

        def look() -> bool:
            looks[0] += 1
            return looks[0] > LOOKS_MAX

        self.set_progress_handler(look, OPS_A_LOOK)

    def execute(self, *args: Any) -> sqlite3.Cursor:  # noqa: ANN401 - as sqlite3 has them
        """Ask; each question has the whole time."""
        self._looks[0] = 0
        return super().execute(*args)


def is_busy(error: sqlite3.Error) -> bool:
    """Whether it is only that the recorder is opening or closing the file at this moment."""
    code: int = getattr(error, "sqlite_errorcode", 0)
    return code & PRIMARY_CODE_BITS == sqlite3.SQLITE_BUSY


def connect(path: Path, mode: Literal["ro", "rw"], *, damaged: bool = False) -> sqlite3.Connection:
    """Open a journal and make sure that it is one this program knows.

    ``damaged``: open one whose end is cut off too, to see how far it reaches. Raises BadJournal:
    no such file, another kind of file, a newer format.
    """
    _check_file(path)
    connection: sqlite3.Connection | None = None
    try:
        connection = sqlite3.connect(
            f"{path.absolute().as_uri()}?mode={mode}",
            uri=True,
            timeout=BUSY_WAIT_S,
            isolation_level=None,
            check_same_thread=False,
            factory=_Bounded if mode == "ro" else sqlite3.Connection,
        )
        _make_safe(connection, damaged=damaged)
        if damaged:
            # The switch by which SQLite reads a file that is shorter than its first page says.
            connection.execute("PRAGMA writable_schema=ON")
        # Damaged text is data: it is looked at, and found to be wrong, by whoever asked for it.
        connection.text_factory = _text
        _check_kind(connection, path)
        _check_schema(connection, path)
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


def _check_file(path: Path) -> None:
    try:
        regular(path)
    except NotThere:
        raise BadJournal("there is no such journal", str(path), "check the name") from None
    except Unreadable as error:
        raise BadJournal(f"the journal {error.what}", str(path), error.to_do) from None
    for ending in BESIDE:
        beside = path.with_name(path.name + ending)
        try:
            plain = stat.S_ISREG(beside.lstat().st_mode)
        except OSError:
            # Nothing there, or too long a name for anything to be.
            continue
        if not plain:
            # SQLite would wait at a pipe for somebody to write.
            raise BadJournal(
                "what stands beside the journal is no file", str(beside), "move it away"
            )


def _make_safe(connection: sqlite3.Connection, *, damaged: bool) -> None:
    for limit, most in _LIMITS:
        connection.setlimit(limit, most)
    if sys.version_info >= (3, 12):
        connection.setconfig(sqlite3.SQLITE_DBCONFIG_DEFENSIVE, not damaged)
        connection.setconfig(sqlite3.SQLITE_DBCONFIG_ENABLE_TRIGGER, False)
        connection.setconfig(sqlite3.SQLITE_DBCONFIG_ENABLE_VIEW, False)
    for pragma in _SAFE:
        connection.execute(f"PRAGMA {pragma}").fetchall()


def _check_schema(connection: sqlite3.Connection, path: Path) -> None:
    """Raise BadJournal unless there are the journal's tables, as they are made, and nothing else.

    A view or a trigger of the right name could answer with anything, or never.
    """
    asked = "SELECT type, name, tbl_name, sql FROM sqlite_master LIMIT ?"
    found = connection.execute(asked, (len(TABLES) + 1,)).fetchall()
    if sorted(found, key=repr) != sorted(_SCHEMA, key=repr):
        raise BadJournal(
            "its tables are not those of a journal", str(path), "name a journal of this program"
        )


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
    asked = "SELECT key, value FROM header LIMIT ?"
    found = connection.execute(asked, (HEADER_KEYS_MAX + 1,)).fetchall()
    if len(found) > HEADER_KEYS_MAX:
        raise NotWritten("its header is too long")
    return dict(found)


def _all(kind: type, values: Iterable[object]) -> bool:
    return all(type(value) is kind for value in values)


def header_of(stored: dict[str, str], path: Path) -> Header:
    """Understand a header. Raises BadJournal where a field is missing or out of range."""
    try:
        return Header.model_validate(stored)
    except ValidationError as error:
        fault = error.errors(include_url=False, include_input=False)[0]
        why = f"{fault['loc'][0] if fault['loc'] else 'header'}: {fault['msg']}"
        raise BadJournal(
            f"the journal's header is not right ({why})", str(path), "keep the file"
        ) from error


def batch_of(row: tuple[Any, ...]) -> Batch:
    """A commit from its columns. Raises NotWritten where no recorder writes such."""
    found = Batch(*row)
    right = _all(int, found[:-1]) and type(found.digest) is bytes
    if not right or not HORIZON_BEFORE_ALL <= found.horizon <= HORIZON_NS_MAX:
        raise NotWritten("a commit holds what none has")
    return found


def last_batch(connection: sqlite3.Connection) -> Batch | None:
    """Return the newest commit; None only in a damaged file."""
    newest = f"SELECT {BATCH_COLUMNS} FROM batches ORDER BY batch DESC LIMIT 1"  # noqa: S608
    found = connection.execute(newest).fetchall()
    return batch_of(found[0]) if found else None


def batch(connection: sqlite3.Connection, number: int) -> Batch | None:
    """Return the commit of that number; None if there is none."""
    one = f"SELECT {BATCH_COLUMNS} FROM batches WHERE batch = ?"  # noqa: S608
    found = connection.execute(one, (number,)).fetchall()
    return batch_of(found[0]) if found else None


def first_batch_reaching(connection: sqlite3.Connection, row: int, after: int) -> Batch | None:
    """Return the first commit after number ``after`` that has ``row`` in it or behind it."""
    first = (
        f"SELECT {BATCH_COLUMNS} FROM batches "  # noqa: S608
        "WHERE batch > ? AND last_row >= ? ORDER BY batch LIMIT 1"
    )
    found = connection.execute(first, (after, row)).fetchall()
    return batch_of(found[0]) if found else None


def sessions(connection: sqlite3.Connection) -> list[Session]:
    """Every stretch of recording, in order."""
    every = f"SELECT {', '.join(Session._fields)} FROM sessions ORDER BY session LIMIT ?"  # noqa: S608
    found = connection.execute(every, (SESSIONS_MAX + 1,)).fetchall()
    if len(found) > SESSIONS_MAX:
        raise NotWritten("more sessions than there can be")
    return [Session(*row) for row in found]
