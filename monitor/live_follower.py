"""A follower for a screen: it reads in threads, and from the second place too.

Rows are folded once and in the order of their numbers, from whichever file has them first: the
journal, or the spill elsewhere while the journal's disk takes none. Both hold the same batches, so
the incident at a horizon is the same whichever way its rows came. Should a journal come to hold
other rows than those that were folded from a spill (one that was lost before it was merged), the
incident is folded anew from the first row.
"""

from collections.abc import Iterable
from pathlib import Path

from monitor.clock import Clock
from monitor.errors import BadJournal
from monitor.follower import Follower
from monitor.incident.incident import Incident
from monitor.incident.picture import Picture
from monitor.journal.reader_thread import ReaderThread

WAIT_S = 0.005
"""While it catches up, a poll gives the reading thread so long to bring the next step."""
SPILL_ENDED_NS = 2_000_000_000
"""Nothing from the second place for so long: who wrote to it has ended, and the next recorder may
have brought all of it into the journal and taken it away. A recorder that lives writes four times a
second."""


class LiveFollower:
    """Takes over a follower. Not for more than one thread; nothing here waits for a disk."""

    def __init__(self, follower: Follower, clock: Clock) -> None:
        """Read on where ``follower`` stands."""
        self._follower = follower
        self._clock = clock
        self._journal = ReaderThread(
            follower.path, follower.last_row, clock, follower.give_reader()
        )
        self._journal.start()
        self._spills: dict[str, ReaderThread] = {}
        """By path."""
        self._spilt_ns = clock.boot_ns() - SPILL_ENDED_NS
        """When the second place last brought something."""

    @property
    def incident(self) -> Incident:
        """What has been folded."""
        return self._follower.incident

    @property
    def horizon(self) -> int:
        """Incident time up to which everything has been folded, ns; -1: nothing yet."""
        return self._follower.horizon

    @property
    def catching_up(self) -> bool:
        """More is known to be there than has been folded."""
        return self._follower.catching_up

    def poll(self) -> bool:
        """Fold what is new; say whether anything moved. Raises BadJournal as a follower does.

        A disk that hangs or fails is told only while no other place has what is new.
        """
        follower = self._follower
        if follower.finished:
            return False
        if self._journal.differs:
            follower.begin_anew()
            self._journal.differs = False
            self._journal.again_from(0)
            # What they have open may be what was lost.
            self._let_go_of(self._spills)
        now_ns = self._clock.boot_ns()
        # Whoever has lost files open keeps SQLite from making them anew.
        spilt = now_ns - self._spilt_ns < SPILL_ENDED_NS
        self._journal.rests = follower.incident.journal_gone and spilt
        moved = self._take(self._journal)
        for spill in self._spills.values():
            if self._take(spill):
                self._spilt_ns, moved = now_ns, True
        if follower.incident.closed and not follower.catching_up:
            follower.finish()
            self.close()
        self._find_spills()
        if not moved:
            self._tell_fault()
        return moved

    def picture(self) -> Picture:
        """Return the incident as it was at ``horizon``."""
        return self._follower.picture()

    def close(self) -> None:
        """Let go of all files, as soon as their disks let go."""
        self._journal.stop()
        self._let_go_of(self._spills)

    def _take(self, reader: ReaderThread) -> bool:
        follower = self._follower
        before = follower.last_row, follower.horizon
        wait_s = WAIT_S if follower.catching_up and reader is self._journal else 0.0
        for step in reader.take(follower.last_row, wait_s):
            if not follower.fold(step):
                reader.again_from(follower.last_row)
                break
            if reader is not self._journal and step.complete and step.last is not None:
                self._journal.expect(step.last)
        return before != (follower.last_row, follower.horizon)

    def _find_spills(self) -> None:
        said = tuple(dict.fromkeys(self._follower.incident.second_places))
        if tuple(self._spills) == said:
            return
        self._let_go_of([path for path in self._spills if path not in said])
        before, self._spills = self._spills, {}
        for path in said:
            reader = before.get(path)
            if reader is None:
                reader = ReaderThread(Path(path), self._follower.last_row, self._clock)
                reader.start()
            self._spills[path] = reader

    def _let_go_of(self, paths: Iterable[str]) -> None:
        for path in list(paths):
            self._spills.pop(path).stop()

    def _tell_fault(self) -> None:
        if self._journal.fault is not None:
            raise self._journal.fault
        if self._journal.hangs():
            raise BadJournal(
                "the journal's disk does not answer", str(self._follower.path), "see to the disk"
            )
