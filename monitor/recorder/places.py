"""Every batch in the journal; while that takes none, in the second places too.

The journal's thread gets every batch, always. Once it has not moved for 0.3 s, is slow commit after
commit, or has lost its file, a thread for each second place begins a spill there: from the last
batch that is surely in the journal's own file on, so that nothing is missing between even if the
journal's write-ahead log is lost. From then on every batch goes everywhere, and who reads takes it
from whichever has it first: so it matters to nobody which of the places hangs too. When the journal
has kept up for a while the spills are taken away. All calls are the loop's, and wait for no disk.
"""

import logging
from collections import deque
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Literal

from monitor.incident.second_place import SecondPlace
from monitor.journal.ballast import Ballast
from monitor.journal.schema import Session
from monitor.journal.sealing import Sealed
from monitor.journal.spill import Spill
from monitor.journal.writer import JournalWriter
from monitor.recorder.writer_thread import WriterThread

SPILL_NS = 300_000_000
"""A disk that has not taken a batch for so long hangs, or is too slow for a screen."""
LOOK_NS_MAX = 1_000_000_000
"""Looks that are further apart say nothing of the disk: the recorder itself was stopped."""
WELL_NS = 5_000_000_000
"""So long the journal must have kept up before the spill is taken away."""
WAITING_ROWS_MAX = 1_000_000
"""Rows that wait in memory for the journal while the second place has them: 0.3 GB."""
SPILT_ROWS_MAX = 1_000_000
"""Rows in one spill, 0.1 GB, as long as the journal gets on: then another is begun."""
STANDS_NS = 1_000_000_000
"""A place that has not taken a batch for so long takes none."""
RETAINED_ROWS_MAX = 200_000
"""Rows remembered since the last checkpoint: ten times what the log usually holds."""

_log = logging.getLogger(__name__)


@dataclass(slots=True)
class _Second:
    """One second place."""

    spill: Spill
    thread: WriterThread | None = None
    """In use."""
    retiring: WriterThread | None = None
    """Was in use, and is taken away."""
    oldest: int = 0
    """The oldest batch that waits for it, 0: none; and since when."""
    since_ns: int = 0

    def look(self, now_ns: int) -> None:
        """See whether it moves."""
        first = None if self.thread is None else self.thread.oldest()
        oldest = 0 if first is None else first.batch.batch
        if oldest != self.oldest:
            self.oldest, self.since_ns = oldest, now_ns

    def takes(self, now_ns: int) -> bool:
        """Whether rows that go there get there."""
        stands = self.oldest > 0 and now_ns - self.since_ns >= STANDS_NS
        return self.thread is not None and not self.thread.seen.fault and not stands


