"""Rounding is always to the worse case; the cases are arithmetic shown beside them."""

from datetime import UTC

import pytest

from monitor.board.words import wording

S = 1_000_000_000


@pytest.mark.parametrize(
    ("ns", "words"),
    [
        (0, "0 s"),
        (1, "1 s"),
        (S, "1 s"),
        (S + 1, "2 s"),
        (34 * S, "34 s"),
        (59 * S + 1, "1 min 0 s"),
        (72 * S, "1 min 12 s"),
        (599 * S, "9 min 59 s"),
        (600 * S, "10 min"),
        (600 * S + 1, "11 min"),
        (3_599 * S, "1 h 0 min"),
        (3_600 * S, "1 h 0 min"),
        (4_320 * S, "1 h 12 min"),
        (9 * 3_600 * S, "9 h 0 min"),
        (10 * 3_600 * S + 1, "11 h"),
        (-5, "0 s"),
    ],
)
def test_an_age_is_rounded_up(ns: int, words: str) -> None:
    assert wording.age(ns) == words


def test_an_age_fits_its_column() -> None:
    assert max(len(wording.age(s * S)) for s in range(0, 99 * 3_600, 7)) <= 10


def test_no_duration_looks_like_a_time_of_day() -> None:
    assert not any(":" in wording.age(s * S) for s in range(0, 90_000, 11))


@pytest.mark.parametrize(
    ("ns", "words"),
    [
        (1, "1 s"),
        (72 * S, "72 s"),
        (99 * S, "99 s"),
        (100 * S, "2 min"),
        (121 * S, "3 min"),
        (99 * 60 * S, "99 min"),
        (100 * 60 * S, "2 h"),
    ],
)
def test_a_short_age_has_one_figure(ns: int, words: str) -> None:
    assert wording.short_age(ns) == words


@pytest.mark.parametrize(
    ("bar", "unit", "words"),
    [
        (147.0, "bar", "147"),
        (147.9, "bar", "147"),
        (146.999_999_9, "bar", "147"),
        (0.4, "bar", "0"),
        (-2.0, "bar", "0"),
        # 100 bar = 1e7 Pa / 6894.757 Pa = 1450.38 psi (NIST SP 811)
        (100.0, "psi", "1450"),
    ],
)
def test_pressure_is_rounded_down(bar: float, unit: str, words: str) -> None:
    assert wording.pressure(bar, unit) == words


@pytest.mark.parametrize(("l", "words"), [(1_999.9, "1990"), (350, "350"), (9.9, "0"), (-1, "0")])
def test_litres_are_rounded_down_to_ten(l: float, words: str) -> None:  # noqa: E741
    assert wording.litres(l) == words


@pytest.mark.parametrize(
    ("fraction", "cells"),
    [(0.0, 0), (0.099, 0), (0.1, 1), (0.3, 3), (0.7, 7), (0.999, 9), (1.0, 10), (1.3, 10), (-1, 0)],
)
def test_strip_cells_are_rounded_down(fraction: float, cells: int) -> None:
    assert wording.strip_cells(fraction) == cells


def test_time_of_day_is_in_the_zone_given() -> None:
    # 1741962727 s: 2025-03-14 14:32:07 UTC (date -u -d @1741962727)
    assert wording.day_time(1_741_962_727 * S, UTC, seconds=True) == "14:32:07"
    assert wording.day_time(1_741_962_727 * S, UTC) == "14:32"


def test_counting() -> None:
    assert wording.counted(1, "alarm") == "1 alarm"
    assert wording.counted(2, "alarm") == "2 alarms"
    assert wording.counted(2, "person", "people") == "2 people"
