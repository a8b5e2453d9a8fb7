"""Is a journal as it was written? Says exactly where it first is not.

Reads batch by batch, so it may run beside a recorder and its memory does not grow with length.
"""

import sqlite3
import struct
from dataclasses import dataclass
from pathlib import Path

from monitor.errors import BadJournal
from monitor.incident.rows import RowKind
from monitor.journal import connection as files
from monitor.journal import digest
from monitor.journal.schema import KIND_OF, Batch, Header, Session
from protocol.codec import decode
from protocol.rejects import Reject

BATCHES_A_STEP = 500
ROWS_A_BATCH_MAX = 1_000_000
"""More than any commit has; a damaged row number must not make us read a whole journal at once."""

_BATCHES = "SELECT * FROM batches WHERE batch >= ? ORDER BY batch LIMIT ?"
_ROWS = (
    "SELECT id, t, kind, link, late_ns, signal_dbm, data FROM rows"
    " WHERE id > ? AND id <= ? ORDER BY id LIMIT ?"
)

_RawRow = tuple[int, int, int, int, int, int | None, bytes]


@dataclass(frozen=True, slots=True)
class Fault:
    """The first place where a journal is not as it was written."""

    batch: int
    first_row: int
    """The fault lies in this row or, where they differ, in one up to ``last_row``."""
    last_row: int
    what: str

    def __str__(self) -> str:
        """Say it in one line."""
        if self.last_row < self.first_row:
            return f"batch {self.batch}: {self.what}"
        if self.first_row == self.last_row:
            return f"row {self.first_row}: {self.what}"
        return f"rows {self.first_row} to {self.last_row}: {self.what}"


def verify_digest(path: Path, key: bytes = b"") -> Fault | None:
    """Look through a whole journal; None if every row, batch, session and header entry is right.

    A tail that was cut off whole is no fault: nothing in the file tells of it. Raises BadJournal
    where the file is none, is of a newer format, or its digest needs another key.
    """
    connection = files.connect(path, "ro")
    try:
        stored = files.read_header(connection)
        _check_key(files.header_of(stored, path), key, path)
        return _Check(connection, key).run(stored)
    except sqlite3.Error as error:
        raise files.in_plain_words(error, path) from error
    finally:
        connection.close()


def _check_key(header: Header, key: bytes, path: Path) -> None:
    if header.digest == "open":
        return
    if not key:
        raise BadJournal("the digest needs the fleet key", str(path), "give the key file")
    if header.key_check != digest.key_check(key):
        raise BadJournal("the digest was made with another key", str(path), "give that key file")


class _Check:
    def __init__(self, connection: sqlite3.Connection, key: bytes) -> None:
        self._connection = connection
        self._key = key
        self._sessions = {session.session: session for session in files.sessions(connection)}

    def run(self, stored: dict[str, str]) -> Fault | None:
        key = self._key if stored.get("digest") == "keyed" else b""
        self._key = key
        found = self._connection.execute(_BATCHES, (0, 1)).fetchall()
        if not found or found[0][0] != 0:
            return Fault(0, 1, 0, "the journal does not begin with batch 0")
        before = Batch(*found[0])
        if before.digest != digest.of_header(stored, key):
            return Fault(0, 1, 0, "the header was changed")
        while True:
            step = self._connection.execute(_BATCHES, (before.batch + 1, BATCHES_A_STEP)).fetchall()
            if not step:
                return self._beyond(before)
            for row in step:
                batch = Batch(*row)
                if fault := self._typed_batch(before, batch):
                    return fault
                before = batch

    def _beyond(self, last: Batch) -> Fault | None:
        """Look for rows that no batch counts: a recorder commits both together, so leaves none."""
        execute = self._connection.execute
        execute("BEGIN")
        newest = files.last_batch(self._connection)
        (highest,) = execute("SELECT max(id) FROM rows").fetchall()
        execute("COMMIT")
        counted = newest.last_row if newest else 0
        if highest[0] is not None and highest[0] > counted:
            return Fault(last.batch, counted + 1, highest[0], "rows that no batch counts")
        return None

    def _typed_batch(self, before: Batch, batch: Batch) -> Fault | None:
        try:
            return self._batch(before, batch)
        except TypeError:
            # SQLite stores a text or nothing where a number belongs, if somebody puts it there.
            what = "a value of another type than was written"
            return Fault(before.batch + 1, before.last_row + 1, before.last_row, what)

    def _batch(self, before: Batch, batch: Batch) -> Fault | None:
        first, last = before.last_row + 1, batch.last_row
        if batch.batch != before.batch + 1:
            return Fault(before.batch + 1, first, before.last_row, "the batch is missing")
        if last < before.last_row:
            return Fault(batch.batch, first, before.last_row, "the row number goes back")
        limits = (before.last_row, last, ROWS_A_BATCH_MAX)
        rows: list[_RawRow] = self._connection.execute(_ROWS, limits).fetchall()
        if fault := _order(before, batch, rows):
            return fault
        new = self._sessions.get(batch.session) if batch.session != before.session else None
        columns = digest.Columns(*list(zip(*rows, strict=True))[1:]) if rows else digest.NO_ROWS
        if _matches(before, batch, columns, new, self._key):
            return None
        return _first_broken_frame(batch, rows) or Fault(
            batch.batch, first, last, "changed since it was written"
        )


def _matches(
    before: Batch, batch: Batch, rows: digest.Columns, new: Session | None, key: bytes
) -> bool:
    try:
        return batch.digest == digest.of_batch(before, batch, rows, new, key)
    except (ValueError, TypeError, ArithmeticError, struct.error):
        # A value that does not fit its place in the digest was never written by a recorder.
        return False


def _order(before: Batch, batch: Batch, rows: list[_RawRow]) -> Fault | None:
    """Check what must hold between neighbours: this names the exact row."""
    if batch.horizon < before.horizon:
        return Fault(batch.batch, batch.last_row + 1, batch.last_row, "the horizon goes back")
    expected, t = before.last_row + 1, before.horizon + 1
    for row in rows:
        if row[0] != expected:
            return Fault(batch.batch, expected, expected, "the row is missing")
        if not t <= row[1] <= batch.horizon:
            return Fault(batch.batch, expected, expected, "its time is out of order")
        expected, t = expected + 1, row[1]
    if expected != batch.last_row + 1:
        return Fault(batch.batch, expected, expected, "the row is missing")
    return None


def _first_broken_frame(batch: Batch, rows: list[_RawRow]) -> Fault | None:
    """Within a batch that was changed: a frame whose own checksum no longer fits, if there is."""
    for row_id, _, kind, _, _, _, data in rows:
        if KIND_OF.get(kind) is RowKind.FRAME and isinstance(decode(data), Reject):
            return Fault(batch.batch, row_id, row_id, "the frame was changed since it was written")
    return None
