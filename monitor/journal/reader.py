"""Reading a journal, live or finished, without ever standing in the recorder's way.

A reader opens the file read-only, fetches a bounded number of rows in one transaction and ends
it. An unfinished cursor would pin the write-ahead log, which then grows for as long as it stays.
"""

import sqlite3
from collections.abc import Iterator
from dataclasses import dataclass
from operator import gt
from pathlib import Path
from types import NoneType
from typing import Any, Self

from monitor.errors import BadJournal
from monitor.incident.rows import Row, RowKind
from monitor.journal import connection as files
from monitor.journal.schema import (
    HORIZON_BEFORE_ALL,
    HORIZON_NS_MAX,
    KIND_OF,
    ROWS_A_STEP_MAX,
    STANDING_OF,
    Batch,
    Header,
    Session,
)

_ROWS = (
    "SELECT id, t, kind, link, late_ns, signal_dbm, data FROM rows WHERE id > ? ORDER BY id LIMIT ?"
)
_APART_FROM_FRAMES = (
    "SELECT id, t, kind, link, late_ns, signal_dbm, data FROM rows "
    "WHERE id > ? AND id <= ? AND kind & 15 <> ? ORDER BY id LIMIT ?"
)
ROWS_A_LOOK_MAX = 200_000
"""Frames passed over in one question, which then takes some 20 ms."""
_COUNT = (
    "SELECT count(*), max(id) FROM"
    " (SELECT id FROM rows WHERE id > ? AND id <= ? ORDER BY id LIMIT ?)"
)
ROW_MAX = 2**63 - 1
ROWS_A_COUNT = 1_000_000
"""Counted in one question: no question goes on for ever."""
_NEVER = -1
"""No data version is negative."""


@dataclass(slots=True)
class Slice:
    """What one step of reading gave."""

    rows: list[Row]
    last_row: int
    """Number of the last of ``rows``; with none, the number that was asked from."""
    horizon: int
    """Every row of the journal with a time up to here has been handed over. -1: nothing yet."""
    complete: bool
    """Nothing more was in the journal at that moment."""
    last: Batch | None = None
    """The newest batch in the file then."""


