"""The real clocks: what can be said of them without waiting."""

import time

import pytest

from monitor.clock import Clock, Stamp


def test_the_boot_clock_never_goes_back() -> None:
    clock = Clock()
    readings = [clock.boot_ns() for _ in range(1000)]
    assert readings == sorted(readings)


@pytest.mark.parametrize("which", ["boot_ns", "wall_ns"])
def test_readings_are_whole_nanoseconds(which: str) -> None:
    assert type(getattr(Clock(), which)()) is int


def test_the_boot_clock_counts_suspended_time() -> None:
    """It lies between two readings of the clock that the system defines to do so."""
    clock = Clock()
    before = time.clock_gettime_ns(time.CLOCK_BOOTTIME)
    reading = clock.boot_ns()
    assert before <= reading <= time.clock_gettime_ns(time.CLOCK_BOOTTIME)


def test_the_wall_clock_is_the_calendar() -> None:
    before = time.time_ns()
    reading = Clock().wall_ns()
    # One second is far more than the clock can be set between two lines, in all likelihood.
    assert abs(reading - before) < 1_000_000_000


def test_a_stamp_holds_both_clocks() -> None:
    clock = Clock()
    before = Stamp(clock.boot_ns(), clock.wall_ns())
    stamp = clock.stamp()
    assert stamp.boot_ns >= before.boot_ns
    assert stamp == (stamp.boot_ns, stamp.wall_ns)


def test_two_readings_of_the_boot_id_agree() -> None:
    assert Clock().boot_id() == Clock().boot_id()
