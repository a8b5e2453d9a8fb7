"""The thread that has the journal's disk: nobody else ever waits for one.

Sealed batches go in and are written in their order, as many in one transaction as wait. A disk that
hangs keeps this thread, and nothing else. What it refuses stays here and is tried again. Between
batches the thread looks after the file: whether it is still there, its write-ahead log, the
reserve beside it.

``put`` and everything that is read from outside take microseconds, whatever the disk does.
"""

import logging
import threading
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass, replace
from itertools import islice

from monitor.journal.ballast import Ballast
from monitor.journal.connection import DiskFull
from monitor.journal.sealing import Sealed
from monitor.journal.writer import CHECKPOINT_BYTES_MIN, WAL_BYTES_MAX, JournalWriter

ROWS_A_COMMIT_MAX = 20_000
"""Rows in one transaction while many wait: 0.1 s of a fair disk, so that progress is told."""
LOOK_S = 1.0
"""How often the file is looked after."""
RETRY_S = 0.25
"""Between two tries at a disk that refuses."""
SLOW_NS = 40_000_000
"""A commit that takes longer makes screens late: with the beat before it, the commit under way by
then and a board's look behind it, an alarm stands there after a tenth of a second. A fair disk
takes less than 1 ms."""
SLOW_ROW_NS = 20_000
"""For each row of it: a fair disk takes a quarter of that."""
SLOW_COMMITS = 5
"""So many in a row are the disk, and not a machine that was busy."""

_log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class Seen:
    """How it stands with the file, when the thread last had the disk in hand."""

    written: int
    """Number of the newest batch in it."""
    fault: str = ""
    """Why the last try failed; empty if it did not."""
    gone: str = ""
    """How the file is not as it was written; then nothing more is written to it."""
    reserve: bool = True
    """The ballast is held."""
    was_full: bool = False
    """The ballast was given back for a commit, and has not been taken again."""
    slow: bool = False
    """Its last commits were slow, each of them."""
    whole: int = 0
    """Number of the batch up to which everything is in the file itself, without its log."""


