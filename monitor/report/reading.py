"""Opens a journal for a report and reads it once, to the newest commit.

It goes on from what was gathered before and lies beside the journal, if anything does. Then all
rows before are counted, so that a journal with a hole, or a page that cannot be read, is never told
as whole; what is in them is for ``verify`` to prove.
"""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from monitor.archive.damage import Whole, whole_part
from monitor.checkpoint.file import place_of
from monitor.checkpoint.keeping import Series
from monitor.errors import BadJournal
from monitor.incident.decoding import NOT_UNDERSTOOD, why
from monitor.journal.reader import JournalReader
from monitor.journal.schema import Batch, Header, Session
from monitor.report.gathering import Gathered, Gathering


@dataclass(frozen=True, slots=True)
class Told:
    """A journal and what it tells."""

    name: str
    """Of the file, without its folder."""
    header: Header
    last: Batch
    """The commit up to which it was read."""
    sessions: tuple[Session, ...]
    gathered: Gathered
    left_out: str = ""
    """What of a damaged journal is not told, and why; empty: nothing."""


Progress = Callable[[int, int], None]
"""Told how many rows of how many are read."""


def read(
    path: Path,
    progress: Progress = lambda _done, _all: None,
    before: Series[Gathering] | None = None,
) -> Told:
    """Read a journal, finished or live; of a damaged one what is right before the first fault.

    ``before``: what was gathered of it before, to go on from, and to leave this for the next; None:
    begin at the first row. Raises BadJournal where it cannot be read or understood.
    """
    try:
        return _read(path, progress, None, before)
    except BadJournal as error:
        return _read(path, progress, whole_part(path, error), None)


def _read(
    path: Path, progress: Progress, whole: Whole | None, before: Series[Gathering] | None
) -> Told:
    with JournalReader(path, damaged=whole is not None) as reader:
        header = reader.header()
        last = whole.last if whole else reader.last_batch()
        sessions = tuple(one for one in reader.sessions() if one.session <= last.session)
        try:
            gathering = _begun(reader, last, before)
            begun_row = gathering.row
            for step in reader.steps(last.last_row, begun_row):
                gathering.take(step)
                progress(gathering.row, last.last_row)
            if before is not None and gathering.row - begun_row >= before.apart_rows:
                before.keep(place_of(last), gathering)
            gathered = gathering.finish(last.horizon)
        except NOT_UNDERSTOOD as error:
            what = f"a row is not to be understood ({why(error)})"
            raise BadJournal(what, str(path), "verify it") from error
    if gathered.opened is None:
        raise BadJournal("no incident was opened in it", str(path), "verify it")
    return Told(path.name, header, last, sessions, gathered, whole.left_out if whole else "")


def _begun(reader: JournalReader, last: Batch, before: Series[Gathering] | None) -> Gathering:
    """What was gathered before, if all rows that it stands for are there; else nothing."""
    found = before.newest(reader.batch, last.horizon) if before else None
    if found is None or found.place.row > last.last_row:
        return Gathering()
    if reader.count(found.place.row) != found.place.row:
        raise BadJournal("rows are missing", str(reader.path), "verify it")
    return found.state
