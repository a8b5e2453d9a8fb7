"""What is provably whole of a damaged journal, as a journal of its own.

Everything up to the last commit that is right is copied, commit by commit, under a new header that
says what it was taken from and why no more of it. A row behind a fault may be right too, but
nothing proves it, and a fold that has missed a row may be wrong in everything after.
"""

import os
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

from monitor.errors import AlreadyThere, BadJournal, Busy
from monitor.incident.event_parts import TEXT_MAX
from monitor.journal import connection as files
from monitor.journal import digest, lock
from monitor.journal.commits import commits
from monitor.journal.half_made import discard
from monitor.journal.schema import Batch
from monitor.journal.sealing import Sealed
from monitor.journal.verify import Findings
from monitor.journal.writer import JournalWriter
from shared.printable import escaped, shortened

NAME_MAX = 40
"""Characters of the damaged file's name; escaped, they are ten times as many at most."""


@dataclass(frozen=True, slots=True)
class Salvaged:
    """What was made."""

    path: Path
    last: Batch
    """The last commit in it; its digest is the new journal's own."""


def salvage(path: Path, findings: Findings, target: Path, key: bytes) -> Salvaged:
    """Make ``target`` of what ``findings`` found to be right in the journal at ``path``.

    ``key``: where its digest is keyed and was proved with it, the new one is too. Nothing is
    written over. Raises Busy while it is recorded, AlreadyThere where there is a file,
    BadJournal where nothing of it is right or the new one cannot be made.
    """
    last = findings.last
    if not lock.is_free(path):
        raise Busy("this incident is being recorded", str(path), "stop recording first")
    if os.path.lexists(target):
        raise AlreadyThere("there is a file already", str(target), "choose another name")
    if last is None or not last.last_row:
        raise BadJournal("nothing of it is provably right", str(path), "keep the file")
    header = findings.header
    what = f": {findings.fault}" if findings.fault is not None else ""
    name = escaped(shortened(path.name, NAME_MAX))
    if findings.unproved:
        what += "; its keyed digest was not checked"
    said = f"from {name}, up to row {last.last_row} of digest {last.digest.hex()}{what}"
    new = header.model_copy(
        update={
            "salvaged": shortened(said, TEXT_MAX),
            "digest": "open",
            "key_check": "",
            "signer": "",
        }
    )
    with closing(_opened(path)) as source:
        key = key if header.digest == "keyed" else b""
        writer = JournalWriter.create(target, new, key)
        try:
            for step in _sealed(source, writer.last, last, key):
                writer.write((step,))
        except BaseException as error:
            writer.close(final=False)
            discard(target)
            if isinstance(error, sqlite3.Error):
                raise files.in_plain_words(error, path) from error
            raise
        writer.close(final=True)
        return Salvaged(target, writer.last)


def _opened(path: Path) -> sqlite3.Connection:
    try:
        return files.connect(path, "ro")
    except files.Damaged:
        return files.connect(path, "ro", damaged=True)


def _sealed(source: sqlite3.Connection, before: Batch, last: Batch, key: bytes) -> Iterator[Sealed]:
    """Every commit of ``source`` behind its first and up to ``last``, in the new running digest."""
    for one in commits(source, before, last):
        batch = one.batch._replace(
            digest=digest.of_batch(before, one.batch, one.rows, one.new, key)
        )
        yield one._replace(before=before, batch=batch)
        before = batch
