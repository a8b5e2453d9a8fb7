"""How long a test waits: with patience for what must come, strictly for what is promised.

What must come once is waited for until ``PATIENCE_S``: that a machine is slow or busy is no fault
of the program, and what never comes is found out all the same. What is promised within a time is
held to it, less what the machine let those processes wait for a core, which Linux counts for each
thread (``/proc/PID/task/TID/schedstat``, the second number, in ns).
"""

import contextlib
import os
import time
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import TypeVar

import pytest

POLL_S = 0.02
POLL_S_MAX = 0.2
"""Looking costs a process or a fold each time: the longer it took already, the more seldom."""
PATIENCE_S = 90.0
"""Nothing that a test waits for takes a tenth of it on a quiet machine."""
T = TypeVar("T")


def wait_until(
    look: Callable[[], T], what: str | Callable[[], str], within_s: float = PATIENCE_S
) -> T:
    """Look until it gives something true, and give that. Fails with ``what`` at the deadline."""
    began = time.monotonic()
    while True:
        seen = look()
        if seen:
            return seen
        waited_s = time.monotonic() - began
        if waited_s > within_s:
            said = what if isinstance(what, str) else what()
            pytest.fail(f"not within {within_s} s: {said}; last seen: {seen!r}")
        time.sleep(min(max(POLL_S, waited_s / 20), POLL_S_MAX))


class Watch:
    """A stopwatch that stands still while the machine holds these processes, or the test, up."""

    def __init__(self, pids: Callable[[], Iterable[int]]) -> None:
        """``pids`` is asked at each look: processes that came meanwhile count from their start."""
        self._pids = pids
        self._before = self._each_s()
        self._began = time.monotonic()

    def _each_s(self) -> dict[int, float]:
        return {pid: held_up_s(pid) for pid in {os.getpid(), *self._pids()}}

    def held_s(self) -> float:
        """Seconds for which those processes together waited for a core since it was started."""
        now = self._each_s()
        return sum(max(0.0, s - self._before.get(pid, 0.0)) for pid, s in now.items())

    def took_s(self) -> float:
        """Seconds since it was started that the program is answerable for."""
        return max(0.0, time.monotonic() - self._began - self.held_s())


def held_up_s(pid: int) -> float:
    """How long the threads of a process were ready to run and had no core; 0: nobody tells."""
    waited_ns = 0
    for told in Path(f"/proc/{pid}/task").glob("*/schedstat"):
        with contextlib.suppress(OSError):  # a thread that has ended meanwhile
            waited_ns += int(told.read_text("ascii").split()[1])
    return waited_ns / 1e9
