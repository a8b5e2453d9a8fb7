"""Follows a journal that is being recorded and keeps checkpoints of it.

A process of its own, started by the recorder and as unimportant as a process can be: nothing waits
for it, and when it is killed nothing is lost. It looks every few seconds, lets go of the journal in
between, so as not to stand in the way of its closing, and ends when nobody records any more.
"""

from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Generic, Protocol, TypeVar

from monitor.checkpoint.beside import checkpoints_of
from monitor.checkpoint.file import place_of
from monitor.checkpoint.keeping import Checkpoints, Series
from monitor.checkpoint.recalled import Recalled
from monitor.checkpoint.shelf import folder_of
from monitor.incident.incident import Incident
from monitor.incident.rows import Row
from monitor.journal.reader import JournalReader
from monitor.journal.schema import ROWS_A_STEP_MAX


class State(Protocol):
    """What is folded and kept."""

    row: int
    incident: Incident

    @property
    def packs(self) -> int:
        """How many are known."""

    def take(self, rows: Iterable[Row]) -> None:
        """Fold the next rows."""

    def advance(self, t: int) -> None:
        """Every row up to and at ``t`` has come."""


S = TypeVar("S", bound=State)


class Follow(Generic[S]):
    """One fold of one journal."""

    def __init__(self, journal: Path, checkpoints: Series[S], new: Callable[[], S]) -> None:
        """Begin at the newest that is kept, else with a ``new`` state. Raises BadJournal."""
        self._journal = journal
        self._checkpoints = checkpoints
        with JournalReader(journal) as reader:
            found = checkpoints.newest(reader.batch)
        self.state = found.state if found else new()
        self._batch = found.place.batch if found else 0
        self._wanted = self._checkpoints.next_row(self.state)

    def look(self) -> bool:
        """Fold what is new and keep what is due; False once the incident is closed.

        Raises BadJournal, or ValueError where a row is not what its kind says.
        """
        with JournalReader(self._journal) as reader:
            while not self.state.incident.closed and self._step(reader):
                pass
        return not self.state.incident.closed

    def _step(self, reader: JournalReader) -> bool:
        """Fold some rows, but none beyond the commit at which one is kept; False at the end."""
        state, limit = self.state, ROWS_A_STEP_MAX
        stop = reader.first_batch_reaching(max(self._wanted, state.row), self._batch)
        if stop is not None:
            limit = min(limit, stop.last_row - state.row)
        rows = reader.read(state.row, limit).rows if limit else []
        state.take(rows)
        if stop is None or state.row < stop.last_row:
            return bool(rows)
        state.advance(stop.horizon)
        self._checkpoints.keep(place_of(stop), state)
        self._batch = stop.batch
        self._wanted = self._checkpoints.next_row(state)
        return True


class Keeper(Follow[Recalled]):
    """The one that keeps what readers of the incident begin with."""

    def __init__(
        self, journal: Path, checkpoints: Checkpoints | None = None, secret: bytes = b""
    ) -> None:
        """Begin at the newest checkpoint. Raises BadJournal as ``JournalReader`` does.

        ``checkpoints``: others than those beside the journal. ``secret``: the journal's key.
        """
        if checkpoints is None:
            with JournalReader(journal) as reader:
                checkpoints = checkpoints_of(journal, reader.header(), secret)
        super().__init__(journal, checkpoints, Recalled)


def lock_place(journal: Path) -> Path:
    """What a keeper locks, so that a journal has one."""
    return folder_of(journal) / "keeper"
