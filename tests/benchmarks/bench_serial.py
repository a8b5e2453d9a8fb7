"""A serial line through a real pty, link and decoder: how much, and what a busy loop costs.

A pty shows nothing of a UART. The writer does not wait: what the pty does not take is lost and
counted, as on a line without flow control.
"""

import os
import threading
import time
import tty
from collections.abc import Iterator
from contextlib import closing, suppress

from monitor.clock import Clock
from monitor.links.chunk import Chunk
from monitor.links.inbox import Inbox
from monitor.links.serial_link import SerialLink
from monitor.links.spec import SerialSpec
from protocol import codec
from protocol.framing import Splitter, wrap
from protocol.rejects import Reject
from tests.benchmarks import floors
from tests.benchmarks.frames import RINGS, frames
from tests.benchmarks.measuring import Figure

FLOOD = 60_000
PACED = 4_000
PACED_A_SECOND = 2_000
STALL_S = 1.0
WAIT_S = 2.0


class Line:
    """A pty with a link on its near end."""

    def __init__(self) -> None:
        """Open it."""
        self.far, self._near = os.openpty()
        tty.setraw(self.far)
        self.woken = threading.Event()
        self.inbox = Inbox(self.woken.set)
        spec = SerialSpec(os.ttyname(self._near), 3_000_000)
        self._link = SerialLink(1, spec, Clock(), self.inbox)
        self._splitter = Splitter()
        self.good = 0

    def take(self) -> None:
        """Split, check and authenticate what has come."""
        for item in self.inbox.take():
            if isinstance(item, Chunk):
                for piece in self._splitter.feed(item.data):
                    if not isinstance(piece, Reject):
                        self.good += not isinstance(codec.receive(piece, RINGS), Reject)

    def take_until(self, count: int) -> None:
        """Take until so many good frames have come, or nothing has for a while."""
        while self.good < count and self.woken.wait(WAIT_S):
            self.woken.clear()
            self.take()

    def close(self) -> None:
        """Let go."""
        self._link.close()
        os.close(self.far)
        os.close(self._near)


def figures() -> Iterator[Figure]:
    """Measure the line."""
    made = [wrap(frame) for frame in frames(FLOOD)]
    yield Figure(
        "serial pty: frames with CRC and key", _flood(made), "/s", 50_000, 100_000,
        floors.line_a_second(len(made[0])), "bare bytes through a pty", more=True,
    )  # fmt: skip
    lost = _stalled(made[:PACED])
    yield Figure("serial pty: lost in a 1 s stall at 2,000/s", lost, "", 0, 0, 0, "none")


def _flood(made: list[bytes]) -> float:
    with closing(Line()) as line:
        data = b"".join(made)
        start = time.perf_counter()
        writer = _write(line.far, [data[at : at + 4_096] for at in range(0, len(data), 4_096)], 0)
        line.take_until(len(made))
        taken_s = time.perf_counter() - start
        os.waitpid(writer, 0)
        return line.good / taken_s


def _stalled(made: list[bytes]) -> float:
    with closing(Line()) as line:
        os.set_blocking(line.far, False)
        writer = _write(line.far, made, PACED_A_SECOND)
        busy_until = time.perf_counter() + STALL_S
        while time.perf_counter() < busy_until:
            # The loop is busy in Python, as behind a slow fold.
            sum(range(1_000))
        line.take_until(len(made))
        os.waitpid(writer, 0)
        return len(made) - line.good


def _write(far: int, pieces: list[bytes], a_second: int) -> int:
    """Write from a process of its own, paced or as fast as it goes; gives its number."""
    pid = os.fork()
    if pid:
        return pid
    start = time.perf_counter()
    for number, piece in enumerate(pieces):
        with suppress(BlockingIOError):
            sent = 0
            while sent < len(piece):
                sent += os.write(far, piece[sent:])
        ahead = start + number / a_second - time.perf_counter() if a_second else 0
        if ahead > 0:
            time.sleep(ahead)
    os._exit(0)
