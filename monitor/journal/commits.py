"""The commits of a journal as they were sealed, one after another."""

import sqlite3
from collections.abc import Iterator

from monitor.journal import connection as files
from monitor.journal import digest
from monitor.journal.schema import Batch
from monitor.journal.sealing import Sealed

BATCHES_A_STEP = 500
_BATCHES = (
    f"SELECT {files.BATCH_COLUMNS} FROM batches"  # noqa: S608 - names of our own
    " WHERE batch > ? AND batch <= ? ORDER BY batch LIMIT ?"
)
_ROWS = (
    "SELECT t, kind, link, late_ns, signal_dbm, data FROM rows WHERE id > ? AND id <= ? ORDER BY id"
)


def commits(connection: sqlite3.Connection, before: Batch, last: Batch) -> Iterator[Sealed]:
    """Every commit behind ``before``, up to and with ``last``. Raises sqlite3.Error."""
    sessions = {one.session: one for one in files.sessions(connection)}
    while before.batch < last.batch:
        limits = (before.batch, last.batch, BATCHES_A_STEP)
        found = connection.execute(_BATCHES, limits).fetchall()
        if not found:
            raise files.NotWritten("a commit is missing")
        for row in found:
            batch = files.batch_of(row)
            rows = connection.execute(_ROWS, (before.last_row, batch.last_row)).fetchall()
            columns = digest.Columns(*zip(*rows, strict=True)) if rows else digest.NO_ROWS
            new = sessions.get(batch.session) if batch.session != before.session else None
            yield Sealed(before, batch, columns, new)
            before = batch
            if before.batch == last.batch:
                return  # a damaged file may give anything behind it, under any number
