"""The one module that reads the machine's clocks.

Everything else gets a time as an argument. Two clocks are read:

* the **boot clock** counts every nanosecond since the machine was started, suspended time
  included, and is never set by anybody. All ages and all incident time come from it;
* the **wall clock** is what people read off; it can be set, so nothing is ever measured by it.

Both are integers in nanoseconds. ``boot_id`` tells whether two boot-clock readings come from the
same start of the machine and so may be compared.
"""

import sys
import time
from pathlib import Path
from typing import NamedTuple

BOOT_ID_FILE = Path("/proc/sys/kernel/random/boot_id")
"""Linux: a random number chosen at every start of the machine."""


class Stamp(NamedTuple):
    """When something was read, on both clocks, ns."""

    boot_ns: int
    wall_ns: int


def _boot_clock_number() -> int | None:
    """Return the system's number for a clock that counts suspended time, None where it has none."""
    if hasattr(time, "CLOCK_BOOTTIME"):
        return time.CLOCK_BOOTTIME
    if sys.platform == "darwin":
        # Here this clock goes on during sleep; time.monotonic_ns() does not.
        return time.CLOCK_MONOTONIC
    return None


class Clock:
    """The machine's clocks. Tests hand in one with the same methods that they move by hand."""

    def __init__(self) -> None:
        """Find out once which clocks this machine has."""
        self._boot_clock = _boot_clock_number()
        try:
            self._boot_id = BOOT_ID_FILE.read_text(encoding="ascii").strip()
        except OSError:
            self._boot_id = ""

    def boot_ns(self) -> int:
        """Nanoseconds since the machine started, suspended time included where it can be known."""
        if self._boot_clock is None:
            return time.monotonic_ns()
        return time.clock_gettime_ns(self._boot_clock)

    def wall_ns(self) -> int:
        """Nanoseconds since 1970 began in UTC, as the machine's calendar clock has it."""
        return time.time_ns()

    def boot_id(self) -> str:
        """Name of this start of the machine; empty where the system does not give one."""
        return self._boot_id

    def stamp(self) -> Stamp:
        """Both clocks, one straight after the other."""
        return Stamp(self.boot_ns(), time.time_ns())