class JournalReader:
    """One reading connection. Use it from one thread at a time."""

    def __init__(self, path: Path, *, damaged: bool = False) -> None:
        """Open. Raises BadJournal: no such file, another kind of file, a newer format.

        ``damaged``: open one whose end is cut off too, to read what is there.
        """
        self.path = path
        self._connection = files.connect(path, "ro", damaged=damaged)
        self._version = _NEVER
        try:
            self._stored = files.read_header(self._connection)
            self._header = files.header_of(self._stored, path)
        except sqlite3.Error as error:
            self.close()
            raise files.in_plain_words(error, path) from error
        except BadJournal:
            self.close()
            raise

    def header(self) -> Header:
        """What never changes."""
        return self._header

    def changed(self) -> bool:
        """Whether anything was committed since this was last asked; True the first time.

        Costs microseconds. False while the file is busy being opened or closed by the recorder.
        """
        try:
            version = files.number(self._connection, "data_version")
        except sqlite3.Error as error:
            if files.is_busy(error):
                return False
            raise files.in_plain_words(error, self.path) from error
        before, self._version = self._version, version
        return version != before

    def read(self, after_row: int, limit: int = ROWS_A_STEP_MAX) -> Slice:
        """Rows numbered above ``after_row``, at most ``limit`` and at most 2,000.

        None, and not complete, while the file is busy being opened or closed by the recorder.
        Raises BadJournal where rows are missing or not to be understood.
        """
        limit = min(limit, ROWS_A_STEP_MAX)
        run = self._connection.execute
        try:
            run("BEGIN")
            try:
                found = run(_ROWS, (after_row, limit)).fetchall()
                last = files.last_batch(self._connection)
            finally:
                run("COMMIT")
        except sqlite3.Error as error:
            if files.is_busy(error):
                return Slice([], after_row, HORIZON_BEFORE_ALL, complete=False)
            raise files.in_plain_words(error, self.path) from error
        if last is None or (found and found[-1][0] != after_row + len(found)):
            raise BadJournal(f"rows are missing after row {after_row}", str(self.path), "verify it")
        return self._slice(after_row, found, last)

    def count(self, last_row: int | None = None) -> int:
        """How many rows are there, up to that number or all. Raises BadJournal: a damaged page."""
        until = ROW_MAX if last_row is None else last_row
        total, done = 0, 0
        try:
            while True:
                found, highest = self._connection.execute(
                    _COUNT, (done, until, ROWS_A_COUNT)
                ).fetchone()
                if not found:
                    return total
                total, done = total + found, highest
        except sqlite3.Error as error:
            raise files.in_plain_words(error, self.path) from error

    def steps(self, last_row: int, after_row: int = 0) -> Iterator[list[Row]]:
        """Every row behind ``after_row`` up to ``last_row``, in steps of at most 2,000.

        Each step is one transaction, so a recorder may go on meanwhile. Raises BadJournal where
        rows are missing or not to be understood.
        """
        done = after_row
        while done < last_row:
            limit = min(last_row - done, ROWS_A_STEP_MAX)
            try:
                found = self._connection.execute(_ROWS, (done, limit)).fetchall()
            except sqlite3.Error as error:
                raise files.in_plain_words(error, self.path) from error
            if not found or found[-1][0] != done + len(found):
                raise BadJournal(f"rows are missing after row {done}", str(self.path), "verify it")
            yield self._rows(done, found)
            done += len(found)

    def apart_from_frames(self, last_row: int) -> Iterator[Row]:
        """Every row up to ``last_row`` that is no frame: few, found without reading the frames.

        Raises BadJournal where one is not to be understood.
        """
        done = 0
        while done < last_row:
            until = min(last_row, done + ROWS_A_LOOK_MAX)
            try:
                given = (done, until, RowKind.FRAME, ROWS_A_STEP_MAX)
                found = self._connection.execute(_APART_FROM_FRAMES, given).fetchall()
            except sqlite3.Error as error:
                raise files.in_plain_words(error, self.path) from error
            yield from self._rows(done, found)
            done = found[-1][0] if len(found) == ROWS_A_STEP_MAX else until

    def _slice(self, after_row: int, found: list[tuple[int, ...]], last: Batch) -> Slice:
        rows = self._rows(after_row, found)
        last_row = after_row + len(rows)
        if last_row >= last.last_row:
            return Slice(rows, last_row, last.horizon, complete=True, last=last)
        # Rows go by time, and the next may have the same time as the last of these.
        horizon = rows[-1].t - 1 if rows else HORIZON_BEFORE_ALL
        return Slice(rows, last_row, horizon, complete=False, last=last)

    def _rows(self, after_row: int, found: list[tuple[int, ...]]) -> list[Row]:
        if found and (what := _not_written(found)):
            raise BadJournal(f"{what} after row {after_row}", str(self.path), "verify it")
        try:
            return [
                Row(t, KIND_OF[kind], data, link, late, STANDING_OF[kind], signal)  # type: ignore[arg-type]
                for _, t, kind, link, late, signal, data in found
            ]
        except KeyError as error:
            what = f"a row after {after_row} is of unknown kind {error}"
            raise BadJournal(what, str(self.path), "verify it") from error

    def last_batch(self) -> Batch:
        """Return the newest commit."""
        try:
            last = files.last_batch(self._connection)
        except sqlite3.Error as error:
            raise files.in_plain_words(error, self.path) from error
        if last is None:
            raise BadJournal("the journal has no batch", str(self.path), "keep the file")
        return last

    def batch(self, number: int) -> Batch | None:
        """Return the commit of that number; None if there is none."""
        try:
            return files.batch(self._connection, number)
        except sqlite3.Error as error:
            raise files.in_plain_words(error, self.path) from error

    def first_batch_reaching(self, row: int, after: int = 0) -> Batch | None:
        """Return the first commit after number ``after`` with all rows up to ``row`` behind it.

        None if there is none yet. It looks through the commits from ``after`` on.
        """
        try:
            return files.first_batch_reaching(self._connection, row, after)
        except sqlite3.Error as error:
            raise files.in_plain_words(error, self.path) from error

    def sessions(self) -> list[Session]:
        """Every stretch of recording so far, in order."""
        try:
            found = files.sessions(self._connection)
        except sqlite3.Error as error:
            raise files.in_plain_words(error, self.path) from error
        if any(tuple(map(type, session)) != (int, str, int, int, str) for session in found):
            raise BadJournal("a session is not to be understood", str(self.path), "verify it")
        return found

    def close(self) -> None:
        """Let go of the file. Doing it twice is harmless."""
        self._connection.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()


def _not_written(found: list[tuple[Any, ...]]) -> str:
    """What of some rows no recorder writes, since SQLite keeps any value in any column; or "".

    By column and with few calls: every row of every journal goes through here.
    """
    _, t, _, link, late, signal, data = zip(*found, strict=True)
    try:
        # A sum of whole numbers is one; anything else among them makes it another, or none.
        numbers = type(sum(t)) is int and type(sum(link)) is int and type(sum(late)) is int
    except TypeError:
        numbers = False
    if not numbers or {*map(type, signal)} - {int, NoneType} or {*map(type, data)} - {bytes}:
        return "a value of another type than was written"
    if t[0] < 0 or t[-1] > HORIZON_NS_MAX or any(map(gt, t, t[1:])):
        return "times out of order, or that cannot be,"
    return ""
