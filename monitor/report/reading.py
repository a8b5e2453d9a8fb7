"""Opens a journal for a report and reads it once, from the first row to the newest commit."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

from monitor.archive.damage import Whole, whole_part
from monitor.errors import BadJournal
from monitor.incident.decoding import NOT_UNDERSTOOD, why
from monitor.incident.rows import Row
from monitor.journal.reader import JournalReader
from monitor.journal.schema import Batch, Header, Session
from monitor.report.gathering import Gathered, gather


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


def read(path: Path, progress: Progress = lambda _done, _all: None, *, looks: bool = True) -> Told:
    """Read a journal, finished or live; of a damaged one what is right before the first fault.

    ``looks``: as ``gather`` has it. Raises BadJournal where it cannot be read or understood.
    """
    try:
        return _read(path, progress, None, looks=looks)
    except BadJournal as error:
        return _read(path, progress, whole_part(path, error), looks=looks)


def _read(path: Path, progress: Progress, whole: Whole | None, *, looks: bool) -> Told:
    with JournalReader(path, damaged=whole is not None) as reader:
        header = reader.header()
        last = whole.last if whole else reader.last_batch()
        sessions = tuple(one for one in reader.sessions() if one.session <= last.session)
        try:
            steps = _told(reader.steps(last.last_row), last.last_row, progress)
            gathered = gather(steps, last.horizon, looks=looks)
        except NOT_UNDERSTOOD as error:
            what = f"a row is not to be understood ({why(error)})"
            raise BadJournal(what, str(path), "verify it") from error
    if gathered.opened is None:
        raise BadJournal("no incident was opened in it", str(path), "verify it")
    return Told(path.name, header, last, sessions, gathered, whole.left_out if whole else "")


def _told(steps: Iterator[list[Row]], rows: int, progress: Progress) -> Iterator[list[Row]]:
    done = 0
    for step in steps:
        yield step
        done += len(step)
        progress(done, rows)
