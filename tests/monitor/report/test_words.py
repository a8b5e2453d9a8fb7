from datetime import UTC, timedelta, timezone
from zoneinfo import ZoneInfo

import pytest

from monitor.report import words

S = 1_000_000_000
WALL_NS = 1_700_000_000 * S
"""2023-11-14 22:13:20 UTC, by `date -u -d @1700000000`."""


def test_times_are_cut_off_to_whole_seconds() -> None:
    assert words.moment(WALL_NS + 999_999_999, UTC) == "2023-11-14 22:13:20"


def test_times_are_of_the_zone() -> None:
    east = timezone(timedelta(hours=5, minutes=30))
    assert words.moment(WALL_NS, east) == "2023-11-15 03:43:20"
    assert words.zone_name(WALL_NS, east) == "+05:30"


def test_a_zone_with_summer_time_is_asked_for_each_moment() -> None:
    berlin = ZoneInfo("Europe/Berlin")
    assert words.zone_name(WALL_NS, berlin) == "+01:00"
    assert words.zone_name(WALL_NS - 120 * 86_400 * S, berlin) == "+02:00"


def test_without_a_zone_it_is_the_machines() -> None:
    assert len(words.moment(WALL_NS, None)) == len("2023-11-14 22:13:20")


@pytest.mark.parametrize("wall_ns", [10**30, -(10**30)])
def test_a_clock_that_cannot_be_is_no_fault_of_ours(wall_ns: int) -> None:
    assert words.date(wall_ns, UTC) == "1970-01-01"


@pytest.mark.parametrize(
    ("ns", "said"),
    [
        (-1, "0 s"),
        (59_999_999_999, "59 s"),
        (60 * S, "1 min 0 s"),
        (3_599 * S, "59 min 59 s"),
        (3_600 * S, "1 h 0 min 0 s"),
        (90_061 * S, "25 h 1 min 1 s"),
    ],
)
def test_spans_are_cut_off(ns: int, said: str) -> None:
    assert words.span(ns) == said


def test_what_counts_against_us_goes_up() -> None:
    assert words.tenth_up(1.01) == "1.1"
    assert words.tenth_up(1.1) == "1.1"
    assert words.tenth_up(0.1 + 0.2) == "0.3"
    assert words.tenth_up(None) == "not known"
    assert words.seconds_up(12_400_000_001) == "12.5 s"
    assert words.seconds_up(None) == "none"
    assert words.percent_up(1 / 3) == "33.4 %"
    assert words.percent_up(None) == "none"


def test_what_counts_for_us_goes_down() -> None:
    assert words.percent_down(2 / 3) == "66.6 %"
    assert words.percent_down(0.8) == "80.0 %"
    assert words.percent_down(None) == "none"


def test_one_is_not_many() -> None:
    assert words.counted(1, "wearer") == "1 wearer"
    assert words.counted(0, "wearer") == "0 wearers"
    assert words.counted(2, "roll of a crew", "rolls") == "2 rolls"
