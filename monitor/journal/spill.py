"""A second place for rows while the journal's disk takes none: it goes on from the journal.

A spill has the journal's tables and header. Its first batch is a copy of the journal's batch after
which it begins; the batches behind it continue the same numbers and the same running digest. So
merging is copying: what the journal has already must be the same, what follows is written as it
stands, and the digest proves that nothing is missing between. Where a spill lies is a fact in the
journal, so that every reader finds it.
"""

import contextlib
import hashlib
import logging
import os
import sqlite3
import stat
from collections.abc import Iterable, Iterator, Sequence
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import Self

from monitor.errors import BadJournal
from monitor.journal import connection as files
from monitor.journal import digest
from monitor.journal.place import in_memory
from monitor.journal.schema import Batch, Session
from monitor.journal.sealing import Sealed
from monitor.journal.writer import JournalWriter
from monitor.own_file import is_missing, make_anew
from shared.reading import Unreadable, read_bytes

ROWS_A_COMMIT_MAX = 20_000
BATCHES_A_STEP = 1_000
PATH_BYTES_MAX = 8_192
SHARED_MEMORY = Path("/dev/shm")  # noqa: S108 - a folder of our own in it, never a known name
"""Linux: memory that looks like a file system, there whatever the disks do."""
OF = ".of"
"""Ending of the file beside a spill that says whose it is: the full path of the journal."""
ENDINGS = ("", "-wal", "-shm", OF)
SPILL = ".spill"

_log = logging.getLogger(__name__)

_BATCHES = (
    f"SELECT {files.BATCH_COLUMNS} FROM batches "  # noqa: S608
    "WHERE batch > ? ORDER BY batch LIMIT ?"
)
_ROWS = (
    "SELECT t, kind, link, late_ns, signal_dbm, data FROM rows WHERE id > ? AND id <= ? ORDER BY id"
)


def full_path(path: Path) -> Path:
    """The one path of a file or folder, whether or not it is there."""
    return Path(os.path.realpath(path))


def spill_path(journal: Path, folder: Path) -> Path:
    """Where the spill of ``journal`` is in that folder, by where the journal really is.

    Whoever looks for it may name the journal in another way: from another folder, or by a link.
    """
    name = hashlib.sha256(os.fsencode(full_path(journal))).hexdigest()[:16]
    return folder / f"{name}{SPILL}"


def folders(
    wanted: Path | None, others: Sequence[Path], shared: Path = SHARED_MEMORY
) -> list[Path]:
    """Everywhere that a spill may be, whether or not one is made there now."""
    return list(dict.fromkeys([*([wanted] if wanted else []), *others, *_own_in_memory(shared)]))


def choose(
    journal: Path, wanted: Path | None, answer: Sequence[Path], shared: Path = SHARED_MEMORY
) -> list[Path]:
    """Give the folders for spills, best first: the wanted one, else the best, and memory behind it.

    ``answer``: those of ``folders`` that answer; what is not among them is not asked for anything.
    Best is another file system than the journal's: this user's own folders, or memory. Failing that
    the first of them, which still helps when the journal's files are lost. Memory hangs with no
    disk. None: there is none that can be written.
    """
    memory = _in_memory(shared)
    good = [*answer, *memory]
    with contextlib.suppress(OSError):
        if wanted is not None and wanted in answer:
            good = [wanted]
            wanted.mkdir(mode=0o700, parents=True, exist_ok=True)
        here = journal.parent.stat().st_dev
        if wanted is not None and good == [wanted] and wanted.stat().st_dev == here:
            _log.warning("spill_folder is on the journal's own disk, and hangs with it: %s", wanted)
        good = [*(one for one in good if one.stat().st_dev != here), *good]
    best = [folder for folder in good if os.access(folder, os.W_OK | os.X_OK)][:1]
    return best if any(map(in_memory, best)) else [*best, *memory]


def found(journal: Path, among: Sequence[Path]) -> list[Path]:
    """The spills of ``journal`` that are there."""
    there = (spill_path(journal, folder) for folder in among)
    return [path for path in there if path.is_file()]


