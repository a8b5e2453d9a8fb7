"""The log beside a journal, written by a thread: whoever logs never waits for the disk.

Lines wait in memory while the disk hangs; beyond a limit they are counted, and the log says how
many are missing. A log that cannot be written stops nobody.
"""

import contextlib
import logging
import os
import sys
import threading
from collections import deque
from collections.abc import Callable
from pathlib import Path

from monitor.own_file import open_own

LINES_MAX = 20_000
"""Waiting: 2 MB. A recorder that is well logs some lines a minute."""
CLOSE_WAIT_S = 0.5
_FORMAT = "%(asctime)s %(levelname)s %(name)s: %(message)s"


def _opened(path: Path) -> int:
    return open_own(path, os.O_WRONLY | os.O_APPEND | os.O_CREAT)


class LogFile(logging.Handler):
    """A handler for the root logger."""

    def __init__(self, path: Path, opened: Callable[[Path], int] = _opened) -> None:
        """Nothing is opened here: that may hang too. ``opened`` does, in the thread."""
        super().__init__()
        self.setFormatter(logging.Formatter(_FORMAT))
        self.path = path
        self._opened = opened
        self.fault = ""
        """Why the file cannot be written; empty while it can."""
        self._lines: deque[str] = deque()
        self._missing = 0
        self._wake = threading.Condition()
        self._ending = False
        self._thread = threading.Thread(target=self._run, name="log", daemon=True)
        self._thread.start()

    def emit(self, record: logging.LogRecord) -> None:
        """Take a line. In any thread; it waits for no disk."""
        try:
            line = self.format(record)
        except Exception:  # noqa: BLE001 - as every handler of the library does
            self.handleError(record)
            return
        with self._wake:
            if len(self._lines) >= LINES_MAX:
                self._missing += 1
                return
            self._lines.append(line + "\n")
            self._wake.notify()

    def close(self) -> None:
        """Have written what waits, if the disk takes it soon."""
        with self._wake:
            self._ending = True
            self._wake.notify()
        self._thread.join(CLOSE_WAIT_S)
        super().close()

    def _run(self) -> None:
        fd = -1
        while True:
            with self._wake:
                self._wake.wait_for(lambda: self._lines or self._ending)
                lines, missing = list(self._lines), self._missing
                self._lines.clear()
                self._missing = 0
                ending = self._ending
            if missing:
                lines.append(f"{missing} lines are missing here: the disk took none\n")
            if lines:
                fd = self._write(fd, "".join(lines))
            if ending and not self._lines:
                if fd >= 0:
                    os.close(fd)
                return

    def _write(self, fd: int, text: str) -> int:
        """Write it all; give the file to go on with, -1 to open it anew."""
        try:
            if fd < 0:
                fd = self._opened(self.path)
            data = text.encode("utf-8", "backslashreplace")
            while data:
                data = data[os.write(fd, data) :]
        except OSError as error:
            if not self.fault:
                # Recording goes on without: what a person must know of it is on the screen.
                with contextlib.suppress(OSError, ValueError):
                    sys.stderr.write(f"outby: no log is kept: {self.path}: {error.strerror}\n")
            self.fault = error.strerror or "not writable"
            if fd >= 0:
                with contextlib.suppress(OSError):
                    os.close(fd)
            return -1
        self.fault = ""
        return fd
