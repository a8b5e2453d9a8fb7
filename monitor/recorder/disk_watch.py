"""What the officer must know of the disk: one state, told when it changes. Pure.

Nothing waits for the disk (see ``recorder``), so trouble with it costs no alarm and no order; what
it threatens is the record. The state goes into the journal as a fact and from there to the boards.
"""

from dataclasses import dataclass

from monitor.incident.event_parts import TEXT_MAX
from monitor.incident.events import DiskState

BEHIND_NS = 2_000_000_000
"""A loss of power would undo more than this: the disk is behind ..."""
BEHIND_NO_MORE_NS = 1_000_000_000
"""... until it is below this again, so that the state does not flicker."""
NS_PER_S = 1_000_000_000
_ROWS_WAIT = ("gone", "failing", "waiting")
"""States in which it is told where rows are meanwhile, anew whenever that is another place."""


@dataclass(frozen=True, slots=True)
class DiskNow:
    """What is seen of the disk at one look."""

    fault: str = ""
    """Why the last commit or sync failed; empty if it did not."""
    gone: str = ""
    """How the journal's file or its log is not as it was written."""
    waits_ns: int = 0
    """Age of the oldest row that is not in the journal."""
    second: str = ""
    """The second place, if it is in use and takes rows."""
    t: int = 0
    """Incident time."""
    behind_ns: int = 0
    """Age of the oldest commit that a loss of power would undo."""
    reserve: bool = True
    """The ballast is held."""
    thinned: int = 0
    """Frames that said nothing new, kept in short because memory is full of rows."""


class DiskWatch:
    """The state, and the fact to record when it is another."""

    def __init__(self, before: DiskState | None = None) -> None:
        """``before``: what the journal tells last; None: all is well.

        Else trouble that a recorder died of would be told for as long as the incident lasts.
        """
        self.state = before or DiskState(state="ok")
        self._thinned_before = 0
        """Frames thinned when the state last changed."""
        self._thins = False
        """It was told that frames are thinned in this state."""
        self._second = ""
        """Where rows went when it was last looked."""

    def look(self, now: DiskNow, *, was_full: bool) -> DiskState | None:
        """The new state if it has changed; ``was_full``: the reserve was given back for a commit.

        Details that change all the time (seconds, counts) make no new state.
        """
        new = self._state(now, was_full=was_full)
        thins = now.thinned > self._thinned_before
        same = new.state == self.state.state
        moved = same and new.state in _ROWS_WAIT and now.second != self._second
        self._second = now.second
        if same and not moved and (not thins or self._thins):
            return None
        if thins and not (same and self._thins):
            # Once as it begins; how many it came to once the disk is another way again.
            how = f"; {now.thinned - self._thinned_before} frames that said nothing new in short"
            new = new.model_copy(update={"detail": (new.detail + how).lstrip("; ")[:TEXT_MAX]})
        if new.state != self.state.state:
            self._thinned_before = now.thinned
        self._thins = thins and new.state == self.state.state
        self.state = new
        return new

    def _state(self, now: DiskNow, *, was_full: bool) -> DiskState:
        kept = f"rows kept in {now.second}" if now.second else "rows wait in memory"
        since_ns = max(0, now.t - now.waits_ns) if now.waits_ns else None
        if now.gone:
            detail = f"{now.gone}: {kept}"[:TEXT_MAX]
            return DiskState(state="gone", detail=detail, since_ns=since_ns)
        if now.fault:
            detail = f"{now.fault[:200]}: {kept}"[:TEXT_MAX]
            return DiskState(state="failing", detail=detail, since_ns=since_ns)
        limit = BEHIND_NO_MORE_NS if self.state.state == "waiting" else BEHIND_NS
        if now.waits_ns > limit:
            detail = f"the disk takes nothing: {kept}"[:TEXT_MAX]
            return DiskState(state="waiting", detail=detail, since_ns=since_ns)
        if not now.reserve and was_full:
            return DiskState(state="full", detail="recording goes on in the reserve: free space")
        limit = BEHIND_NO_MORE_NS if self.state.state == "behind" else BEHIND_NS
        if now.behind_ns > limit:
            seconds = now.behind_ns // NS_PER_S
            return DiskState(state="behind", detail=f"{seconds} s are not safe from a power cut")
        if not now.reserve:
            return DiskState(state="low", detail="no room for the reserve: free space")
        return DiskState(state="ok")
