"""The real programs to measure: a recorder, packs, a board in a terminal of the bench's own."""

import fcntl
import os
import pty
import select
import shutil
import signal
import struct
import tempfile
import termios
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from tests.functional.conftest import OUTBY, Home, folded, wait_recording
from tests.functional.patience import wait_until

TICKS_A_SECOND = os.sysconf("SC_CLK_TCK")
SETTLE_S = 0.05
"""No byte for so long: the screen has been drawn."""


@contextmanager
def home() -> Iterator[Home]:
    """A home folder that is gone afterwards, with all that ran in it."""
    folder = Path(tempfile.mkdtemp(prefix="ob-bench-"))
    (folder / "incidents").mkdir()
    before = os.environ.get("XDG_RUNTIME_DIR")
    os.environ["XDG_RUNTIME_DIR"] = str(folder)
    made = Home(folder, folder)
    try:
        yield made
    finally:
        made.end()
        shutil.rmtree(folder, ignore_errors=True)
        if before is None:
            del os.environ["XDG_RUNTIME_DIR"]
        else:
            os.environ["XDG_RUNTIME_DIR"] = before


def cpu_s(pid: int) -> float:
    """Processor time a process has used."""
    fields = Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()
    return (int(fields[11]) + int(fields[12])) / TICKS_A_SECOND


def memory_mb(pid: int) -> float:
    """Memory a process has to itself, MB of 10^6 bytes (proc(5): Pss of smaps_rollup)."""
    rollup = Path(f"/proc/{pid}/smaps_rollup").read_text()
    kib = next(line for line in rollup.splitlines() if line.startswith("Pss:")).split()[1]
    return int(kib) * 1024 / 1e6


def recorder(
    home: Home,
    port: int,
    *,
    roster: Path | None = None,
    core: int | None = None,
    key: Path | None = None,
) -> tuple[Path, int]:
    """Start a recorder; give its journal and process."""
    journal = home.incidents / f"bench-{port}.journal"
    people = ("--roster", str(roster)) if roster else ()
    keyed = ("--key", str(key)) if key else ()
    started = home.start(
        "record", str(journal), "--link", f"udp:127.0.0.1:{port}", "--name", "Kiln Lane",
        "--officer", "R. Harrow", "--exercise", "--procedure", "plain", *people, *keyed,
    )  # fmt: skip
    wait_recording(journal)
    if core is not None:
        for thread in Path(f"/proc/{started.pid}/task").iterdir():
            os.sched_setaffinity(int(thread.name), {core})
    return journal, started.pid


class Terminal:
    """A terminal with a board in it, that notes when what is drawn."""

    def __init__(self, home: Home, columns: int, rows: int, *argv: str) -> None:
        """Start ``outby`` with these arguments in it."""
        self.started_s = time.monotonic()
        self.pid, self.fd = pty.fork()
        if self.pid == 0:
            os.chdir(home.folder)
            os.execve(OUTBY, [str(OUTBY), *argv], home.environ)  # noqa: S606 - our own program
        self.resize(columns, rows)
        self.drawn: list[tuple[float, bytes]] = []
        self.hung = threading.Event()
        self._reader = threading.Thread(target=self._read, daemon=True)
        self._reader.start()

    def resize(self, columns: int, rows: int) -> None:
        """Give the terminal another size, as a person pulling at the window."""
        fcntl.ioctl(self.fd, termios.TIOCSWINSZ, struct.pack("HHHH", rows, columns, 0, 0))

    def press(self, keys: bytes) -> float:
        """Type; give when."""
        at = time.monotonic()
        os.write(self.fd, keys)
        return at

    def first(self, words: bytes, since_s: float, within_s: float = 10.0) -> float:
        """When these words were first drawn at or after a time, seconds after it."""

        def look() -> float:
            text = b""
            for at, data in list(self.drawn):
                if at >= since_s:
                    text = text[-400:] + data
                    if words in text:
                        return at
            return 0.0

        return wait_until(look, f"{words!r} on the screen", within_s) - since_s

    def next_drawn(self, since_s: float, within_s: float = 2.0) -> float:
        """How long after a time anything was drawn."""

        def look() -> float:
            return next((at for at, _ in reversed(self.drawn) if at >= since_s), 0.0)

        wait_until(look, "anything drawn", within_s)
        return next(at for at, _ in self.drawn if at >= since_s) - since_s

    def quiet(self) -> None:
        """Wait until nothing has been drawn for a moment."""
        wait_until(
            lambda: self.drawn and time.monotonic() - self.drawn[-1][0] > SETTLE_S, "a still screen"
        )

    def close(self) -> None:
        """End the board and its terminal."""
        with suppress(ProcessLookupError):
            os.kill(self.pid, signal.SIGKILL)
        os.waitpid(self.pid, 0)
        self._reader.join(timeout=5)
        os.close(self.fd)

    def _read(self) -> None:
        while True:
            if self.hung.is_set():
                # A terminal that hangs reads nothing; what is written to it piles up.
                time.sleep(SETTLE_S)
                continue
            if not select.select([self.fd], [], [], SETTLE_S)[0]:
                continue
            try:
                data = os.read(self.fd, 65_536)
            except OSError:
                return
            if not data:
                return
            self.drawn.append((time.monotonic(), data))


__all__ = ["Home", "Terminal", "cpu_s", "folded", "home", "memory_mb", "recorder", "wait_until"]
