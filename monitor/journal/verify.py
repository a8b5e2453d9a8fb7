"""Is a journal as it was written? Says exactly where it first is not.

Reads batch by batch, so it may run beside a recorder and its memory does not grow with length.
"""

import sqlite3
import struct
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from monitor.errors import BadJournal
from monitor.incident.rows import Row, RowKind
from monitor.journal import connection as files
from monitor.journal import digest
from monitor.journal.schema import HORIZON_BEFORE_ALL, KIND_OF, Batch, Header, Session
from monitor.journal.signatures import Signatures
from monitor.journal.signing import signed_in
from protocol.codec import decode
from protocol.rejects import Reject

BATCHES_A_STEP = 500
ROWS_A_BATCH_MAX = 1_000_000
"""More than any commit has; a damaged row number must not make us read a whole journal at once."""

_BATCHES = (
    f"SELECT {files.BATCH_COLUMNS} FROM batches"  # noqa: S608 - names of our own
    " WHERE batch >= ? ORDER BY batch LIMIT ?"
)
_ROWS = (
    "SELECT id, t, kind, link, late_ns, signal_dbm, data FROM rows"
    " WHERE id > ? AND id <= ? ORDER BY id LIMIT ?"
)

_RawRow = tuple[int, int, int, int, int, int | None, bytes]


GAP_NS = 750_000_000
"""Horizons further apart than this: nobody recorded in between. A recorder that is well moves the
horizon every 250 ms at the least, and calls 500 ms more a stall."""


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


@dataclass(frozen=True, slots=True)
class Gap:
    """A stretch of incident time, ns, in which the horizon stood: nobody recorded."""

    from_ns: int
    to_ns: int

    @property
    def length_ns(self) -> int:
        """How long."""
        return self.to_ns - self.from_ns


NO_GAP = Gap(0, 0)


@dataclass(slots=True)
class Findings:
    """What a look through a whole journal found."""

    header: Header
    last: Batch | None = None
    """The last commit up to which everything is right; None: not even the header."""
    fault: Fault | None = None
    """What comes right after it, if that is not right."""
    gaps: int = 0
    missing_ns: int = 0
    """All gaps together."""
    longest: Gap = NO_GAP
    keyless: int = 0
    """Commits of a keyed journal whose recorder had lost the key: they prove no more than those of
    a journal without one. Whoever follows them again with the key vouches for what it found."""
    noted: Batch | None = None
    """The commit whose digest was noted elsewhere, if there is one."""
    unproved: bool = False
    """The digest is keyed and no key was given: its order and shape were looked at, no more."""
    signatures: int = 0
    """Those that fit the rows, and are right if ``signatures_checked``."""
    signatures_checked: bool = True
    """False: this installation cannot check any."""
    signed: Batch | None = None
    """The last commit that a signature covers."""

    def right_up_to(self, batch: Batch, noted: bytes) -> None:
        """Take one more commit that is right."""
        if self.last is not None and self.last.batch > 0:
            gap = Gap(self.last.horizon, batch.horizon)
            if gap.length_ns > GAP_NS:
                self.gaps += 1
                self.missing_ns += gap.length_ns
                self.longest = max(self.longest, gap, key=lambda gap: gap.length_ns)
        self.last = batch
        if batch.digest == noted:
            self.noted = batch


def verify_digest(path: Path, key: bytes = b"") -> Fault | None:
    """Look through a whole journal; None if every row, batch, session and header entry is right.

    Raises as ``examine``.
    """
    return examine(path, key).fault