def aside(journal: Path, among: Sequence[Path]) -> list[Path]:
    """Those that were put aside: they did not go on from what had this journal's name by then."""
    there = (spill_path(journal, folder) for folder in among)
    files = (file for path in there for file in sorted(path.parent.glob(f"{path.name}.*")))
    return [file for file in files if file.suffix[1:].isdecimal() and file.is_file()]


def all_in(folder: Path) -> list[Path]:
    """Every spill in a folder; none where it cannot be looked into."""
    with contextlib.suppress(OSError):
        return sorted(path for path in folder.glob(f"*{SPILL}") if path.is_file())
    return []


def journal_of(path: Path) -> Path | None:
    """Whose it is; None where nothing tells."""
    with contextlib.suppress(Unreadable):
        said = Path(os.fsdecode(read_bytes(path.with_name(path.name + OF), PATH_BYTES_MAX)))
        # The name must be that journal's: nobody else's word counts.
        return said if spill_path(said, path.parent) == path else None
    return None


def by_reach(paths: Sequence[Path]) -> list[Path]:
    """In the order in which they are to be merged: what goes on further comes later."""
    return sorted(paths, key=_last_batch)


def _last_batch(path: Path) -> int:
    with contextlib.suppress(BadJournal, sqlite3.Error), closing(files.connect(path, "ro")) as one:
        last = files.last_batch(one)
        return -1 if last is None else last.batch
    return -1


def _in_memory(shared: Path) -> list[Path]:
    """One folder in memory that nobody else can open, made if need be; none where there is none.

    Anybody can make a folder of any name there: one that is not this user's alone is passed over.
    """
    if not shared.is_dir():
        return []
    for folder in _names_in_memory(shared):
        with contextlib.suppress(OSError):
            folder.mkdir(mode=0o700, exist_ok=True)
        if _own(folder):
            return [folder]
    _log.error("no second place in memory: %s and eight more are not this user's alone", folder)
    return []


def _own_in_memory(shared: Path) -> list[Path]:
    """Every one of them that is there."""
    return [folder for folder in _names_in_memory(shared) if _own(folder)]


def _names_in_memory(shared: Path) -> list[Path]:
    first = f"outby-{os.getuid()}"
    return [shared / name for name in (first, *(f"{first}-{n}" for n in range(2, 10)))]


def _own(folder: Path) -> bool:
    try:
        seen = folder.lstat()
    except OSError:
        return False
    own = seen.st_uid == os.getuid() and not seen.st_mode & 0o077
    return own and stat.S_ISDIR(seen.st_mode)


@dataclass(frozen=True, slots=True)
class Merged:
    """What a merge has brought into a journal."""

    batches: int
    rows: int


def merge(writer: JournalWriter, path: Path) -> Merged:
    """Copy into the journal what it has not of the spill at ``path``.

    What both have must be the same. Raises BadJournal where it is not, where the spill is of
    another incident, or where batches are missing between: then the journal is as it was.
    """
    with closing(files.connect(path, "rw")) as connection:
        try:
            here, there = writer.last, files.last_batch(connection)
            _check_same(writer, connection, path)
            if there is None or there.batch <= here.batch:
                return Merged(0, 0)
            some: list[Sealed] = []
            for one in _batches_after(connection, here, _keys_of(writer), path):
                some.append(one)
                if sum(len(s.rows.t) for s in some) >= ROWS_A_COMMIT_MAX:
                    writer.write(some)
                    some = []
            if some:
                writer.write(some)
        except sqlite3.Error as error:
            raise files.in_plain_words(error, path) from error
    return Merged(there.batch - here.batch, there.last_row - here.last_row)


@dataclass(frozen=True, slots=True)
class Spill:
    """The second place of one journal, as the recorder's threads use it."""

    path: Path
    lasting: bool = True
    """A loss of power does not take it."""

    @classmethod
    def at(cls, path: Path) -> Self:
        """The one at ``path``."""
        return cls(path, not in_memory(path.parent))

    def make(
        self, writer: JournalWriter, base: Batch, sessions: Iterable[Session], *, lost: bool
    ) -> JournalWriter:
        """Make it, behind ``base``; of a journal that is lost a whole copy, if that can be."""
        _spare(self.path)
        _say_whose(self.path, writer.path)
        whole = writer.copied_to(self.path) if lost else None
        return whole or JournalWriter.follow(self.path, writer, base, sessions)

    def merge(self, writer: JournalWriter) -> Merged:
        """Bring it into the journal. Raises BadJournal."""
        return merge(writer, self.path)

    def remove(self) -> None:
        """Take it away. Raises OSError."""
        remove(self.path)


