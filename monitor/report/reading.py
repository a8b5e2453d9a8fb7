"""Opens a journal for a report and reads it once, from the first row to the newest commit."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

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


Progress = Callable[[int, int], None]
"""Told how many rows of how many are read."""


def read(path: Path, progress: Progress = lambda _done, _all: None) -> Told:
    """Read a journal, finished or live. Raises BadJournal where it cannot be read or understood."""
    with JournalReader(path) as reader:
        header, last = reader.header(), reader.last_batch()
        sessions = tuple(reader.sessions())
        try:
            steps = _told(reader.steps(last.last_row), last.last_row, progress)
            gathered = gather(steps, last.horizon)
        except NOT_UNDERSTOOD as error:
            what = f"a row is not to be understood ({why(error)})"
            raise BadJournal(what, str(path), "verify it") from error
    if gathered.opened is None:
        raise BadJournal("no incident was opened in it", str(path), "verify it")
    return Told(path.name, header, last, sessions, gathered)


def _told(steps: Iterator[list[Row]], rows: int, progress: Progress) -> Iterator[list[Row]]:
    done = 0
    for step in steps:
        yield step
        done += len(step)
        progress(done, rows)
