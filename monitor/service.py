"""What a service manager is told: ready, alive, ending; and log lines that its journal understands.

The protocol of sd_notify(3): datagrams of ``NAME=value`` lines to the socket that ``NOTIFY_SOCKET``
names. Where none is named nothing is told, so a recorder is the same with and without a manager. A
manager that does not listen is never waited for.
"""

import asyncio
import contextlib
import logging
import os
import socket
from collections.abc import Mapping

US_PER_S = 1_000_000
_LEVELS = (
    (logging.CRITICAL, 2), (logging.ERROR, 3), (logging.WARNING, 4), (logging.INFO, 6),
    (logging.NOTSET, 7),
)  # fmt: skip
"""From which level of ``logging`` which of syslog(3); of the first that a line reaches."""


class Service:
    """The manager that has started this process; None may have."""

    def __init__(self, environ: Mapping[str, str], pid: int) -> None:
        """``environ``: where the manager has left its words; ``pid``: of this process."""
        self._place = environ.get("NOTIFY_SOCKET", "")
        meant = environ.get("WATCHDOG_PID", str(pid)) == str(pid)
        said = environ.get("WATCHDOG_USEC", "") if meant else ""
        self.watchdog_s = int(said) / US_PER_S if said.isascii() and said.isdigit() else 0.0
        """It ends this process if it hears nothing for so long; 0: never."""

    def ready(self, words: str) -> None:
        """Tell that recording has begun, and what is recorded."""
        self._tell("READY=1", f"STATUS={words}")

    def ending(self) -> None:
        """Tell that the process ends in good order."""
        self._tell("STOPPING=1")

    async def beat(self) -> None:
        """Tell again and again that the loop runs; half the time allowed goes by between two.

        Runs until it is cancelled, in the loop that does the work: one that hangs tells nothing.
        """
        while self.watchdog_s:
            self._tell("WATCHDOG=1")
            await asyncio.sleep(self.watchdog_s / 2)

    def _tell(self, *lines: str) -> None:
        if not self._place:
            return
        # A name that begins with @ is one of the abstract namespace, which begins with a zero byte.
        place = "\0" + self._place[1:] if self._place.startswith("@") else self._place
        with (
            contextlib.suppress(OSError),
            socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as to_manager,
        ):
            to_manager.setblocking(False)
            to_manager.sendto("\n".join(lines).encode("utf-8", "replace"), place)


def is_journal(environ: Mapping[str, str], fd: int) -> bool:
    """Whether what is written to ``fd`` goes to the system's journal (systemd.exec(5))."""
    with contextlib.suppress(OSError):
        found = os.fstat(fd)
        return environ.get("JOURNAL_STREAM") == f"{found.st_dev}:{found.st_ino}"
    return False


class JournalFormatter(logging.Formatter):
    """A line with its level as sd-daemon(3) has it: ``<4>``; the journal adds time and process."""

    def __init__(self) -> None:
        super().__init__("%(name)s: %(message)s")

    def format(self, record: logging.LogRecord) -> str:
        """Each line of a text has it, so that a traceback keeps its level."""
        level = next(syslog for least, syslog in _LEVELS if record.levelno >= least)
        return "\n".join(f"<{level}>{line}" for line in super().format(record).splitlines())