def _spare(path: Path) -> None:
    """Put aside what lies there and has rows: it was overlooked when the recorder began."""
    try:
        with closing(files.connect(path, "ro")) as one:
            empty = one.execute("SELECT 1 FROM rows LIMIT 1").fetchone() is None
    except (BadJournal, sqlite3.Error):
        empty = is_missing(path)
    if not empty:
        _log.error("kept of an earlier recorder: %s", put_aside(path))


def _say_whose(path: Path, journal: Path) -> None:
    """Say it in a file beside; without it the spill is found by its journal alone."""
    with contextlib.suppress(OSError):
        fd = make_anew(path.with_name(path.name + OF), os.O_WRONLY)
        try:
            os.write(fd, os.fsencode(full_path(journal)))
        finally:
            os.close(fd)


def remove(path: Path) -> None:
    """Take a spill away, once the journal has all of it. Raises OSError."""
    for ending in ENDINGS:
        path.with_name(path.name + ending).unlink(missing_ok=True)


def put_aside(path: Path) -> Path:
    """Give a spill that does not fit another name, so that nothing is ever written over it."""
    number = 1
    while (kept := path.with_name(f"{path.name}.{number}")).exists():
        number += 1
    with contextlib.suppress(OSError):
        for ending in ENDINGS:
            whole = path.with_name(path.name + ending)
            if whole.exists():
                whole.rename(kept.with_name(kept.name + ending))
    return kept


def _check_same(writer: JournalWriter, connection: sqlite3.Connection, path: Path) -> None:
    if files.read_header(connection).get("incident") != writer.stored["incident"]:
        raise BadJournal("the spill is of another incident", str(path), "keep the file")
    first = connection.execute("SELECT min(batch), max(batch) FROM batches").fetchall()[0]
    common = min(writer.last.batch, first[1])
    if common < first[0]:
        what = f"batches are missing between the journal and its spill, after {writer.last.batch}"
        raise BadJournal(what, str(path), "keep both files")
    mine, its = writer.batch(common), files.batch(connection, common)
    if mine is None or its is None or mine.digest != its.digest:
        what = f"the journal and its spill differ in batch {common}"
        raise BadJournal(what, str(path), "keep both files")


def _keys_of(writer: JournalWriter) -> tuple[bytes, ...]:
    """The keys of the journal's digests: a recorder may have gone on without the key."""
    if writer.key:
        return writer.key, b""
    return (b"",) if writer.stored["digest"] == "open" else ()


def _batches_after(
    connection: sqlite3.Connection, before: Batch, keys: Sequence[bytes], path: Path
) -> Iterator[Sealed]:
    """Every batch behind ``before``, once its digest is found to be right.

    ``keys``: those that it may have been made with; none: it cannot be checked.
    """
    sessions = {one.session: one for one in files.sessions(connection)}
    while True:
        found = connection.execute(_BATCHES, (before.batch, BATCHES_A_STEP)).fetchall()
        for columns in found:
            batch = Batch(*columns)
            rows = connection.execute(_ROWS, (before.last_row, batch.last_row)).fetchall()
            new = sessions[batch.session] if batch.session != before.session else None
            told = digest.Columns(*zip(*rows, strict=True)) if rows else digest.NO_ROWS
            right = not keys or any(
                digest.of_batch(before, batch, told, new, key) == batch.digest for key in keys
            )
            if batch.batch != before.batch + 1 or not right:
                raise BadJournal(
                    f"the spill is damaged in batch {batch.batch}", str(path), "keep both files"
                )
            yield Sealed(before, batch, told, new)
            before = batch
        if len(found) < BATCHES_A_STEP:
            return
