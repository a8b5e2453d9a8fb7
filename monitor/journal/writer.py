"""The one connection that writes, and checkpoints, a journal.

It belongs to the recorder. Its methods may be called from any thread, but from one at a time. No
other connection may write: two that write or checkpoint at the same moment can damage the file
with the SQLite versions that are about (before 3.44.6, 3.50.7 and 3.51.3), and a second writer that
is stopped inside a transaction stops this one.
"""

import contextlib
import os
import sqlite3
import threading
from collections.abc import Iterable, Mapping, Sequence
from contextlib import closing
from copy import copy
from itertools import chain, islice
from pathlib import Path
from typing import Self

from monitor.clock import Stamp
from monitor.errors import BadJournal
from monitor.incident.rows import Row
from monitor.journal import connection as files
from monitor.journal import digest
from monitor.journal.making import (
    INSERT_SESSION,
    check_free,
    fill,
    leave_alone,
    name,
    sync_folder,
    wal_path,
)
from monitor.journal.schema import (
    FORMAT_VERSION,
    HORIZON_BEFORE_ALL,
    Batch,
    Header,
    Session,
)
from monitor.journal.sealing import Sealed, Sealer
from monitor.journal.syncing import LogSyncer

CHECKPOINT_BYTES_MIN = 2 * 1024 * 1024
"""A checkpoint costs two syncs of the disk; below this much log it can wait."""
WAL_BYTES_MAX = 64 * 1024 * 1024
"""More log than this means that something pins it or no quiet moment comes: an alarm."""
CLOSE_WAIT_S = 2.0
CLOSE_PAUSE_S = 0.05
"""A closed incident becomes one file as soon as its readers have let go: how long that is waited
for, and how often it is tried."""
MODE = 0o600
"""Names, whereabouts and health of people: for the owner only."""

ROWS_A_STATEMENT = 50
"""Rows put in by one statement: a third less time than one by one, and beside a reading thread the
interpreter's lock changes hands once a statement. 350 values; older SQLite takes up to 999."""

_INSERT_ROW = "INSERT INTO rows VALUES(?,?,?,?,?,?,?)"
_INSERT_ROWS = _INSERT_ROW + ",(?,?,?,?,?,?,?)" * (ROWS_A_STATEMENT - 1)
_INSERT_BATCH = "INSERT INTO batches VALUES(?,?,?,?,?,?,?)"


MAKING = ".making"
"""Ending of a journal that is not whole yet; one left behind by a kill is made anew."""


