"""Rows that are in a second place only: after a recorder died while the journal's disk took none.

The next recorder brings them in by itself. Until then, and where the journal itself is gone,
whoever looks at the journal is told, and ``recover`` does it.
"""

import contextlib
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from monitor import runtime_folder
from monitor.errors import BadJournal
from monitor.journal import spill
from monitor.journal.lock import is_recorded
from monitor.journal.reader import JournalReader
from monitor.journal.writer import JournalWriter
from monitor.settings import Settings


@dataclass(frozen=True, slots=True)
class Elsewhere:
    """What one journal has not."""

    journal: Path
    rows: int
    """Beyond what the journal holds; all of them where it is gone."""
    gone: bool
    """There is no such journal any more."""
    places: tuple[Path, ...]
    """Of the files that have them."""


def places_of(settings: Settings) -> list[Path]:
    """Every folder in which there may be some."""
    return spill.folders(settings.spill_path, runtime_folder.there())


def of_journal(journal: Path, folders: Sequence[Path]) -> Elsewhere | None:
    """What is elsewhere of one that nobody records into; None: nothing."""
    gone = not journal.exists()
    files = _all_of(journal, folders) if gone else spill.found(journal, folders)
    files = [file for file in files if gone or _fits(file, journal)]
    if not files or is_recorded(journal):
        return None
    here = 0 if gone else _last_row(journal)
    there = max(map(_last_row, files))
    if there <= here:
        return None
    return Elsewhere(journal, there - here, gone, tuple(files))


def of_strangers(journal: Path, folders: Sequence[Path]) -> Elsewhere | None:
    """What there is of another incident that had this journal's name; None: nothing.

    Its own journal was moved away or lost, and this one is in its place.
    """
    if not journal.exists() or is_recorded(journal):
        return None
    files = [file for file in _all_of(journal, folders) if not _fits(file, journal)]
    rows = max(map(_last_row, files), default=0)
    return Elsewhere(journal, rows, gone=True, places=tuple(files)) if rows else None


def of_journals_gone(where: Path, folders: Sequence[Path]) -> list[Elsewhere]:
    """Every one in the folder ``where`` of which nothing is left but what is elsewhere."""
    journals = {spill.journal_of(file) for folder in folders for file in spill.all_in(folder)}
    folder = spill.full_path(where)
    there = [path for path in journals if path is not None and path.parent == folder]
    gone = sorted(path for path in there if not path.exists())
    return [one for path in gone if (one := of_journal(path, folders)) is not None]


def kept_aside(journal: Path, folders: Sequence[Path]) -> list[Path]:
    """Files with rows of this incident that do not go on from the journal, and never will."""
    if not journal.exists():
        return []
    return [file for file in spill.aside(journal, folders) if _fits(file, journal)]


def _all_of(journal: Path, folders: Sequence[Path]) -> list[Path]:
    return [*spill.found(journal, folders), *spill.aside(journal, folders)]


def _fits(file: Path, journal: Path) -> bool:
    """Whether both are of one incident, as far as they can be read."""
    one, other = _incident(file), _incident(journal)
    return one == other or not one or not other


def _incident(path: Path) -> str:
    with contextlib.suppress(BadJournal), JournalReader(path) as reader:
        return reader.header().incident
    return ""


def _last_row(path: Path) -> int:
    with contextlib.suppress(BadJournal), JournalReader(path) as reader:
        return reader.last_batch().last_row
    return 0


def recover(journal: Path, folders: Sequence[Path], key: bytes) -> int:
    """Bring everything into the journal, which is made anew where it is gone; give how many rows.

    Its lock is held by whoever calls. ``key``: the journal's; empty: digests that were made with
    one are copied as they stand. Raises OSError, BadJournal: there is nothing, or one of the files
    does not fit; then what the others have was brought in.
    """
    gone = not journal.exists()
    files = _all_of(journal, folders) if gone else spill.found(journal, folders)
    files = spill.by_reach(files)
    if not files:
        raise BadJournal("nothing of it is in a second place", str(journal), "see outby incidents")
    rows = _copied(files, journal) if gone else 0
    writer = JournalWriter.open(journal, key, keyless=not key)
    fault: BadJournal | None = None
    merged: list[Path] = []
    try:
        for file in files:
            try:
                rows += spill.merge(writer, file).rows
                merged.append(file)
            except BadJournal as error:
                # It keeps none of the others out.
                fault = fault or error
        writer.checkpoint()
    finally:
        writer.close(final=False)
    for file in merged:
        spill.remove(file)
    if fault is not None:
        raise BadJournal(f"{rows:,} rows brought in; {fault.what}", fault.where, fault.to_do)
    return rows


def _copied(files: Sequence[Path], journal: Path) -> int:
    """Make the journal of the furthest spill that has all of it."""
    whole = [file for file in files if _is_whole(file)]
    if not whole:
        what = "only its end is kept, and the journal is gone"
        raise BadJournal(what, str(files[-1]), "find the journal, put it back, and recover again")
    file = whole[-1]
    rows = _last_row(file)
    writer = JournalWriter.open(file, keyless=True)
    try:
        copy = writer.copied_to(journal)
    finally:
        writer.close(final=False)
    if copy is None:
        raise BadJournal("the copy of the journal cannot be read", str(file), "keep the file")
    copy.close(final=False)
    return rows


def _is_whole(file: Path) -> bool:
    with contextlib.suppress(BadJournal), JournalReader(file) as reader:
        return reader.batch(0) is not None
    return False
