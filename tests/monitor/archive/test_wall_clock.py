"""When the wall clock showed a time of day; expected values by arithmetic on the facts told."""

from datetime import UTC, datetime, time
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from monitor.archive.wall_clock import WallClock
from monitor.incident import events

S = 1_000_000_000
HOUR = 3600 * S
START = int(datetime(2026, 3, 1, 8, 0, tzinfo=UTC).timestamp()) * S
END = 2 * HOUR


def told(*facts: tuple[int, Any]) -> WallClock:
    """Opened at 08:00:00, then these."""
    clock = WallClock()
    clock.note(0, START)
    for t, what in facts:
        clock.fact(t, what)
    return clock


def set_by(t: int, by: int) -> tuple[int, events.ClockStep]:
    return t, events.ClockStep(by_ns=by, wall_ns=START + t + by)


@pytest.mark.parametrize(
    ("moment", "seconds"),
    [(time(8), [0]), (time(8, 47), [47 * 60]), (time(10), [7200]), (time(7, 59, 59), []),
     (time(10, 0, 1), [])],
)  # fmt: skip
def test_a_clock_that_nobody_set(moment: time, seconds: list[int]) -> None:
    assert told().instants(moment, END, UTC) == [s * S for s in seconds]


def test_a_clock_that_was_set_on_never_showed_what_it_left_out() -> None:
    """At 08:10:00 it is set to 08:10:17: 08:47:00 is 46 min 43 s in."""
    clock = told(set_by(600 * S, 17 * S))
    assert clock.instants(time(8, 47), END, UTC) == [(46 * 60 + 43) * S]
    assert clock.instants(time(8, 9, 59), END, UTC) == [599 * S]
    assert clock.instants(time(8, 10, 5), END, UTC) == []
    assert clock.skipped_at(time(8, 10, 5), UTC) == 600 * S
    assert clock.skipped_at(time(8, 11), UTC) is None


def test_a_clock_that_was_set_back_showed_it_twice() -> None:
    """At 09:00:00 it is set to 08:00:00: half past eight is at 30 min and at 1 h 30 min."""
    clock = told(set_by(HOUR, -HOUR))
    assert clock.instants(time(8, 30), END, UTC) == [HOUR // 2, HOUR + HOUR // 2]
    assert clock.instants(time(8, 30), HOUR, UTC) == [HOUR // 2]


def test_a_pause_takes_no_incident_time() -> None:
    """Paused at 08:20:00 for 5 min: what follows has 5 min less of incident time."""
    t = 1200 * S
    clock = told((t, events.WentOn(stood_ns=300 * S, wall_ns=START + t + 300 * S)))
    assert clock.instants(time(8, 30), END, UTC) == [1500 * S]
    assert clock.instants(time(8, 22), END, UTC) == []
    assert clock.skipped_at(time(8, 22), UTC) == t


def test_a_break_takes_incident_time_and_the_clock_goes_on() -> None:
    """Ten minutes of nothing from 08:10; by the wall clock they were eleven."""
    resumed = events.Resumed(down_ns=600 * S, known_by="boot clock", wall_ns=START + 1260 * S)
    clock = told((600 * S, resumed))
    assert clock.instants(time(8, 15), END, UTC) == [900 * S]
    assert clock.instants(time(8, 21), END, UTC) == [1200 * S]
    moved = events.TimeMoved(by_ns=60 * S, known_by="pack uptime")
    clock.fact(1300 * S, moved)
    assert clock.at(1360 * S) == START + 1360 * S


def test_an_incident_over_midnight_shows_a_time_once_a_day() -> None:
    clock = told()
    assert clock.instants(time(7), 50 * HOUR, UTC) == [23 * HOUR, 47 * HOUR]


def test_the_hour_that_a_zone_has_twice_is_the_zones_first() -> None:
    """Berlin set its clocks back at 03:00 on 2026-10-25; 04:30 there is 03:30 UTC."""
    start = int(datetime(2026, 10, 24, 22, 0, tzinfo=UTC).timestamp()) * S
    clock = WallClock()
    clock.note(0, start)
    zone = ZoneInfo("Europe/Berlin")
    assert clock.instants(time(4, 30), 10 * HOUR, zone) == [5 * HOUR + HOUR // 2]


def test_nothing_told_is_nothing_found() -> None:
    assert WallClock().at(5) == 5
    assert WallClock().instants(time(0), END, UTC) == []
