"""The journal as a relay reads it: commit after commit, never in the recorder's way."""

import json
import sqlite3
from collections.abc import Iterator
from pathlib import Path
from typing import Self

from monitor.errors import BadJournal
from monitor.incident.rows import RowKind
from monitor.journal import connection as files
from monitor.journal.commits import commits
from monitor.journal.schema import KIND_OF, Batch
from monitor.journal.sealing import Sealed

_OPENED = "SELECT data FROM rows WHERE id = 1"
_CLOSE = b'"close"'
_LAST_ACTS = "SELECT data FROM rows WHERE kind & 15 = 2 ORDER BY id DESC LIMIT 1"
"""The close is the last act of an incident: nobody acts in one that has ended."""


class Source:
    """One reading connection; use it from one thread at a time."""

    def __init__(self, path: Path) -> None:
        """Open. Raises BadJournal as ``JournalReader`` does."""
        self.path = path
        self._connection = files.connect(path, "ro")
        self._version = -1
        try:
            self.stored = files.read_header(self._connection)
            self.header = files.header_of(self.stored, path)
        except sqlite3.Error as error:
            self.close()
            raise files.in_plain_words(error, path) from error
        except BadJournal:
            self.close()
            raise

    def operation(self) -> str | None:
        """What the incident belongs to; None: it is not opened yet. Raises BadJournal."""
        try:
            found = self._connection.execute(_OPENED).fetchall()
            return str(json.loads(found[0][0]).get("operation", "")) if found else None
        except sqlite3.Error as error:
            raise files.in_plain_words(error, self.path) from error
        except (ValueError, AttributeError, TypeError) as error:
            raise BadJournal("row 1 is not an opening", str(self.path), "verify it") from error

    def is_closed(self) -> bool:
        """Whether the incident has ended. Raises BadJournal."""
        try:
            found = self._connection.execute(_LAST_ACTS).fetchall()
        except sqlite3.Error as error:
            raise files.in_plain_words(error, self.path) from error
        return bool(found) and _closes(found[0][0])

    def changed(self) -> bool:
        """Whether anything was committed since this was last asked; True the first time."""
        try:
            version = files.number(self._connection, "data_version")
        except sqlite3.Error as error:
            if files.is_busy(error):
                return False
            raise files.in_plain_words(error, self.path) from error
        before, self._version = self._version, version
        return version != before

    def batch(self, number: int) -> Batch | None:
        """The commit of that number; None if there is none. Raises BadJournal."""
        try:
            return files.batch(self._connection, number)
        except sqlite3.Error as error:
            raise files.in_plain_words(error, self.path) from error

    def after(self, before: Batch) -> Iterator[Sealed]:
        """Every commit behind ``before`` that is there now. Raises BadJournal."""
        try:
            last = files.last_batch(self._connection)
            if last is not None:
                yield from commits(self._connection, before, last)
        except sqlite3.Error as error:
            if not files.is_busy(error):
                raise files.in_plain_words(error, self.path) from error

    def close(self) -> None:
        """Let go of the file. Doing it twice is harmless."""
        self._connection.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()


def closes(sealed: Sealed) -> bool:
    """Whether the incident is closed in a commit."""
    return any(
        KIND_OF.get(kind) is RowKind.ACT and _closes(data)
        for kind, data in zip(sealed.rows.kind, sealed.rows.data, strict=True)
    )


def _closes(data: bytes) -> bool:
    if _CLOSE not in data:
        return False
    try:
        act = json.loads(data)
    except ValueError:
        return False
    return isinstance(act, dict) and act.get("what") == "close"