def examine(path: Path, key: bytes = b"", noted: bytes = b"") -> Findings:
    """Look through a whole journal: order, digests, signatures, horizon; up to the first fault.

    Without the key of a keyed digest everything else is looked at, and ``unproved`` is said.
    ``noted``: a digest noted elsewhere, to be looked for. A tail that was cut off whole is no
    fault: nothing in the file tells of it. Raises BadJournal where the file is none, is of a newer
    format, its header cannot be read, or its digest needs another key.
    """
    try:
        connection, damage = files.connect(path, "ro"), ""
    except files.Damaged as error:
        connection, damage = files.connect(path, "ro", damaged=True), str(error)
    try:
        stored = files.read_header(connection)
        header = files.header_of(stored, path)
        _check_key(header, key, path)
        keyed = header.digest == "keyed"
        findings = Findings(header, unproved=keyed and not key)
        check = _Check(connection, key if keyed else b"", findings)
        return check.run(stored, noted, damage)
    except sqlite3.Error as error:
        raise files.in_plain_words(error, path) from error
    finally:
        connection.close()


def _check_key(header: Header, key: bytes, path: Path) -> None:
    if header.digest == "open" or not key:
        return
    if header.key_check != digest.key_check(key):
        raise BadJournal("the digest was made with another key", str(path), "give that key file")


class _Check:
    def __init__(self, connection: sqlite3.Connection, key: bytes, findings: Findings) -> None:
        self._connection = connection
        self._key = key
        self._key_now = key
        """Of the session; empty while its recorder had lost it."""
        self._findings = findings
        self._sessions: dict[int, Session] = {}
        self._signatures = Signatures(findings.header) if findings.header.signer else None

    def run(self, stored: dict[str, str], noted: bytes, damage: str) -> Findings:
        """Look; ``damage`` is what was wrong with the file itself when it was opened."""
        found = self._findings
        try:
            found.fault = self._look(stored, noted)
        except sqlite3.Error as error:
            plain = files.in_plain_words(error, Path())
            if not isinstance(plain, files.Damaged):
                raise
            found.fault = self._here(f"the file itself is damaged or cut off here ({error})")
        if damage and found.fault is None:
            found.fault = self._here(f"all is right up to here, but the file is damaged ({damage})")
        return found

    def _here(self, what: str) -> Fault:
        last = self._findings.last
        row, batch = (last.last_row, last.batch) if last else (0, -1)
        return Fault(batch + 1, row + 1, row, what)

    def _look(self, stored: dict[str, str], noted: bytes) -> Fault | None:
        first = self._connection.execute(_BATCHES, (0, 1)).fetchall()
        if not first or first[0][0] != 0:
            return Fault(0, 1, 0, "the journal does not begin with batch 0")
        before = files.batch_of(first[0])
        texts = all(isinstance(text, str) for pair in stored.items() for text in pair)
        if not texts or not self._fits(before, digest.of_header(stored, self._key)):
            return Fault(0, 1, 0, "the header was changed")
        made = (0, 0, 0, HORIZON_BEFORE_ALL, 0, self._findings.header.opened_wall_ns)
        if before[:-1] != made:
            # No digest covers these: they follow from the header.
            return Fault(0, 1, 0, "the first batch was changed")
        self._findings.right_up_to(before, noted)
        if self._signatures is not None:
            self._signatures.begin(stored, before)
        while True:
            step = self._connection.execute(_BATCHES, (before.batch + 1, BATCHES_A_STEP)).fetchall()
            if not step:
                return self._beyond(before)
            for row in step:
                if fault := self._typed_batch(before, row):
                    return fault
                before = Batch(*row)
                self._findings.right_up_to(before, noted)

    def _session(self, number: int) -> Session | None:
        """One of them; looked for again, since a recorder may have begun it meanwhile."""
        if number not in self._sessions:
            self._sessions = {one.session: one for one in files.sessions(self._connection)}
        return self._sessions.get(number)

    def _beyond(self, last: Batch) -> Fault | None:
        """Look for what no batch counts: a recorder commits it together, so leaves none."""
        execute = self._connection.execute
        execute("BEGIN")
        newest = files.last_batch(self._connection) or last
        (highest,) = execute("SELECT max(id) FROM rows").fetchall()
        sessions = [session.session for session in files.sessions(self._connection)]
        execute("COMMIT")
        if highest[0] is not None and highest[0] > newest.last_row:
            return Fault(last.batch, newest.last_row + 1, highest[0], "rows that no batch counts")
        if sessions != list(range(1, newest.session + 1)):
            return self._here("sessions that no batch counts")
        return None

    def _typed_batch(self, before: Batch, row: tuple[Any, ...]) -> Fault | None:
        try:
            return self._batch(before, files.batch_of(row))
        except (TypeError, files.NotWritten):
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
        new = self._session(batch.session) if batch.session != before.session else None
        columns = digest.Columns(*list(zip(*rows, strict=True))[1:]) if rows else digest.NO_ROWS
        if self._as_sealed(before, batch, columns, new):
            return self._signed(batch, columns, new)
        return _first_broken_frame(batch, rows) or Fault(
            batch.batch, first, last, "changed since it was written"
        )

    def _as_sealed(
        self, before: Batch, batch: Batch, columns: digest.Columns, new: Session | None
    ) -> bool:
        """Whether the digest is right; without the key of a keyed one, whether it can be one."""
        if new is None and batch.session != before.session:
            return False
        keys = (self._key, b"") if new is not None and self._key else (self._key_now,)
        for key in keys:
            made = _digest(before, batch, columns, new, key)
            if made is not None and self._fits(batch, made):
                self._key_now = key
                self._findings.keyless += bool(self._key) and not key
                return not self._findings.unproved or _frames_right(columns)
        return False

    def _fits(self, batch: Batch, made: bytes) -> bool:
        if self._findings.unproved:
            return len(batch.digest) == digest.DIGEST_BYTES
        return batch.digest == made

    def _unsigned(self, batch: Batch, rows: digest.Columns) -> Fault | None:
        """A journal whose header names no signer has no signature, unless it was salvaged."""
        place = None if self._findings.header.salvaged else _signature_among(rows)
        if place is None:
            return None
        row = batch.last_row - len(rows.t) + place + 1
        return Fault(batch.batch, row, row, "a signature, but the header names no signer any more")

    def _signed(self, batch: Batch, rows: digest.Columns, new: Session | None) -> Fault | None:
        """Look at the signatures among the rows of a commit that is right."""
        if self._signatures is None:
            return self._unsigned(batch, rows)
        fault = self._signatures.take(batch, rows, new)
        found = self._findings
        found.signatures, found.signed = self._signatures.right, self._signatures.signed
        found.signatures_checked = self._signatures.checked
        return None if fault is None else Fault(batch.batch, *fault)


