"""A thread that brings the write-ahead log to the disk, so that no commit waits for it.

A commit with ``synchronous=NORMAL`` is safe against the end of the process at once and against
loss of power once the log has been synced. A slow disk takes 100 to 300 ms for that; nothing that
raises an alarm may wait so long.
"""

import os
import threading
from pathlib import Path

SYNC_PAUSE_S = 0.1
"""Between two syncs: with the sync itself, power loss costs less than 250 ms on a fair disk."""
STOP_WAIT_S = 5.0
"""For a sync under way when the journal is closed."""

_sync_data = getattr(os, "fdatasync", os.fsync)
"""``fdatasync`` where the system has it: the file's times need not be on the disk."""


class LogSyncer:
    """Syncs a file whenever something was committed to it, and knows how far behind it is."""

    def __init__(self, wal: Path) -> None:
        self._fd = os.open(wal, os.O_RDWR | os.O_CLOEXEC)
        self._changed = threading.Event()
        self._stop = threading.Event()
        self._guard = threading.Lock()
        self._waiting_since_ns: int | None = None
        self._under_way_since_ns: int | None = None
        self.syncs = 0
        self.fault = ""
        """What the disk said when a sync failed. It stays: a later success proves nothing of the
        pages that were lost then."""
        self._thread = threading.Thread(target=self._run, name="journal sync", daemon=True)
        self._thread.start()

    def committed(self, boot_ns: int) -> None:
        """Tell of a commit, with the boot clock at that time."""
        with self._guard:
            if self._waiting_since_ns is None:
                self._waiting_since_ns = boot_ns
        self._changed.set()

    def oldest_unsynced_ns(self) -> int | None:
        """Boot clock at the oldest commit that is not known to be on the disk; None: all are."""
        with self._guard:
            if self._under_way_since_ns is not None:
                return self._under_way_since_ns
            return self._waiting_since_ns

    def identity(self) -> tuple[int, int]:
        """Which file is synced: device and number."""
        found = os.fstat(self._fd)
        return found.st_dev, found.st_ino

    def log_bytes(self) -> int:
        """Size of the file that is synced, whatever has become of its name."""
        return os.fstat(self._fd).st_size

    def stop(self) -> None:
        """End the thread after a last sync. Doing it twice is harmless."""
        self._stop.set()
        self._changed.set()
        self._thread.join(STOP_WAIT_S)
        if not self._thread.is_alive() and self._fd >= 0:
            os.close(self._fd)
            self._fd = -1

    def _run(self) -> None:
        while not self._stop.is_set():
            self._changed.wait()
            self._changed.clear()
            self._sync()
            self._stop.wait(SYNC_PAUSE_S)
        self._sync()

    def _sync(self) -> None:
        with self._guard:
            if self._under_way_since_ns is None:
                self._under_way_since_ns = self._waiting_since_ns
            self._waiting_since_ns = None
            if self._under_way_since_ns is None:
                return
        try:
            _sync_data(self._fd)
        except OSError as error:
            self.fault = str(error)
            return
        self.syncs += 1
        with self._guard:
            self._under_way_since_ns = None