class WriterThread:
    """Writes into one file. Begin with ``start``; ``put``; then ``end``."""

    def __init__(
        self,
        opened: Callable[[], JournalWriter],
        written: int,
        boot_ns: Callable[[], int],
        ballast: Ballast | None = None,
    ) -> None:
        """``opened`` gives the file, in the thread; ``written``: the newest batch in it by then.

        ``boot_ns`` reads the boot clock.
        """
        self._opened = opened
        self._writer: JournalWriter | None = None
        self._boot_ns = boot_ns
        self._tell: Callable[[], None] = _nobody_listens
        self._ballast = ballast
        self._wake = threading.Condition()
        self._waiting: deque[Sealed] = deque()
        self._hole: Callable[[JournalWriter], object] | None = None
        self._over = threading.Event()
        self._ending = False
        self._final = False
        self._after: Callable[[], None] | None = None
        self._looked_ns = -int(LOOK_S * 1e9)
        self._slow = 0
        """Commits in a row that were slow."""
        was_full = ballast is not None and ballast.in_use
        self.seen = Seen(written, was_full=was_full)
        self._thread = threading.Thread(target=self._run, name="journal", daemon=True)

    # ------------------------------------------------------------ from outside

    def start(self, tell: Callable[[], None]) -> None:
        """Begin. ``tell`` is called from the thread whenever ``seen`` is another."""
        self._tell = tell
        self._thread.start()

    def put(self, one: Sealed) -> None:
        """Have it written. It follows the one that was put before."""
        with self._wake:
            self._waiting.append(one)
            self._wake.notify()

    def waiting(self) -> list[Sealed]:
        """What is not known to be in the file, oldest first."""
        with self._wake:
            return list(self._waiting)

    def oldest(self) -> Sealed | None:
        """The oldest batch that waits."""
        try:
            return self._waiting[0]
        except IndexError:
            return None

    def forget(self, upto: int, fill: Callable[[JournalWriter], object]) -> None:
        """Give up the memory of batches up to ``upto`` that are kept elsewhere.

        ``fill`` brings them into the file once the disk is back.
        """
        with self._wake:
            while self._waiting and self._waiting[0].batch.batch <= upto:
                self._waiting.popleft()
                self._hole = fill

    def disk_behind_ns(self, now_boot_ns: int) -> int:
        """Age of the oldest commit that a loss of power would undo."""
        return 0 if self._writer is None else self._writer.disk_behind_ns(now_boot_ns)

    @property
    def sync_fault(self) -> str:
        """What the disk said when a sync failed."""
        return "" if self._writer is None else self._writer.sync_fault

    def end(self, *, final: bool, after: Callable[[], None] | None = None) -> None:
        """Write what waits, if the disk takes it at once, and close the file.

        ``final``: the incident is closed; nothing but one plain file is left. ``after``: done in
        the thread once the file is closed.
        """
        with self._wake:
            self._ending, self._final, self._after = True, final, after
            self._wake.notify()

    def ended(self, within_s: float) -> bool:
        """Wait for the end; False: the disk still keeps the thread."""
        return self._over.wait(within_s)

    # ------------------------------------------------------------ the thread

    def _run(self) -> None:
        while self._turn():
            pass
        try:
            if self._writer is not None:
                self._close(self._writer)
            if self._ballast is not None:
                self._ballast.give_back()
            if self._after is not None:
                self._after()
        except Exception as error:  # noqa: BLE001 - the end comes all the same
            _log.error("the journal cannot be closed: %s", error)
        self._over.set()
        if self.seen.gone:
            # Closing would bring a log that is not as it was written into the journal's file, so
            # the connection is held until the process ends.
            threading.Event().wait()

    def _close(self, writer: JournalWriter) -> None:
        if not self.seen.gone:
            writer.close(final=self._final and not self._waiting)
        elif not writer.path.exists():
            # The file that is held open here is all that there is: give it its name again.
            whole = writer.copied_to(writer.path)
            if whole is not None:
                whole.close(final=False)

    def _turn(self) -> bool:
        """Wait for something to do and do it; False: it was the last."""
        with self._wake:
            if (self.seen.fault or self.seen.gone) and not self._ending:
                self._wake.wait_for(lambda: self._ending, RETRY_S)
            elif not self._waiting and not self._ending:
                self._wake.wait(LOOK_S)
            ending, some, hole = self._ending, self._some(), self._hole
        try:
            if self._writer is None:
                self._writer = self._opened()
            if not ending or some:
                self._look_after(self._writer)
            if self.seen.gone:
                return not ending
            if hole is not None:
                hole(self._writer)
                self._hole = None
            if some:
                self._write(self._writer, some)
        except Exception as error:  # noqa: BLE001 - whatever it is, what waits is not given up
            self._failed(str(error) or type(error).__name__)
            return not ending
        return bool(self._waiting) or not ending

    def _some(self) -> list[Sealed]:
        """As many of those that wait as one transaction takes."""
        rows, number = 0, 0
        for one in self._waiting:
            rows += len(one.rows.t)
            number += 1
            if rows >= ROWS_A_COMMIT_MAX:
                break
        return list(islice(self._waiting, number))

    def _write(self, writer: JournalWriter, some: list[Sealed]) -> None:
        if self.seen.fault:
            # A commit that seemed to fail may have been made all the same.
            writer.look_again()
        some = [one for one in some if one.batch.batch > writer.last.batch]
        if self._displaced(writer):
            return
        began_ns = self._boot_ns()
        try:
            if some:
                writer.write(some)
        except DiskFull:
            if self._ballast is None or not self._ballast.held:
                raise
            _log.error("the disk is full: the reserve is given back")
            self._ballast.give_back()
            self._see(replace(self.seen, was_full=True, reserve=False))
            writer.write(some)
        if self._displaced(writer):
            return
        took_ns = self._boot_ns() - began_ns - SLOW_ROW_NS * sum(len(one.rows.t) for one in some)
        self._slow = self._slow + 1 if took_ns > SLOW_NS else 0
        written, slow = writer.last.batch, self._slow >= SLOW_COMMITS
        with self._wake:
            while self._waiting and self._waiting[0].batch.batch <= written:
                self._waiting.popleft()
        if self.seen.fault:
            _log.warning("commits work again")
        self._see(replace(self.seen, written=written, fault="", slow=slow))

    def _displaced(self, writer: JournalWriter) -> bool:
        """Whether what is written goes into a file that nobody will find: then nothing is kept."""
        gone = writer.displaced()
        if gone:
            _log.error("the journal is lost: %s", gone)
            self._see(replace(self.seen, gone=gone))
        return bool(gone)

    def _look_after(self, writer: JournalWriter) -> None:
        """Once a second: is the file there, is its log to be emptied, is the reserve held."""
        now_ns = self._boot_ns()
        if now_ns - self._looked_ns < LOOK_S * 1e9:
            return
        self._looked_ns = now_ns
        gone = writer.lost()
        if gone and not self.seen.gone:
            _log.error("the journal is lost: %s", gone)
        if not gone and not self.seen.fault:
            log_bytes = writer.wal_bytes()
            if log_bytes > WAL_BYTES_MAX:
                _log.error("the write-ahead log has grown over %d bytes", WAL_BYTES_MAX)
            if log_bytes >= CHECKPOINT_BYTES_MIN:
                writer.checkpoint_if_quiet()
        reserve = self.seen.reserve if gone else self._has_reserve()
        was_full = self.seen.was_full and not reserve
        seen = replace(self.seen, gone=gone, reserve=reserve, was_full=was_full, whole=writer.whole)
        if seen != self.seen:
            self._see(seen)

    def _has_reserve(self) -> bool:
        if self._ballast is None:
            return True
        try:
            return self._ballast.take_again()
        except OSError as error:
            _log.error("the reserve cannot be taken: %s", error.strerror)
            return False

    def _failed(self, fault: str) -> None:
        if fault == self.seen.fault:
            return
        _log.error("commit failed, rows wait in memory: %s", fault)
        self._see(replace(self.seen, fault=fault))

    def _see(self, seen: Seen) -> None:
        self.seen = seen
        self._tell()


def _nobody_listens() -> None:
    """Before ``start``."""