def _signature_among(rows: digest.Columns) -> int | None:
    """The place of the first signature among some rows."""
    facts = (KIND_OF.get(kind) is RowKind.FACT for kind in rows.kind)
    for place, (is_fact, data) in enumerate(zip(facts, rows.data, strict=True)):
        if is_fact and signed_in(Row(0, RowKind.FACT, data)) is not None:
            return place
    return None


def _digest(
    before: Batch, batch: Batch, rows: digest.Columns, new: Session | None, key: bytes
) -> bytes | None:
    try:
        return digest.of_batch(before, batch, rows, new, key)
    except (ValueError, TypeError, AttributeError, ArithmeticError, struct.error):
        # A value that does not fit its place in the digest was never written by a recorder.
        return None


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


def _frames_right(rows: digest.Columns) -> bool:
    """Whether every frame has its own checksum right."""
    frames = (KIND_OF.get(kind) is RowKind.FRAME for kind in rows.kind)
    return not any(
        is_frame and isinstance(decode(data), Reject)
        for is_frame, data in zip(frames, rows.data, strict=True)
    )


def _first_broken_frame(batch: Batch, rows: list[_RawRow]) -> Fault | None:
    """Within a batch that was changed: a frame whose own checksum no longer fits, if there is."""
    for row_id, _, kind, _, _, _, data in rows:
        if KIND_OF.get(kind) is RowKind.FRAME and isinstance(decode(data), Reject):
            return Fault(batch.batch, row_id, row_id, "the frame was changed since it was written")
    return None
