"""Times as a person says them."""

from datetime import UTC, datetime

import pytest

from monitor.replay.times import instant, span

S = 1_000_000_000
OPENED = int(datetime(2026, 3, 1, 23, 50, tzinfo=UTC).timestamp()) * S


@pytest.mark.parametrize(
    ("said", "seconds"),
    [("0", 0), ("90", 90), ("23:50:00", 0), ("235107", 67), ("00:00:01", 601), ("234959", 86_399)],
)
def test_an_instant(said: str, seconds: int) -> None:
    """Opened at ten to midnight: 00:00:01 is 10 min 1 s later."""
    assert instant(said, OPENED, UTC) == seconds * S


@pytest.mark.parametrize("said", ["", "x", "-1", "25:00:00", "12:00", "236060"])
def test_what_is_no_time(said: str) -> None:
    with pytest.raises(ValueError, match=r".*"):
        instant(said, OPENED, UTC)


@pytest.mark.parametrize(
    ("ns", "said"), [(0, "0 min 0 s"), (S - 1, "0 min 0 s"), (3_849 * S, "1 h 4 min 9 s")]
)
def test_a_span_is_cut_off(ns: int, said: str) -> None:
    assert span(ns) == said
