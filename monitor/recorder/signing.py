"""Signs what a recorder has sealed: at the end, and every ten seconds while something is written.

It follows the commits on their way to the disk, so what is signed is what the recorder wrote and
not what somebody has made of the file since. Taken up again, it goes on from the last signature in
the journal and vouches for what it finds after that, as far as digests go.
"""

import logging
import sqlite3
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

from monitor.errors import BadJournal
from monitor.incident.signed import Signed
from monitor.journal import connection as files
from monitor.journal import digest, signing
from monitor.journal.commits import commits
from monitor.journal.reader import JournalReader
from monitor.journal.schema import ROWS_A_STEP_MAX, Batch, Header
from monitor.journal.sealing import Sealed

EVERY_NS = 10_000_000_000
"""What a crash can leave without a signature. A row of 300 bytes each time: one per cent of what
fifty packs write."""

_log = logging.getLogger(__name__)


@dataclass(slots=True)
class Signing:
    """The open digest of one journal so far, and the key."""

    incident: str
    seed: bytes
    so_far: bytes
    """Open digest of the last commit."""
    signed_ns: int = -EVERY_NS
    """Boot clock at the last signature; before the first, long ago."""
    new_rows: int = 0
    """Since the last signature; its own is none."""
    own: bool = False
    """The row of the last signature comes with the next commit."""

    def sealed(self, one: Sealed, *, end: bool) -> Signed | None:
        """Take the next commit; give a signature if one is due. ``end``: the last before a stop."""
        batch = one.batch
        self.so_far = digest.open_of_batch(self.so_far, batch, one.rows, one.new)
        self.new_rows += len(one.rows.t) - self.own
        self.own = False
        if not self.new_rows or not (end or batch.boot_ns - self.signed_ns >= EVERY_NS):
            return None
        self.signed_ns, self.new_rows, self.own = batch.boot_ns, 0, True
        said = signing.statement(self.incident, batch.batch, self.so_far)
        signature = signing.sign(self.seed, said)
        return Signed(batch=batch.batch, digest=self.so_far.hex(), signature=signature.hex())


def signer_of(seed: bytes) -> str:
    """The public key that a new journal names; empty: it will not be signed, and why is logged."""
    if not seed:
        return ""
    try:
        return signing.public_of(seed).hex()
    except ModuleNotFoundError:
        _log.error("not signed: install the extra '%s'", signing.EXTRA)
        return ""


def signing_of(path: Path, seed: bytes) -> Signing | None:
    """What signs a journal, new or taken up, from the last commit on; None: nothing does.

    A journal is signed by the key that it was begun with or by none. Without a signature in it, it
    is read from the start: some 6 s for eight hours of fifty packs. Whatever keeps it from being
    signed is logged: recording goes on.
    """
    try:
        with JournalReader(path) as reader:
            return _signing(reader, seed)
    except (BadJournal, sqlite3.Error) as error:
        _log.error("not signed: %s", error)
        return None


def _signing(reader: JournalReader, seed: bytes) -> Signing | None:
    header, last = reader.header(), reader.last_batch()
    if not header.signer:
        return None
    if signer_of(seed) != header.signer:
        _log.error("no longer signed: the key that the incident was opened with is not there")
        return None
    found = _last_signed(reader, header, last)
    with closing(files.connect(reader.path, "ro")) as connection:
        before = files.batch(connection, found.batch if found else 0)
        assert before is not None, "looked for, or the first"
        so_far = bytes.fromhex(found.digest) if found else _first(connection)
        for one in commits(connection, before, last):
            so_far = digest.open_of_batch(so_far, one.batch, one.rows, one.new)
    # What came after the last signature is signed with the first commit.
    return Signing(header.incident, seed, so_far, new_rows=last.last_row and 1)


def _first(connection: sqlite3.Connection) -> bytes:
    return digest.of_header(files.read_header(connection), size=digest.OPEN_BYTES)


def _last_signed(reader: JournalReader, header: Header, last: Batch) -> Signed | None:
    """The last signature that is right, looked for from the end."""
    until = last.last_row
    while until > 0:
        after = max(0, until - ROWS_A_STEP_MAX)
        for row in reversed(reader.read(after, until - after).rows):
            found = signing.signed_in(row)
            if found is None:
                continue
            known = found.batch < last.batch and reader.batch(found.batch) is not None
            if known and signing.is_signed(found, header):
                return found
        until = after
    return None