class Places:
    """The journal and its second places. Begin with ``start``, then ``put`` and ``look``."""

    def __init__(
        self,
        writer: JournalWriter,
        ballast: Ballast,
        seconds: Sequence[Spill],
        boot_ns: Callable[[], int],
        thread: type[WriterThread] = WriterThread,
    ) -> None:
        """``writer``: its session begun. ``seconds``: where spills may be made, best first."""
        self.sealer = writer.sealer
        """Seals what follows."""
        self.journal = thread(lambda: writer, writer.last.batch, boot_ns, ballast)
        self._thread = thread
        self._writer = writer
        self._seconds = [_Second(spill) for spill in seconds]
        self._waiting_rows_max = WAITING_ROWS_MAX
        self._boot_ns = boot_ns
        self._tell: Callable[[], None] = _nobody_listens
        self._sessions: dict[int, Session] = {one.session: one for one in writer.sessions()}
        self._retained: deque[Sealed] = deque()
        self._retained_rows = 0
        self._spill_began = self._spilt_rows = 0
        """The newest batch when the spill was begun; rows that have gone into it since."""
        self._looked_ns = self._awake_ns = 0
        """When it was last looked, and since when the recorder runs without a stop."""
        self._well_ns = 0
        self._news: list[SecondPlace] = []

    def start(self, tell: Callable[[], None]) -> None:
        """Begin. ``tell`` is called from the threads, whenever they have news."""
        self._tell = tell
        self.journal.start(tell)
        self._tell_place("ready" if self._seconds else "none")

    @property
    def written(self) -> int:
        """Number of the newest batch that is, with all before it, in one of the places."""
        return max([self.journal.seen.written, *(t.seen.written for t in self._threads())])

    @property
    def lasting(self) -> int:
        """The same of those that a loss of power does not take: memory is none of them."""
        kept = [s.thread.seen.written for s in self._seconds if s.thread and s.spill.lasting]
        return max([self.journal.seen.written, *kept])

    @property
    def spilling(self) -> Spill | None:
        """The second place that is in use and takes what it is given, the best if several do."""
        now_ns = self._boot_ns()
        return next((one.spill for one in self._seconds if one.takes(now_ns)), None)

    @property
    def _in_use(self) -> bool:
        return any(one.thread is not None for one in self._seconds)

    def _threads(self) -> list[WriterThread]:
        return [one.thread for one in self._seconds if one.thread is not None]

    def _tell_place(self, state: Literal["none", "ready", "in use", "left"]) -> None:
        paths = [str(one.spill.path) for one in self._seconds]
        first, also = (paths[0], tuple(paths[1:])) if paths else ("", ())
        self._news.append(SecondPlace(state=state, path=first, also=also))

    def take_news(self) -> list[SecondPlace]:
        """What is to be recorded of the second place since the last call."""
        news, self._news = self._news, []
        return news

    def put(self, one: Sealed) -> None:
        """Have it kept."""
        if one.new is not None:
            self._sessions[one.new.session] = one.new
        self._retained.append(one)
        self._retained_rows += len(one.rows.t)
        self.journal.put(one)
        for thread in self._threads():
            thread.put(one)
        self._spilt_rows += len(one.rows.t)
        self._forget()

    def look(self, now_ns: int) -> None:
        """Begin with the second place if the journal does not move, or leave it."""
        first = self.journal.oldest()
        for second in self._seconds:
            second.look(now_ns)
        if now_ns - self._looked_ns > LOOK_NS_MAX:
            self._awake_ns = now_ns
        self._looked_ns = now_ns
        # Its age, and not whether it moves: idle commits may be quick where full ones are not.
        hangs = first is not None and (
            now_ns - max(first.batch.boot_ns, self._awake_ns) >= SPILL_NS
        )
        oldest = 0 if first is None else first.batch.batch
        if hangs or self.journal.seen.gone or self.journal.seen.slow:
            self._well_ns = now_ns
            self.begin()
            self._save_memory()
            if self._spilt_rows > SPILT_ROWS_MAX and oldest > self._spill_began:
                # A disk that is always slow: what the journal has by now need not lie there too.
                self._leave()
        elif self._in_use and now_ns - self._well_ns >= WELL_NS:
            self._leave()

    def begin(self) -> None:
        """Begin with the second places, unless they are in use."""
        if self._in_use or not self._retained:
            return
        for second in self._seconds:
            if second.retiring is None or second.retiring.ended(0):
                self._begin_at(second, self._retained[0])
        if self._in_use:
            self._spill_began, self._spilt_rows = self._retained[-1].batch.batch, 0
            self._tell_place("in use")

    def _begin_at(self, second: _Second, first: Sealed) -> None:
        _log.error("rows go to a second place too: %s", second.spill.path)
        made = partial(self._made, second.spill, first)
        second.retiring = None
        second.thread = self._thread(made, first.before.batch, self._boot_ns)
        for one in self._retained:
            second.thread.put(one)
        second.thread.start(self._tell)

    def end(self, *, final: bool) -> None:
        """Let both threads finish; what only the second place has stays there."""
        self.journal.end(final=final)
        for thread in self._threads():
            thread.end(final=False)

    def ended(self, within_s: float) -> bool:
        """Wait for the journal to be closed; False: its disk keeps it."""
        if not self.journal.ended(within_s):
            return False
        for second in self._seconds:
            if second.thread is None:
                continue
            if not second.thread.ended(within_s):
                return False
            if not self.journal.waiting() and not self.journal.seen.gone:
                second.spill.remove()
        return True

    # ------------------------------------------------------------ inside

    def _save_memory(self) -> None:
        """What the spill has need not wait in memory too, once that is very much."""
        self._forget()
        kept, at = max(
            ((one.thread.seen.written, n) for n, one in enumerate(self._seconds) if one.thread),
            default=(0, 0),
        )
        first = self.journal.oldest()
        if first is None or not self._retained or kept <= first.batch.batch:
            return
        rows = self._retained[-1].batch.last_row - first.before.last_row
        if rows > self._waiting_rows_max:
            self.journal.forget(kept, self._seconds[at].spill.merge)

    def _leave(self) -> None:
        _log.warning("all rows are in the journal: the second place is left")
        for second in self._seconds:
            if second.thread is not None:
                second.thread.end(final=False, after=second.spill.remove)
                second.retiring, second.thread = second.thread, None
        self._tell_place("left")

    def _forget(self) -> None:
        """Forget what a checkpoint has brought into the journal's own file."""
        whole = self.journal.seen.whole
        while self._retained and (
            self._retained[0].batch.batch <= whole
            or (self._retained_rows > RETAINED_ROWS_MAX and self._kept(self._retained[0]))
        ):
            self._retained_rows -= len(self._retained.popleft().rows.t)

    def _kept(self, one: Sealed) -> bool:
        """Whether it is where it need not be remembered for."""
        return self._in_use or one.batch.batch <= self.journal.seen.written

    def _made(self, second: Spill, first: Sealed) -> JournalWriter:
        """Make a spill. In its own thread."""
        lost = bool(self.journal.seen.gone)
        return second.make(self._writer, first.before, self._sessions.values(), lost=lost)


def _nobody_listens() -> None:
    """Before ``start``."""
