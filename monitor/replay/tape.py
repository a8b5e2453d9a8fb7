"""A journal as a player reads it: rows in order, how far it goes, and what stands out in it."""

from collections.abc import Callable, Iterator
from contextlib import suppress
from pathlib import Path
from typing import Protocol, Self, TypeVar

from monitor.archive.damage import Whole
from monitor.archive.wall_clock import WallClock
from monitor.errors import BadJournal
from monitor.incident.decoding import NOT_UNDERSTOOD, event_of, why
from monitor.incident.events import Done
from monitor.incident.rows import Row, RowKind
from monitor.journal.reader import JournalReader
from monitor.journal.schema import Batch, Header
from monitor.replay.marks import Mark, mark_of, note_of

_Found = TypeVar("_Found")
ROWS_MAX = 2_000
"""Rows handed over at once."""


class Tape(Protocol):
    """What a player reads."""

    def end(self) -> int:
        """Give the incident time, ns, up to which everything is there now."""

    def rows(self, after_row: int) -> list[Row]:
        """Give the rows after that number, a bounded number of them; none at the end."""

    def batch(self, number: int) -> Batch | None:
        """Give the commit of that number; None if there is none."""

    def first_batch_reaching(self, row: int, after: int) -> Batch | None:
        """Give the first commit after one that has all rows up to ``row`` behind it, if any has."""


class JournalTape:
    """A journal, finished or still growing, read-only; of a damaged one what is right."""

    def __init__(self, path: Path, whole: Whole | None = None) -> None:
        """Open. Raises BadJournal as ``JournalReader`` does.

        ``whole``: the part of a damaged journal that is right.
        """
        self._reader = JournalReader(path, damaged=whole is not None)
        self._whole = whole
        self._end = whole.last.horizon if whole else -1

    def end(self) -> int:
        """Give the horizon of the newest commit. Raises BadJournal."""
        if self._whole is None and self._reader.changed():
            self._end = self._reader.last_batch().horizon
        return self._end

    def rows(self, after_row: int) -> list[Row]:
        """Give the next rows. Raises BadJournal."""
        if self._whole is None:
            return self._reader.read(after_row, ROWS_MAX).rows
        until = min(self._whole.last.last_row, after_row + ROWS_MAX)
        return next(self._reader.steps(until, after_row), [])

    def batch(self, number: int) -> Batch | None:
        """Give the commit of that number. Raises BadJournal."""
        return self._reader.batch(number)

    def first_batch_reaching(self, row: int, after: int) -> Batch | None:
        """Give the first commit that reaches that row, if it can be read."""
        with suppress(BadJournal):
            found = self._reader.first_batch_reaching(row, after)
            if found is None or self._whole is None or found.batch <= self._whole.last.batch:
                return found
        return None

    @property
    def header(self) -> Header:
        """What never changes."""
        return self._reader.header()

    def marks(self) -> tuple[Mark, ...]:
        """Give what stands out, in order of time: one look through the rows that are no frames."""
        return tuple(self._each(mark_of))

    def notes(self) -> tuple[tuple[int, str], ...]:
        """Give the remarks of officers as sentences, in the same way."""
        return tuple(self._each(note_of))

    def clock(self) -> WallClock:
        """Give what the wall clock showed, from the facts up to the newest commit."""
        clock = WallClock()
        for row, event in self._each(_fact_of):
            clock.fact(row.t, event)
        return clock

    def _each(self, found_in: Callable[[Row], _Found | None]) -> Iterator[_Found]:
        """What is found in rows that are no frames. Raises BadJournal."""
        for row in self._reader.apart_from_frames(self._last_row()):
            try:
                found = found_in(row)
            except NOT_UNDERSTOOD as error:
                what = f"a row is not to be understood ({why(error)})"
                raise BadJournal(what, str(self._reader.path), "verify it") from error
            if found is not None:
                yield found

    def _last_row(self) -> int:
        return (self._whole.last if self._whole else self._reader.last_batch()).last_row

    def close(self) -> None:
        """Let go of the file."""
        self._reader.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()


def _fact_of(row: Row) -> tuple[Row, object] | None:
    event = event_of(row) if row.kind == RowKind.FACT else None
    return (row, event.what) if isinstance(event, Done) else None
