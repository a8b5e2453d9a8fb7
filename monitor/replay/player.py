"""Moves a horizon over a recording, either way, with the fold that every reader has. Pure.

Ahead it folds on. Back it starts again from the nearest state kept on the way, or from the first
row. What it shows at an instant is what a live follower showed at that horizon.
"""

from bisect import bisect_right
from copy import deepcopy
from dataclasses import dataclass, field

from monitor.errors import BadJournal
from monitor.incident.air.detail import AirDetail
from monitor.incident.decoding import event_of
from monitor.incident.incident import Incident
from monitor.incident.picture import Picture
from monitor.incident.rows import Row
from monitor.replay.tape import Tape

POLL_ROWS = 2_000
"""Rows folded in one poll: some 40 ms, so that keys are heard meanwhile."""
KEEP_ROWS = 20_000
"""Rows between two kept states: a third of a second to fold."""
KEPT_MAX = 100
"""States kept; beyond, every second one is dropped and they are kept half as often."""


@dataclass(slots=True)
class Reel:
    """Where in the rows a fold stands."""

    incident: Incident = field(default_factory=Incident)
    row: int = 0
    """Number of the last row folded."""
    t: int = -1
    """Everything up to here is folded, ns."""


class Player:
    """One fold of a tape, at any instant of it."""

    def __init__(self, tape: Tape, keep_rows: int = KEEP_ROWS, kept_max: int = KEPT_MAX) -> None:
        self._tape = tape
        self._at = Reel()
        self._kept: list[Reel] = []
        self._keep_rows = keep_rows
        self._kept_max = kept_max
        self._buffer: list[Row] = []
        self._place = 0
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
        return self._at.incident.opened is not None

    @property
    def closed(self) -> bool:
        """The incident has ended at this instant."""
        return self._at.incident.closed

    def end(self) -> int:
        """How far the recording goes now, ns."""
        return self._tape.end()

    def aim(self, t: int) -> None:
        """Go to that instant, or as near as the recording goes; ``poll`` does the work."""
        self._target = max(0, min(t, self._tape.end()))
        at, place = self._at, bisect_right(self._kept, self._target, key=lambda reel: reel.t)
        nearest = self._kept[place - 1] if place else Reel()
        if self._target < max(at.t, at.incident.now) or nearest.row > at.row:
            self._at = deepcopy(nearest)
            self._buffer, self._place = [], 0

    def poll(self, limit: int = POLL_ROWS) -> bool:
        """Fold at most ``limit`` rows towards the target; say whether anything moved.

        Raises BadJournal where a row is not to be understood.
        """
        at, target = self._at, self._target
        if at.t >= target:
            return False
        for _ in range(limit):
            row = self._next()
            if row is None or row.t > target:
                break
            if at.incident.now < row.t and at.row and at.row % self._keep_rows == 0:
                self._keep(row.t - 1)
            self._fold(row)
            at.row += 1
            self._place += 1
        else:
            # The next row may have the same time as the last of these.
            self._advance(max(at.t, at.incident.now - 1))
            return True
        self._advance(target)
        return True

    def go(self, t: int) -> None:
        """Go there and come back only then."""
        self.aim(t)
        while self.poll():
            pass

    def picture(self) -> Picture:
        """The incident at the horizon, as it was."""
        return self._at.incident.picture()

    def air_detail(self, wearer: int) -> AirDetail | None:
        """All of one wearer's air at the horizon; None if there is none to tell."""
        return self._at.incident.air_detail(wearer)

    def _next(self) -> Row | None:
        if self._place >= len(self._buffer):
            self._buffer, self._place = self._tape.rows(self._at.row), 0
        return self._buffer[self._place] if self._place < len(self._buffer) else None

    def _fold(self, row: Row) -> None:
        try:
            event = event_of(row)
        except ValueError as error:
            number = self._at.row + 1
            why = " ".join(str(error).split())
            raise BadJournal(f"row {number} is not to be understood ({why})") from error
        if event is not None:
            self._at.incident.apply(event)

    def _advance(self, t: int) -> None:
        if t > self._at.t:
            self._at.incident.advance(t)
            self._at.t = t

    def _keep(self, t: int) -> None:
        """Keep the state at ``t``, between two rows, unless one as late is kept already."""
        self._advance(t)
        if self._kept and self._kept[-1].row >= self._at.row:
            return
        if len(self._kept) >= self._kept_max:
            self._kept = self._kept[1::2]
            self._keep_rows *= 2
        if self._at.row % self._keep_rows == 0:
            self._kept.append(deepcopy(self._at))
