"""Readings by voice held against those before. Whole wears are told in ``tests/stories``."""

from collections.abc import Iterator

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.incident.air import gas
from monitor.incident.air.spoken import (
    CORRECTED_NS,
    KEPT_MAX,
    Doubt,
    SpokenGauge,
    Word,
    most_left_bar,
)

S = 1_000_000_000
SLACK = 10.0
PER_BAR = 7.5
"""10 L/min are 1.33 bar/min of it, 13.3 bar in ten minutes."""


def word(t_s: float, bar: float) -> Word:
    return Word(round(t_s * S), bar, t_s)


def told(*words: Word) -> Iterator[Doubt | None]:
    """What is said of each, where what can be is believed."""
    gauge = SpokenGauge()
    for one in words:
        doubt = gauge.doubt(one, SLACK, PER_BAR)
        if doubt is None:
            gauge.believe(one, SLACK, PER_BAR)
        yield doubt


def in_doubt(*words: tuple[float, float]) -> list[bool]:
    return [doubt is not None for doubt in told(*(word(t, bar) for t, bar in words))]


def test_what_the_least_breathing_leaves() -> None:
    assert most_left_bar(word(0, 280), 600, PER_BAR) == pytest.approx(280 - 100 / 7.5)
    assert most_left_bar(word(600, 280), 0, PER_BAR) == 280


def test_the_limit_is_what_is_left_and_what_gauges_differ_by() -> None:
    # Nine minutes of 10 L/min: 12 bar of 7.5 L. 280 - 12 + 10 = 278.
    assert in_doubt((0, 280), (540, 278)) == [False, False]
    assert in_doubt((0, 280), (540, 278.1)) == [False, True]
    doubt = list(told(word(0, 280), word(540, 278.1)))[1]
    assert doubt == Doubt(280 - 10 / 60 * 540 / 7.5, word(0, 280))


def test_small_steps_do_not_add_up_to_rest() -> None:
    """Each is within the limit of the one before, and the fourth is not of the first."""
    assert in_doubt((0, 280), (180, 280), (360, 280), (540, 280)) == [False, False, False, True]


def test_rest_said_twice_is_still_rest() -> None:
    assert in_doubt((0, 280), (600, 280), (610, 280), (1200, 270))[1:] == [True, True, True]


def test_a_rise_said_twice_running_is_believed() -> None:
    assert in_doubt((0, 150), (600, 200), (610, 199)) == [False, True, False]
    # The second is over what the first leaves: 200 - 600 x 10 / 60 / 7.5 + 10 = 196.7.
    assert in_doubt((0, 150), (600, 200), (1200, 197)) == [False, True, True]
    # Between the two somebody said what can be.
    assert in_doubt((0, 150), (600, 200), (610, 140), (1000, 195)) == [False, True, False, True]


def test_a_rise_within_two_minutes_puts_the_one_before_right() -> None:
    corrected_s = CORRECTED_NS / S
    assert in_doubt((0, 150), (corrected_s, 200), (600, 190)) == [False, False, False]
    assert in_doubt((0, 150), (corrected_s + 0.1, 200)) == [False, True]
    # But not all that was before it.
    assert in_doubt((0, 150), (600, 140), (610, 200)) == [False, False, True]


def test_a_reading_noted_late_is_not_held_against_what_came_after() -> None:
    assert in_doubt((600, 200), (0, 290)) == [False, False]


def test_on_another_supply_nothing_must_fall() -> None:
    gauge = SpokenGauge()
    gauge.believe(Word(0, 280, 0.0), SLACK, PER_BAR)
    assert gauge.doubt(Word(1200 * S, 280, 60.0), SLACK, PER_BAR) is None


def test_what_is_believed_on_better_evidence_takes_the_place_of_what_contradicts_it() -> None:
    gauge = SpokenGauge()
    gauge.believe(word(0, 150), SLACK, PER_BAR)
    gauge.believe(word(600, 250), SLACK, PER_BAR)
    assert gauge.doubt(word(700, 245), SLACK, PER_BAR) is None


def test_so_many_are_kept() -> None:
    gauge = SpokenGauge()
    for n in range(KEPT_MAX + 5):
        gauge.believe(word(n, 280 - n), SLACK, PER_BAR)
    assert len(gauge._believed) == KEPT_MAX


@given(
    volume=st.sampled_from([3.0, 6.0, 6.8, 9.0, 13.6]),
    spells=st.lists(
        st.tuples(st.integers(20, 1200), st.floats(8.0, 120.0)), min_size=1, max_size=12
    ),
    round_to=st.sampled_from([1, 5, 10]),
)
def test_an_honest_gauge_is_never_in_doubt(
    volume: float, spells: list[tuple[int, float]], round_to: int
) -> None:
    """Spells of rest (8 L/min) and work, read at the end of each, in whole fives or tens.

    Real gas at 15 C from the equation of state that ``gas`` is checked against.
    """
    gauge, t, left = SpokenGauge(), 0, gas.usable_l(290, volume, 15)
    for seconds, rate in [(0, 0.0), *spells]:
        t += seconds
        left -= rate * seconds / 60
        if left <= 0:
            return
        said = word(t, round(gas.gauge_bar(left, volume, 15) / round_to) * round_to)
        assert gauge.doubt(said, SLACK, volume * 1.1) is None
        gauge.believe(said, SLACK, volume * 1.1)