class JournalWriter:
    """Appends batches. Make one by ``create`` or ``open``; then ``begin_session``, then commit."""

    def __init__(self, path: Path, connection: sqlite3.Connection, key: bytes) -> None:
        self.path = path
        self.key = key
        self._connection = connection
        self.stored = files.read_header(connection)
        """The header as it stands in the file."""
        last = files.last_batch(connection)
        if last is None:
            raise BadJournal("the journal has no batch", str(path), "keep the file")
        self._last = last
        self.sealer = Sealer(last, key)
        """Seals what follows the last batch."""
        self._closed = False
        self._prepare()
        self._syncer = LogSyncer(wal_path(path))
        self._file = _identity(path)
        self._names = str(path), str(wal_path(path))
        self._file_bytes, self._log_bytes = path.stat().st_size, 0
        """How much there was of file and log when they were last written; never less, since."""
        self.whole = 0
        """Number of the batch up to which everything is in the file itself, and on the disk."""
        if self.checkpoint():
            self._log_bytes = self.wal_bytes()

    @classmethod
    def create(cls, path: Path, header: Header, key: bytes = b"") -> Self:
        """Make a new journal. Raises BadJournal if there is a file of that name or no place.

        It gets its name once it is whole, so that nobody who looks for it finds half of one. Call
        it with the lock held.
        """
        if key:
            keyed = {"digest": "keyed", "key_check": digest.key_check(key)}
            header = header.model_copy(update=keyed)
        stored = {name: str(value) for name, value in header.model_dump().items()}
        first = Batch(0, 0, 0, HORIZON_BEFORE_ALL, 0, header.opened_wall_ns, b"")
        first = first._replace(digest=digest.of_header(stored, key))
        return cls._make(path, stored, first, (), key)

    @classmethod
    def begin_replica(cls, path: Path, stored: Mapping[str, str], first: Batch) -> Self:
        """Make a journal with header and first batch of another, to be written as that one was.

        Raises BadJournal as ``create``. Call it with the lock held.
        """
        return cls._make(path, stored, first, (), b"")

    @classmethod
    def follow(
        cls, path: Path, other: "JournalWriter", base: Batch, sessions: Iterable[Session]
    ) -> Self:
        """Make a journal that goes on behind ``base``, a batch of ``other``. A file there is lost.

        ``sessions``: those of ``other``. Raises BadJournal.
        """
        for ending in ("", "-wal", "-shm"):
            path.with_name(path.name + ending).unlink(missing_ok=True)
        before = [one for one in sessions if one.session <= base.session]
        return cls._make(path, other.stored, base, before, other.key)

    @classmethod
    def _make(
        cls,
        path: Path,
        stored: Mapping[str, str],
        first: Batch,
        sessions: Sequence[Session],
        key: bytes,
    ) -> Self:
        making = path.with_name(path.name + MAKING)
        check_free(path)
        try:
            making.unlink(missing_ok=True)
            fd = os.open(making, os.O_RDWR | os.O_CREAT | os.O_EXCL | os.O_CLOEXEC, MODE)
        except OSError as error:
            what = f"the journal cannot be made ({error.strerror})"
            raise BadJournal(what, str(path), "choose a folder that can be written") from error
        # Nothing in this process has the file open yet, so closing it drops nobody's lock.
        os.fchmod(fd, MODE)
        os.close(fd)
        try:
            fill(making, stored, first, sessions)
        except sqlite3.Error as error:
            making.unlink(missing_ok=True)
            raise files.in_plain_words(error, path) from error
        name(making, path)
        sync_folder(path.parent)
        return cls.open(path, key, keyless=not key)

    @classmethod
    def open(cls, path: Path, key: bytes = b"", *, keyless: bool = False) -> Self:
        """Go on with a journal. Raises BadJournal: no journal, newer format, another key.

        ``keyless``: its key cannot be had, and the digest goes on without.
        """
        connection = files.connect(path, "rw")
        try:
            header = files.header_of(files.read_header(connection), path)
            if not keyless:
                _check_key(header, key, path)
            return cls(path, connection, key)
        except sqlite3.Error as error:
            connection.close()
            raise files.in_plain_words(error, path) from error
        except BaseException:
            connection.close()
            raise

    def sessions(self) -> list[Session]:
        """Every stretch of recording that is in the file."""
        return files.sessions(self._connection)

    def batch(self, number: int) -> Batch | None:
        """Return the commit of that number; None if there is none."""
        return files.batch(self._connection, number)

    @property
    def last(self) -> Batch:
        """The newest commit: row number, horizon, clocks, digest."""
        return self._last

    def begin_session(
        self, boot_id: str, origin_boot_ns: int, started_wall_ns: int, software: str
    ) -> Session:
        """Start a stretch of recording; it is written with the next commit.

        ``origin_boot_ns`` is what the boot clock read, or would have read, at incident time 0.
        """
        return self.sealer.begin_session(boot_id, origin_boot_ns, started_wall_ns, software)

    def commit(self, rows: Sequence[Row], horizon: int, stamp: Stamp) -> int:
        """Write rows and horizon in one transaction; return the number of the last row.

        Rows are in order of time, later than the last horizon and not later than the new one.
        Raises BadJournal when the disk does not take them: then nothing of them is in the file,
        and the same rows may be committed again.
        """
        sealer = copy(self.sealer)
        sealed = sealer.seal(rows, horizon, stamp)
        self.write((sealed,))
        self.sealer = sealer
        return sealed.batch.last_row

    def write(self, batches: Sequence[Sealed]) -> None:
        """Write sealed batches in one transaction: all of them or none.

        They follow one another and the last in the file. Raises BadJournal as ``commit`` does.
        """
        before = self._last
        for one in batches:
            assert one.before.digest == before.digest, "batches follow one another"
            before = one.batch
            assert before.session, "begin_session first"
        self._write(batches)
        self._last = before
        self._log_bytes = self._syncer.log_bytes()
        self._syncer.committed(batches[0].batch.boot_ns)

    def cut_back(self, last: Batch) -> None:
        """Take away everything behind a batch of a replica, which the original has lost itself.

        Raises BadJournal where the disk does not take it; then nothing has changed.
        """
        run = self._connection.execute
        try:
            run("BEGIN IMMEDIATE")
            run("DELETE FROM rows WHERE id > ?", (last.last_row,))
            run("DELETE FROM batches WHERE batch > ?", (last.batch,))
            run("DELETE FROM sessions WHERE session > ?", (last.session,))
            run("COMMIT")
        except sqlite3.Error as error:
            if self._connection.in_transaction:
                with contextlib.suppress(sqlite3.Error):
                    run("ROLLBACK")
            raise files.in_plain_words(error, self.path) from error
        self._last = last

    def look_again(self) -> Batch:
        """The newest batch by what the file says, after a commit of which nobody knows.

        Raises BadJournal where the file cannot be read, or holds another batch of that number.
        """
        try:
            last = files.last_batch(self._connection)
        except sqlite3.Error as error:
            raise files.in_plain_words(error, self.path) from error
        if last is None:
            raise BadJournal("the journal has no batch", str(self.path), "keep the file")
        self._last = last
        return last

    def _write(self, batches: Sequence[Sealed]) -> None:
        run = self._connection.execute
        try:
            run("BEGIN IMMEDIATE")
            for one in batches:
                self._insert(one)
            run("COMMIT")
        except sqlite3.Error as error:
            if self._connection.in_transaction:
                with contextlib.suppress(sqlite3.Error):
                    run("ROLLBACK")
            raise files.in_plain_words(error, self.path) from error

    def _insert(self, one: Sealed) -> None:
        run = self._connection.execute
        if one.new:
            run(INSERT_SESSION, one.new)
        rows = range(one.before.last_row + 1, one.batch.last_row + 1)
        numbered = zip(rows, *one.rows, strict=True)
        for _ in range(len(rows) // ROWS_A_STATEMENT):
            values = chain.from_iterable(islice(numbered, ROWS_A_STATEMENT))
            run(_INSERT_ROWS, tuple(values))
        self._connection.executemany(_INSERT_ROW, numbered)
        run(_INSERT_BATCH, one.batch)

    def wal_bytes(self) -> int:
        """Size of the write-ahead log; over ``WAL_BYTES_MAX`` is a fault worth an alarm."""
        try:
            return wal_path(self.path).stat().st_size
        except FileNotFoundError:
            return 0

    def lost(self) -> str:
        """How file or log differ from what was written; empty where they do not.

        As ``displaced``, or somebody who opens it anew does not find the last batch in it.
        """
        return self.displaced() or self._misses_last()

    def displaced(self) -> str:
        """Whether file or log were moved, deleted, replaced or cut off, in words; else empty.

        It takes microseconds: names and sizes alone.
        """
        try:
            file, log = os.stat(self._names[0]), os.stat(self._names[1])  # noqa: PTH116 - half the time
            if (file.st_dev, file.st_ino) != self._file:
                return "another file is in the journal's place"
            if (log.st_dev, log.st_ino) != self._syncer.identity():
                return "another file is in its log's place"
            if file.st_size < self._file_bytes:
                return "the journal's file has been cut off"
            if log.st_size < self._log_bytes:
                return "its write-ahead log has been cut off"
        except FileNotFoundError as error:
            return f"{Path(error.filename or self.path).name} has been moved or deleted"
        except OSError as error:
            return f"the journal's folder cannot be read ({error.strerror})"
        return ""

    def _misses_last(self) -> str:
        try:
            with closing(files.connect(self.path, "ro")) as reader:
                found = files.batch(reader, self._last.batch)
        except sqlite3.Error as error:
            if files.is_busy(error):
                return ""
            return f"the journal cannot be read back ({error})"
        except BadJournal as error:
            return f"the journal cannot be read back: {error.what}"
        return "" if found == self._last else "the last rows are not in the journal"

    def copied_to(self, path: Path) -> "JournalWriter | None":
        """Make a whole copy of a journal whose file is gone, while it is still held open here.

        None where it cannot be read any more.
        """
        making = path.with_name(path.name + MAKING)
        making.unlink(missing_ok=True)
        os.close(os.open(making, os.O_RDWR | os.O_CREAT | os.O_EXCL | os.O_CLOEXEC, MODE))
        try:
            with closing(sqlite3.connect(making)) as target:
                self._connection.backup(target)
                target.execute("PRAGMA journal_mode=DELETE").fetchall()
        except sqlite3.Error:
            making.unlink(missing_ok=True)
            return None
        own = self._has_log(path)
        kept = leave_alone(path)
        making.replace(path)
        if own:
            # All of it is in the copy.
            kept.unlink(missing_ok=True)
        return JournalWriter.open(path, self.key, keyless=not self.key)

    def _has_log(self, path: Path) -> bool:
        """Whether the log beside ``path`` is this journal's own."""
        try:
            return _identity(wal_path(path)) == self._syncer.identity()
        except OSError:
            return False

    def disk_behind_ns(self, now_boot_ns: int) -> int:
        """Age of the oldest commit that a loss of power would still undo; 0 if there is none."""
        since = self._syncer.oldest_unsynced_ns()
        return 0 if since is None else max(0, now_boot_ns - since)

    @property
    def sync_fault(self) -> str:
        """What the disk said when a sync failed; empty while all went well."""
        return self._syncer.fault

    def checkpoint_if_quiet(self) -> bool:
        """Move the log into the file, if there is enough of it; say whether that was tried.

        Call it in a quiet moment: it syncs the disk, so it may take 0.3 s on a slow one, and
        commits wait for it. Raises BadJournal on a fault of the disk.
        """
        if self.wal_bytes() < CHECKPOINT_BYTES_MIN:
            return False
        self.checkpoint()
        return True

    def checkpoint(self) -> bool:
        """Move the log into the file; say whether all of it is there now. Raises BadJournal."""
        try:
            found = self._connection.execute("PRAGMA wal_checkpoint(PASSIVE)").fetchall()
        except sqlite3.Error as error:
            raise files.in_plain_words(error, self.path) from error
        busy, in_log, moved = found[0]
        if busy or in_log != moved:
            return False
        self.whole = self._last.batch
        self._file_bytes = self.path.stat().st_size
        return True

    def close(self, *, final: bool, wait_s: float = CLOSE_WAIT_S) -> bool:
        """Let go of the file; with ``final``, leave nothing but that one file.

        Returns whether it is one plain file now. It is not while a reader still holds it open
        after ``wait_s``; ``tidy`` does it later. Raises BadJournal on a fault of the disk. A second
        time it does nothing.
        """
        if self._closed:
            return False
        self._closed = True
        self._syncer.stop()
        try:
            return (
                _to_one_file(self._connection, 1 + round(wait_s / CLOSE_PAUSE_S))
                if final
                else False
            )
        except sqlite3.Error as error:
            raise files.in_plain_words(error, self.path) from error
        finally:
            self._connection.close()

    def _prepare(self) -> None:
        run = self._connection.execute
        run("PRAGMA journal_mode=WAL").fetchall()
        run("PRAGMA synchronous=NORMAL")
        run("PRAGMA wal_autocheckpoint=0").fetchall()
        # The log's file shrinks as it starts anew, so that its size says how much is in it.
        run("PRAGMA journal_size_limit=0").fetchall()
        # An update that changes nothing brings the log file into being, for the syncer to open.
        run("BEGIN IMMEDIATE")
        run(f"PRAGMA user_version={FORMAT_VERSION}")
        run("COMMIT")


def tidy(path: Path) -> bool:
    """Make one plain file of a journal that nobody records or reads; say whether it is now.

    The caller holds the journal's lock. Raises BadJournal as ``JournalWriter.open`` does.
    """
    connection = files.connect(path, "rw")
    try:
        return _to_one_file(connection, 1)
    except sqlite3.Error as error:
        raise files.in_plain_words(error, path) from error
    finally:
        connection.close()


def _check_key(header: Header, key: bytes, path: Path) -> None:
    right = digest.key_check(key) if key else ""
    if header.key_check != right:
        if not key:
            what = "the journal was begun with a fleet key"
        elif header.key_check:
            what = "the journal was begun with another fleet key"
        else:
            what = "the journal was begun without a fleet key"
        raise BadJournal(what, str(path), "go on with the key that it was begun with")


def _identity(path: Path) -> tuple[int, int]:
    found = path.stat()
    return found.st_dev, found.st_ino


def _to_one_file(connection: sqlite3.Connection, tries: int) -> bool:
    for attempt in range(tries):
        if attempt:
            threading.Event().wait(CLOSE_PAUSE_S)
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchall()
        with contextlib.suppress(sqlite3.OperationalError):
            mode = connection.execute("PRAGMA journal_mode=DELETE").fetchall()
            if mode == [("delete",)]:
                return True
    return False
