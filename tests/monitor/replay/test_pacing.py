"""Real time in, recorded time out."""

from fractions import Fraction

import pytest

from monitor.replay import pacing
from monitor.replay.pacing import Pacing

S = 1_000_000_000


@pytest.mark.parametrize(("said", "passed"), [("0.25", S // 2), ("1", 2 * S), ("64", 128 * S)])
def test_two_seconds_at_a_speed(said: str, passed: int) -> None:
    pace = Pacing(pacing.read(said), running=True)
    assert pace.passed_ns(5 * S) == 0
    assert pace.passed_ns(7 * S) == passed


def test_standing_still_nothing_passes_and_nothing_is_caught_up_later() -> None:
    pace = Pacing(Fraction(1))
    assert [pace.passed_ns(t * S) for t in (1, 2, 3)] == [0, 0, 0]
    pace.running = True
    assert pace.passed_ns(4 * S) == S


def test_as_fast_as_it_goes() -> None:
    pace = Pacing(pacing.read("max"), running=True)
    pace.passed_ns(0)
    assert pace.passed_ns(1) is None


def test_the_ladder_has_two_ends() -> None:
    pace = Pacing(Fraction(3))
    said = []
    for by in (1, -1, -9, -1, 99, 1, -1):
        pace.faster(by)
        said.append(pacing.words(pace.speed))
    fast = "as fast as it goes"
    assert said == ["4 x", "2 x", "0.25 x", "0.25 x", fast, fast, "64 x"]


@pytest.mark.parametrize("said", ["0", "0.2", "65", "-1", "x", "nan", "inf", ""])
def test_what_is_no_speed(said: str) -> None:
    with pytest.raises(ValueError, match=r".*"):
        pacing.read(said)
