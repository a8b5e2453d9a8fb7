"""Every batch in the journal; while that takes none, in the second place too.

The journal's thread gets every batch, always. Once it has not moved for 0.3 s, or has lost its
file, a second thread begins a spill elsewhere: from the last batch that is surely in the journal's
own file on, so that nothing is missing between even if the journal's write-ahead log is lost. From
then on every batch goes to both. When the journal has kept up for a while the spill is taken away.
All calls are the loop's, and wait for no disk.
"""

import logging
from collections import deque
from collections.abc import Callable

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
RETAINED_ROWS_MAX = 200_000
"""Rows remembered since the last checkpoint: ten times what the log usually holds."""

_log = logging.getLogger(__name__)


class Places:
    """The journal and its second place. Begin with ``start``, then ``put`` and ``look``."""

    def __init__(
        self,
        writer: JournalWriter,
        ballast: Ballast,
        second: Spill | None,
        boot_ns: Callable[[], int],
        thread: type[WriterThread] = WriterThread,
    ) -> None:
        """``writer``: its session begun. ``second``: where a spill may be made, if anywhere."""
        self.sealer = writer.sealer
        """Seals what follows."""
        self.journal = thread(lambda: writer, writer.last.batch, boot_ns, ballast)
        self._thread = thread
        self._writer = writer
        self._second = second
        self._waiting_rows_max = WAITING_ROWS_MAX
        self._boot_ns = boot_ns
        self._tell: Callable[[], None] = _nobody_listens
        self._sessions: dict[int, Session] = {one.session: one for one in writer.sessions()}
        self._retained: deque[Sealed] = deque()
        self._retained_rows = 0
        self._spill: WriterThread | None = None
        self._retiring: WriterThread | None = None
        self._spill_began = self._spilt_rows = 0
        """The newest batch when the spill was begun; rows that have gone into it since."""
        self._oldest = 0
        self._oldest_ns = 0
        self._looked_ns = 0
        self._well_ns = 0
        self._news: list[SecondPlace] = []

    def start(self, tell: Callable[[], None]) -> None:
        """Begin. ``tell`` is called from the threads, whenever they have news."""
        self._tell = tell
        self.journal.start(tell)
        if self._second is None:
            self._news.append(SecondPlace(state="none"))
        else:
            self._news.append(SecondPlace(state="ready", path=str(self._second.path)))

    @property
    def written(self) -> int:
        """Number of the newest batch that is, with all before it, in one of the places."""
        spilt = self._spill.seen.written if self._spill is not None else 0
        return max(self.journal.seen.written, spilt)

    @property
    def spilling(self) -> str:
        """The second place, while it is in use and takes what it is given; else empty."""
        if self._spill is None or self._second is None or self._spill.seen.fault:
            return ""
        return str(self._second.path)

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
        if self._spill is not None:
            self._spill.put(one)
            self._spilt_rows += len(one.rows.t)
        self._forget()

    def look(self, now_ns: int) -> None:
        """Begin with the second place if the journal does not move, or leave it."""
        first = self.journal.oldest()
        oldest = 0 if first is None else first.batch.batch
        stopped = now_ns - self._looked_ns > LOOK_NS_MAX
        self._looked_ns = now_ns
        if oldest != self._oldest or stopped:
            self._oldest, self._oldest_ns = oldest, now_ns
        hangs = oldest > 0 and now_ns - self._oldest_ns >= SPILL_NS
        if hangs or self.journal.seen.gone:
            self._well_ns = now_ns
            self.begin()
            self._save_memory()
            if self._spilt_rows > SPILT_ROWS_MAX and oldest > self._spill_began:
                # A disk that is always slow: what the journal has by now need not lie there too.
                self._leave()
        elif self._spill is not None and now_ns - self._well_ns >= WELL_NS:
            self._leave()

    def begin(self) -> None:
        """Begin with the second place, unless it is in use."""
        if self._spill is not None or self._second is None or not self._retained:
            return
        if self._retiring is not None and not self._retiring.ended(0):
            return
        first = self._retained[0]
        _log.error("rows go to a second place too: %s", self._second.path)
        self._spill = self._thread(lambda: self._made(first), first.before.batch, self._boot_ns)
        self._spill_began, self._spilt_rows = self._retained[-1].batch.batch, 0
        for one in self._retained:
            self._spill.put(one)
        self._spill.start(self._tell)
        self._news.append(SecondPlace(state="in use", path=str(self._second.path)))

    def end(self, *, final: bool) -> None:
        """Let both threads finish; what only the second place has stays there."""
        self.journal.end(final=final)
        if self._spill is not None:
            self._spill.end(final=False)

    def ended(self, within_s: float) -> bool:
        """Wait for the journal to be closed; False: its disk keeps it."""
        if not self.journal.ended(within_s):
            return False
        if self._spill is None or not self._spill.ended(within_s):
            return self._spill is None
        if self._second is not None and not self.journal.waiting() and not self.journal.seen.gone:
            self._second.remove()
        return True

    # ------------------------------------------------------------ inside

    def _save_memory(self) -> None:
        """What the spill has need not wait in memory too, once that is very much."""
        if self._spill is None or self._second is None:
            return
        self._forget()
        first, kept, second = self.journal.oldest(), self._spill.seen.written, self._second
        if first is None or not self._retained or kept <= first.batch.batch:
            return
        rows = self._retained[-1].batch.last_row - first.before.last_row
        if rows > self._waiting_rows_max:
            self.journal.forget(kept, second.merge)

    def _leave(self) -> None:
        assert self._spill is not None, "in use"
        assert self._second is not None, "it was made there"
        second = self._second
        _log.warning("all rows are in the journal: the second place is left")
        self._spill.end(final=False, after=second.remove)
        self._retiring, self._spill = self._spill, None
        self._news.append(SecondPlace(state="left", path=str(second.path)))

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
        return self._spill is not None or one.batch.batch <= self.journal.seen.written

    def _made(self, first: Sealed) -> JournalWriter:
        """Make the spill. In its own thread."""
        assert self._second is not None, "there is a place"
        lost = bool(self.journal.seen.gone)
        return self._second.make(self._writer, first.before, self._sessions.values(), lost=lost)


def _nobody_listens() -> None:
    """Before ``start``."""
