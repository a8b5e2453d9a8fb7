"""Moves a horizon over a recording, either way, with the fold that every reader has.

Ahead it folds on, or goes on from a checkpoint that is further. Back it starts again from the
nearest one before, or from the first row. What it shows at an instant is what a live follower
showed at that horizon. Pure but for where the checkpoints are.
"""

from dataclasses import dataclass, field

from monitor.checkpoint.file import place_of
from monitor.checkpoint.keeping import Checkpoints
from monitor.checkpoint.recalled import Recalled
from monitor.errors import BadJournal
from monitor.incident.air.detail import AirDetail
from monitor.incident.decoding import NOT_UNDERSTOOD, why
from monitor.incident.picture import Picture
from monitor.incident.rows import Row
from monitor.journal.schema import Batch
from monitor.replay.tape import Tape

POLL_ROWS = 2_000
"""Rows folded in one poll: some 40 ms, so that keys are heard meanwhile."""
NEAR_NS = 60_000_000_000
"""So far ahead it folds on and looks for no checkpoint."""


@dataclass(slots=True)
class Reel:
    """Where in the rows a fold stands."""

    state: Recalled = field(default_factory=Recalled)
    t: int = -1
    """Everything up to here is folded, ns."""
    batch: int = 0
    """Number of a commit that is behind it."""


class Player:
    """One fold of a tape, at any instant of it."""

    def __init__(self, tape: Tape, checkpoints: Checkpoints) -> None:
        """Begin before the first row; checkpoints are looked for, and kept on the way."""
        self._tape = tape
        self._checkpoints = checkpoints
        self._at = Reel()
        self._stop: Batch | None = None
        self._buffer: list[Row] = []
        self._before = 0
        """Number of the row before the buffer."""
        self._target = 0

    @property
    def horizon(self) -> int:
        """Everything up to this incident time has been folded, ns; -1: nothing yet."""
        return self._at.t

    @property
    def target(self) -> int:
        """Where it has been told to go."""
        return self._target

    @property
    def catching_up(self) -> bool:
        """It is not there yet."""
        return self._at.t < self._target

    @property
    def opened(self) -> bool:
        """An incident is open, or closed, at this instant: there is a picture."""
        return self._at.state.incident.opened is not None

    @property
    def closed(self) -> bool:
        """The incident has ended at this instant."""
        return self._at.state.incident.closed

    def end(self) -> int:
        """How far the recording goes now, ns."""
        return self._tape.end()

    def aim(self, t: int) -> None:
        """Go to that instant, or as near as the recording goes; ``poll`` does the work."""
        self.run_to(t)
        at = self._at
        if self._target - at.t > NEAR_NS:
            self._start_from(self._target, at.state.row + self._checkpoints.apart_rows)

    def run_to(self, t: int) -> None:
        """The same, but go through all that lies between."""
        self._target = max(0, min(t, self._tape.end()))
        at = self._at
        if self._target < max(at.t, at.state.incident.now):
            self._put(Reel())
            self._start_from(self._target, 0)

    def poll(self, limit: int = POLL_ROWS) -> bool:
        """Fold at most ``limit`` rows towards the target; say whether anything moved.

        Raises BadJournal where a row is not to be understood.
        """
        at, target = self._at, self._target
        if at.t >= target:
            return False
        while limit > 0:
            stop = self._next_stop()
            rows = self._next(limit, stop, target)
            self._fold(rows)
            limit -= len(rows)
            if stop is not None and at.state.row == stop.last_row and stop.horizon <= target:
                self._advance(stop.horizon)
                self._checkpoints.keep(place_of(stop), at.state)
                at.batch, self._stop = stop.batch, None
            elif not rows:
                self._advance(target)
                return True
        # The next row may have the same time as the last of these.
        self._advance(max(at.t, at.state.incident.now - 1))
        return True

    def go(self, t: int) -> None:
        """Go there and come back only then."""
        self.aim(t)
        while self.poll():
            pass

    def picture(self) -> Picture:
        """The incident at the horizon, as it was."""
        return self._at.state.incident.picture()

    def air_detail(self, wearer: int) -> AirDetail | None:
        """All of one wearer's air at the horizon; None if there is none to tell."""
        return self._at.state.incident.air_detail(wearer)

    # ------------------------------------------------------------ how it is done

    def _start_from(self, until_ns: int, after_row: int) -> None:
        """Go on from the last checkpoint up to an instant, if it is further than a row."""
        found = self._checkpoints.newest(self._tape.batch, until_ns, after_row)
        if found is not None:
            self._put(Reel(found.state, found.place.t, found.place.batch))

    def _put(self, reel: Reel) -> None:
        self._at = reel
        self._stop = None
        self._buffer, self._before = [], reel.state.row

    def _next_stop(self) -> Batch | None:
        """The commit at which the next checkpoint is kept; None if it has not come yet."""
        if self._stop is None:
            row = self._checkpoints.next_row(self._at.state)
            self._stop = self._tape.first_batch_reaching(row, self._at.batch)
        return self._stop

    def _next(self, limit: int, stop: Batch | None, target: int) -> list[Row]:
        """Rows that come next, none of them after the target or the stop."""
        row = self._at.state.row
        place = row - self._before
        if place >= len(self._buffer):
            self._buffer, self._before, place = self._tape.rows(row), row, 0
        if stop is not None:
            limit = min(limit, stop.last_row - row)
        rows = self._buffer[place : place + limit]
        if rows and rows[-1].t > target:
            rows = [row for row in rows if row.t <= target]
        return rows

    def _fold(self, rows: list[Row]) -> None:
        state = self._at.state
        try:
            state.take(rows)
        except NOT_UNDERSTOOD as error:
            what = f"row {state.row + 1} is not to be understood ({why(error)})"
            raise BadJournal(what, to_do="verify it") from error

    def _advance(self, t: int) -> None:
        if t > self._at.t:
            try:
                self._at.state.advance(t)
            except NOT_UNDERSTOOD as error:
                raise BadJournal(
                    f"it cannot be folded ({why(error)})", to_do="verify it"
                ) from error
            self._at.t = t
