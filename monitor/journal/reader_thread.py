"""A thread that reads a journal as it grows, so that no screen ever waits for a disk.

It looks every 25 ms, reads ahead a little, and hands slices over. A disk that hangs keeps this
thread; whoever asks it for slices gets none. A file that is not there yet, or is another than
before, is opened again by itself.
"""

import sqlite3
import threading
from collections import deque
from pathlib import Path

from monitor.clock import Clock
from monitor.errors import BadJournal
from monitor.journal.reader import JournalReader, Slice
from monitor.journal.schema import Batch

LOOK_S = 0.025
RETRY_S = 0.1
"""Between two tries to open a file."""
SLICES_MAX = 2
"""Read ahead: at most 2,000 rows each."""
HUNG_NS = 1_000_000_000
"""A read that takes longer does not come back by itself."""


class ReaderThread:
    """Reads one file from a row on. Begins with ``start``."""

    def __init__(
        self, path: Path, after_row: int, clock: Clock, reader: JournalReader | None = None
    ) -> None:
        """``reader``: one that is open already, and belongs to this thread from now on."""
        self._path = path
        self._clock = clock
        self._reader = reader
        self._identity: tuple[int, int] | None = None
        self._row = after_row
        self._slices: deque[Slice] = deque()
        self._wake = threading.Condition()
        self._stop = False
        self._began_ns: int | None = None
        self._ahead: Batch | None = None
        self._more = True
        """More is known to be in the file than has been read."""
        self.fault: BadJournal | None = None
        """Why the last look gave nothing; None: it went well, or there is no such file."""
        self.rests = False
        """Set to have the file let go, and not opened again, until it is taken back."""
        self.differs = False
        """The file has another batch of the number that ``expect`` said."""
        self._thread = threading.Thread(target=self._run, name=f"read {path.name}", daemon=True)

    def start(self) -> None:
        """Begin to read."""
        self._thread.start()

    def take(self, row: int, wait_s: float = 0.0) -> list[Slice]:
        """What has been read since the last call. ``row``: the last that is known from elsewhere.

        ``wait_s``: how long to wait if there is nothing.
        """
        with self._wake:
            if wait_s and not self._slices:
                self._wake.wait_for(lambda: self._slices, wait_s)
            taken = list(self._slices)
            self._slices.clear()
            last = taken[-1].last_row if taken else 0
            self._row = max(self._row, row, last)
            self._wake.notify()
        return taken

    def again_from(self, row: int) -> None:
        """Read again from there: what was handed over did not follow."""
        with self._wake:
            self._row, self._more = row, True
            self._slices.clear()

    def expect(self, batch: Batch) -> None:
        """Tell of a batch known from elsewhere; once it is in this file it must be the same."""
        self._ahead = batch

    def hangs(self) -> bool:
        """Tell whether the disk keeps the thread."""
        began_ns = self._began_ns
        return began_ns is not None and self._clock.boot_ns() - began_ns > HUNG_NS

    def stop(self) -> None:
        """End, as soon as the disk lets go."""
        with self._wake:
            self._stop = True
            self._wake.notify()

    # ------------------------------------------------------------ the thread

    def _run(self) -> None:
        pause_s = 0.0
        while True:
            with self._wake:
                if pause_s:
                    self._wake.wait_for(lambda: self._stop, pause_s)
                else:
                    self._wake.wait_for(self._may_go_on)
                if self._stop:
                    break
                row = self._row
            self._began_ns = self._clock.boot_ns()
            pause_s = self._look(row)
            self._began_ns = None
        if self._reader is not None:
            self._reader.close()

    def _may_go_on(self) -> bool:
        return self._stop or len(self._slices) < SLICES_MAX

    def _look(self, row: int) -> float:
        """Read a step; give how long to wait before the next."""
        if self.rests:
            self._let_go()
            return RETRY_S
        try:
            if not self._opened():
                return RETRY_S
            assert self._reader is not None, "just opened"
            if not self._reader.changed() and not self._more:
                return LOOK_S
            found = self._reader.read(row)
            self._check_ahead(self._reader)
        except (BadJournal, OSError, sqlite3.Error) as error:
            self.fault = error if isinstance(error, BadJournal) else _plain(error, self._path)
            self._more = True
            self._let_go()
            return RETRY_S
        self.fault = None
        self._more = not found.complete
        with self._wake:
            if self._row == row:
                self._slices.append(found)
                self._row = found.last_row
                self._wake.notify()
            else:
                self._more = True
        return 0.0 if self._more else LOOK_S

    def _opened(self) -> bool:
        try:
            found = self._path.stat()
        except FileNotFoundError:
            # Whoever has it open sees all that is still written to it.
            return self._reader is not None
        identity = found.st_dev, found.st_ino
        if self._reader is not None and self._identity not in {None, identity}:
            self._let_go()
        if self._reader is None:
            self._reader = JournalReader(self._path)
            self._more = True
        self._identity = identity
        return True

    def _check_ahead(self, reader: JournalReader) -> None:
        ahead = self._ahead
        if ahead is None or reader.last_batch().batch < ahead.batch:
            return
        there = reader.batch(ahead.batch)
        self.differs = there is not None and there.digest != ahead.digest
        self._ahead = None

    def _let_go(self) -> None:
        if self._reader is not None:
            self._reader.close()
        self._reader = self._identity = None


def _plain(error: Exception, path: Path) -> BadJournal:
    return BadJournal(f"the journal cannot be read ({error})", str(path), "check the disk")
