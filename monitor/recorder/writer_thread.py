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

from monitor.errors import BadJournal
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

_log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class Seen:
    """How it stands with the file, when the thread last had the disk in hand."""

    written: int
    """Number of the newest batch in it."""
    fault: str = ""
    """Why the last try failed; empty if it did not."""
    gone: bool = False
    """The file is not where it was made, or not as it was written."""
    reserve: bool = True
    """The ballast is held."""
    was_full: bool = False
    """The ballast was given back for a commit, and has not been taken again."""


class WriterThread:
    """Writes into one file. Begin with ``start``; ``put``; then ``end``."""

    def __init__(
        self,
        writer: JournalWriter,
        boot_ns: Callable[[], int],
        tell: Callable[[], None],
        ballast: Ballast | None = None,
    ) -> None:
        """``tell`` is called from the thread whenever ``seen`` is another.

        ``boot_ns`` reads the boot clock.
        """
        self._writer = writer
        self._boot_ns = boot_ns
        self._tell = tell
        self._ballast = ballast
        self._wake = threading.Condition()
        self._waiting: deque[Sealed] = deque()
        self._ending = False
        self._final = False
        self._looked_ns = -int(LOOK_S * 1e9)
        was_full = ballast is not None and ballast.in_use
        self.seen = Seen(writer.last.batch, was_full=was_full)
        self._thread = threading.Thread(target=self._run, name="journal", daemon=True)

    # ------------------------------------------------------------ from outside

    def start(self) -> None:
        """Begin."""
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

    def oldest_ns(self) -> int | None:
        """Boot clock at the horizon of the oldest batch that waits; None: none does."""
        try:
            return self._waiting[0].batch.boot_ns
        except IndexError:
            return None

    def disk_behind_ns(self, now_boot_ns: int) -> int:
        """Age of the oldest commit that a loss of power would undo."""
        return self._writer.disk_behind_ns(now_boot_ns)

    def end(self, *, final: bool) -> None:
        """Write what waits, if the disk takes it at once, and close the file.

        ``final``: the incident is closed; nothing but one plain file is left.
        """
        with self._wake:
            self._ending, self._final = True, final
            self._wake.notify()

    def ended(self, within_s: float) -> bool:
        """Wait for the end; False: the disk still keeps the thread."""
        self._thread.join(within_s)
        return not self._thread.is_alive()

    # ------------------------------------------------------------ the thread

    def _run(self) -> None:
        while self._turn():
            pass
        try:
            self._writer.close(final=self._final and not self._waiting)
        except (BadJournal, OSError) as error:
            _log.error("the journal cannot be closed: %s", error)
        if self._ballast is not None:
            self._ballast.give_back()

    def _turn(self) -> bool:
        """Wait for something to do and do it; False: it was the last."""
        with self._wake:
            if self.seen.fault and not self._ending:
                self._wake.wait_for(lambda: self._ending, RETRY_S)
            elif not self._waiting and not self._ending:
                self._wake.wait(LOOK_S)
            ending, some = self._ending, self._some()
        try:
            if some:
                self._write(some)
            if not ending:
                self._look_after()
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

    def _write(self, some: list[Sealed]) -> None:
        if self.seen.fault:
            # A commit that seemed to fail may have been made all the same.
            there = self._writer.look_again()
            some = [one for one in some if one.batch.batch > there.batch]
        try:
            if some:
                self._writer.write(some)
        except DiskFull:
            if self._ballast is None or not self._ballast.held:
                raise
            _log.error("the disk is full: the reserve is given back")
            self._ballast.give_back()
            self._see(replace(self.seen, was_full=True, reserve=False))
            self._writer.write(some)
        written = self._writer.last.batch
        with self._wake:
            while self._waiting and self._waiting[0].batch.batch <= written:
                self._waiting.popleft()
        if self.seen.fault:
            _log.warning("commits work again")
        self._see(replace(self.seen, written=written, fault=""))

    def _look_after(self) -> None:
        """Once a second: is the file there, is its log to be emptied, is the reserve held."""
        now_ns = self._boot_ns()
        if now_ns - self._looked_ns < LOOK_S * 1e9:
            return
        self._looked_ns = now_ns
        gone, reserve = self._writer.gone(), self._has_reserve()
        was_full = self.seen.was_full and not reserve
        seen = replace(self.seen, gone=gone, reserve=reserve, was_full=was_full)
        if seen != self.seen:
            self._see(seen)
        if gone or self.seen.fault:
            return
        log_bytes = self._writer.wal_bytes()
        if log_bytes > WAL_BYTES_MAX:
            _log.error("the write-ahead log has grown over %d bytes", WAL_BYTES_MAX)
        if log_bytes >= CHECKPOINT_BYTES_MIN:
            self._writer.checkpoint_if_quiet()

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
