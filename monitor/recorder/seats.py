"""Who sits at the desk, which of them may act, and which acts come too late.

One board acts at a time, the holder; the others look on. A board that has stopped beating does
not keep the desk from another. A drill's script acts beside the holder, in an exercise only.
Connections are numbers; times are boot-clock ns.
"""

from dataclasses import dataclass

from monitor.desk import ANSWER_NS_MAX, BOARD_BEAT_NS, Ask, Hello
from monitor.incident.events import Holder

HOLDER_SILENT_NS = 3 * BOARD_BEAT_NS
"""A holder that has drawn nothing for so long may be hung: another board is let in."""
UNWATCHED_NS = 3 * BOARD_BEAT_NS
"""No board has drawn for so long: nobody can be looking."""
ASKED_AHEAD_NS_MAX = 1_000_000_000
"""Both read one machine's clock: more than this ahead is another machine's or another boot's."""
NOBODY = Holder(board="", by="")


@dataclass(slots=True)
class _Seat:
    board: str
    by: str
    script: bool
    beat_ns: int


class Seats:
    """The boards connected, and the holder."""

    __slots__ = (
        "_drawn_ns", "_holding", "_scripts_may_act", "_seats", "_waits", "_watched", "holder",
    )  # fmt: skip

    def __init__(self, now_ns: int, *, exercise: bool, watched: bool = True) -> None:
        """``watched``: what the journal says, as ``look`` does."""
        self.holder = NOBODY
        self._watched = watched
        self._waits = True
        """No board has drawn yet."""
        self._drawn_ns = now_ns
        """When one last drew; at first, since when one is waited for."""
        self._holding: int | None = None
        self._seats: dict[int, _Seat] = {}
        self._scripts_may_act = exercise

    def hello(self, seat: int, said: Hello, now_ns: int) -> bool:
        """Seat a board, or hear what it wants now. True: the holder has changed."""
        self._seats[seat] = _Seat(said.board, said.by, said.want == "script", now_ns)
        if said.want != "act":
            return self._let_go() if seat == self._holding else False
        if not (said.take or self._free_for(seat, now_ns)):
            return False
        before = self.holder
        self._holding = seat
        self.holder = Holder(board=said.board, by=said.by)
        return self.holder != before

    def hand_over(self, to: str) -> bool:
        """The holder's board is another officer's from now on. True: the holder has changed."""
        found = self._seats.get(self._holding) if self._holding is not None else None
        if found is None or found.by == to:
            return False
        found.by = to
        self.holder = Holder(board=found.board, by=to)
        return True

    def exercise_over(self) -> None:
        """It is real now: no script acts any more."""
        self._scripts_may_act = False

    def left(self, seat: int) -> bool:
        """Forget a board whose connection has gone. True: it was the holder."""
        self._seats.pop(seat, None)
        return self._let_go() if seat == self._holding else False

    def beat(self, seat: int, now_ns: int) -> None:
        """Note that a board has drawn."""
        found = self._seats.get(seat)
        if found is not None:
            found.beat_ns = now_ns
            if not found.script:
                self._drawn_ns = now_ns
                self._waits = False

    def stalled(self, by_ns: int) -> None:
        """The recorder itself did not listen for so long: no board is to blame."""
        self._drawn_ns += by_ns
        for found in self._seats.values():
            found.beat_ns += by_ns

    def look(self, now_ns: int) -> bool | None:
        """Whether somebody can be looking at a board, if that has changed; else None."""
        watched = now_ns - self._drawn_ns <= UNWATCHED_NS
        if watched is self._watched or (watched and self._waits):
            return None
        self._watched = watched
        return watched

    def seated(self) -> tuple[int, ...]:
        """Connections that have said hello."""
        return tuple(self._seats)

    def holds(self, seat: int) -> bool:
        """Whether this connection is the holder's."""
        return seat == self._holding

    def why_not(self, seat: int, ask: Ask, now_ns: int) -> str | None:
        """Say why an act of this seat is not even looked at, in one sentence; None: it is."""
        found = self._seats.get(seat)
        if found is None:
            return "This board has not said who it is."
        if found.script and not self._scripts_may_act:
            return "A script may not act at a real incident."
        if not found.script and seat != self._holding:
            by = self.holder.by
            return f"{by} holds the board." if by else "This board looks on."
        if now_ns - ask.asked_boot_ns > ANSWER_NS_MAX:
            return f"Asked more than {ANSWER_NS_MAX // 1_000_000_000} s ago."
        if ask.asked_boot_ns - now_ns > ASKED_AHEAD_NS_MAX:
            return "Asked by another clock than this machine's."
        return None

    def _free_for(self, seat: int, now_ns: int) -> bool:
        holding = self._seats.get(self._holding) if self._holding is not None else None
        if holding is None or seat == self._holding or self._seats[seat].board == holding.board:
            return True
        return now_ns - holding.beat_ns > HOLDER_SILENT_NS

    def _let_go(self) -> bool:
        self._holding = None
        self.holder = NOBODY
        return True
