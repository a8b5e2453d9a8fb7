"""Times as a person says them."""

from datetime import UTC, datetime, time

import pytest

from monitor.archive.wall_clock import WallClock
from monitor.replay.times import said_time, several, span, why_never

S = 1_000_000_000
START = int(datetime(2026, 3, 1, 8, 0, tzinfo=UTC).timestamp()) * S


@pytest.mark.parametrize(
    ("said", "meant"),
    [("0", 0), ("90", 90 * S), ("23:50:00", time(23, 50)), ("235107", time(23, 51, 7))],
)
def test_what_a_person_says(said: str, meant: int | time) -> None:
    assert said_time(said) == meant


@pytest.mark.parametrize("said", ["", "x", "-1", "25:00:00", "12:00", "236060"])
def test_what_is_no_time(said: str) -> None:
    with pytest.raises(ValueError, match=r".*"):
        said_time(said)


def test_why_a_time_never_was() -> None:
    """Set from 08:10:00 to 08:10:17."""
    clock = WallClock()
    clock.note(0, START)
    clock.note(600 * S, START + 617 * S)
    assert why_never(clock, time(8, 10, 5), 1200 * S, UTC) == (
        "the clock never showed it: it went on from before to after, 10 min 0 s in"
    )
    assert why_never(clock, time(9), 1200 * S, UTC) == (
        "it is not in the recording, which goes from 08:00:00 to 08:20:17"
    )


def test_where_a_time_was_several_times() -> None:
    assert several([60 * S, 3660 * S]) == (
        "the clock showed it 2 times: 1 min 0 s, 1 h 1 min 0 s in"
    )


@pytest.mark.parametrize(
    ("ns", "said"), [(0, "0 min 0 s"), (S - 1, "0 min 0 s"), (3_849 * S, "1 h 4 min 9 s")]
)
def test_a_span_is_cut_off(ns: int, said: str) -> None:
    assert span(ns) == said
