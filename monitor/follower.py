"""Follows a journal: reads what is new and folds it. Every display and report stands on this.

It never shows more than the journal's horizon. A deadline of the fold falls at its exact time
whenever the horizon passes it, so two followers of one journal show the same at every horizon, at
whatever moments they look.
"""

from dataclasses import replace
from pathlib import Path
from typing import Self

from monitor.checkpoint.beside import checkpoints_of
from monitor.errors import BadJournal
from monitor.incident.decoding import NOT_UNDERSTOOD, event_of, why
from monitor.incident.incident import Incident
from monitor.incident.picture import Picture
from monitor.journal.reader import JournalReader, Slice
from monitor.journal.schema import HORIZON_BEFORE_ALL, ROWS_A_STEP_MAX, Header

POLL_ROWS = ROWS_A_STEP_MAX
"""Rows folded in one poll unless told otherwise: some 30 ms, so a board that catches up with a long
journal goes on taking keys."""


class Follower:
    """One reader's view of one journal, live or finished."""

    def __init__(self, path: Path, *, checkpoints: bool = False, key: bytes = b"") -> None:
        """Open; no row is read yet. Raises BadJournal as ``JournalReader`` does.

        ``checkpoints``: begin at the newest of those beside the journal, if there is one;
        ``key``: the journal's, then only at one that was tagged with it.
        """
        self._reader = JournalReader(path)
        self._last_row = 0
        self._fault: BadJournal | None = None
        self._finished = False
        self.path = path
        self.header: Header = self._reader.header()
        self.incident = Incident()
        self.horizon = HORIZON_BEFORE_ALL
        """Incident time, ns, up to which everything has been folded; -1: nothing yet."""
        self.catching_up = True
        """More is known to be in the journal than has been folded."""
        if checkpoints:
            self._begin_further(key)

    def _begin_further(self, key: bytes) -> None:
        found = checkpoints_of(self.path, self.header, key).newest(self._reader.batch)
        if found is not None:
            self.incident = found.state.incident
            self._last_row, self.horizon = found.place.row, found.place.t

    @property
    def last_row(self) -> int:
        """Number of the last row folded."""
        return self._last_row

    @property
    def finished(self) -> bool:
        """The incident is closed and all of it has been folded: the file has been let go."""
        return self._finished

    def poll(self, limit: int = POLL_ROWS) -> bool:
        """Fold what is new, at most about ``limit`` rows; say whether anything moved.

        Raises BadJournal when the file cannot be read or a row not be understood, and again at
        every later poll: an incident with a hole in it must not be shown as whole.
        """
        if self._fault is not None:
            raise self._fault
        if self._finished or not (self._reader.changed() or self.catching_up):
            return False
        try:
            return self._poll(limit)
        except BadJournal as fault:
            self._fault = fault
            raise

    def _poll(self, limit: int) -> bool:
        before = self._last_row, self.horizon
        left = limit
        while left > 0:
            step = self._reader.read(self._last_row, left)
            self._fold(step)
            left -= len(step.rows)
            self.catching_up = not step.complete
            if step.complete or not step.rows:
                break
        if self.incident.closed and not self.catching_up:
            # Nothing that comes after the close changes anything, and the recorder can make one
            # plain file of the journal only when its readers have let go.
            self._finished = True
            self.close()
        return before != (self._last_row, self.horizon)

    def give_reader(self) -> JournalReader:
        """Hand the open file over to whoever reads for this follower from now on; see ``fold``."""
        return self._reader

    def begin_anew(self) -> None:
        """Forget everything: what was folded is not what the journal holds."""
        self.incident = Incident()
        self._last_row, self.horizon = 0, HORIZON_BEFORE_ALL
        self.catching_up = True

    def fold(self, step: Slice) -> bool:
        """Fold what is new in a step that somebody else has read.

        Rows that have been folded are passed over. False: rows are missing before it, so nothing
        was folded. Raises BadJournal where a row is not to be understood, and at every later call.
        """
        if self._fault is not None:
            raise self._fault
        known = self._last_row - (step.last_row - len(step.rows))
        if known < 0:
            return False
        if known > len(step.rows):
            return True
        try:
            self._fold(replace(step, rows=step.rows[known:]) if known else step)
        except BadJournal as fault:
            self._fault = fault
            raise
        self.catching_up = not step.complete
        return True

    def finish(self) -> None:
        """The incident is closed: nothing more is folded."""
        self._finished = True

    def _fold(self, step: Slice) -> None:
        apply = self.incident.apply
        number = self._last_row
        try:
            for number, row in enumerate(step.rows, self._last_row + 1):  # noqa: B007 - for the error
                event = event_of(row)
                if event is not None:
                    apply(event)
            self._last_row = step.last_row
            if step.horizon > self.horizon:
                self.incident.advance(step.horizon)
                self.horizon = step.horizon
        except NOT_UNDERSTOOD as error:
            raise BadJournal(
                f"row {number} is not to be understood ({why(error)})", str(self.path), "verify it"
            ) from error

    def picture(self) -> Picture:
        """Return the incident as it was at ``horizon``, for a display."""
        return self.incident.picture()

    def close(self) -> None:
        """Let go of the file. Doing it twice is harmless."""
        self._reader.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()
