"""Dots and lines in cells; the expected cells are worked out by hand.

Braille patterns (The Unicode Standard, 21.1): U+2800 and one bit a dot, from above 0x01, 0x02,
0x04, 0x40 on the left and 0x08, 0x10, 0x20, 0x80 on the right.
"""

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.cells import cell_len

from monitor.board.lines.chart import DOTS, Frame, Stroke, chart, column_of
from monitor.board.words.marks import Role

CELL = Frame(0, 2, 0, 4)
"""One braille cell: a dot is 1 wide and 1 high."""


def stroke(*points: tuple[float, float], **changes: Any) -> Stroke:
    return replace(Stroke(points, Role.STRONG, "*"), **changes)


def texts(lines: list[Any]) -> list[str]:
    return ["".join(text for text, _ in line) for line in lines]


@pytest.mark.parametrize(
    ("point", "sign"),
    [
        ((0, 0), "\u2840"),  # lower left, 0x40
        ((1, 0), "\u2880"),  # lower right, 0x80
        ((0, 3), "\u2801"),  # upper left, 0x01
        ((1, 3), "\u2808"),  # upper right, 0x08
        ((0, 2), "\u2802"),
        ((1, 1), "\u2820"),
    ],
)
def test_each_dot_of_a_braille_cell(point: tuple[float, float], sign: str) -> None:
    assert texts(chart(1, 1, CELL, [stroke(point)])) == [sign]


def test_a_level_line() -> None:
    """Both dots of the lowest row of each cell: 0x40 + 0x80."""
    frame = Frame(0, 6, 0, 4)
    assert texts(chart(3, 1, frame, [stroke((0, 0), (5, 0))])) == ["\u28c0" * 3]


def test_a_steep_line_has_a_dot_in_every_row() -> None:
    """From the upper left down to the lower right: 0x01, 0x02, 0x04 and 0x80."""
    assert texts(chart(1, 1, CELL, [stroke((0, 3), (1, 0))])) == ["\u2887"]


def test_a_line_over_two_rows_of_cells() -> None:
    """Eight dots down the left side: all four of both cells, 0x47."""
    frame = Frame(0, 2, 0, 8)
    assert texts(chart(1, 2, frame, [stroke((0, 7), (0, 0))])) == ["\u2847", "\u2847"]


@pytest.mark.parametrize(
    ("value", "up", "sign"),
    [
        (0.99, False, "\u2840"),  # the lowest dot: from 0 to under 1
        (1.0, False, "\u2804"),
        (1.99, False, "\u2804"),
        (0.01, True, "\u2804"),  # a limit goes up to the next whole dot
        (1.0, True, "\u2804"),
        (1.01, True, "\u2802"),
        (9.0, False, "\u2801"),  # outside: at the edge
        (-9.0, False, "\u2840"),
        (9.0, True, "\u2801"),
        (-9.0, True, "\u2840"),
    ],
)
def test_air_goes_down_to_its_dot_and_a_limit_up(value: float, up: bool, sign: str) -> None:
    assert texts(chart(1, 1, CELL, [stroke((0, value), up=up)])) == [sign]


@given(value=st.floats(0, 299.9), rows=st.integers(1, 40))
def test_no_reading_is_ever_drawn_higher_than_it_is(value: float, rows: int) -> None:
    drawn = chart(1, rows, Frame(0, 1, 0, 300), [stroke((0, value))])
    ((row, sign),) = [(n, t) for n, t in enumerate(texts(drawn)) if t != " "]
    dot = {0x01: 0, 0x02: 1, 0x04: 2, 0x40: 3}[ord(sign) - 0x2800]
    from_below = rows * 4 - 1 - (row * 4 + dot)
    assert from_below * 300 / (rows * 4) <= value + 1e-9


def test_quarter_blocks() -> None:
    """Two by two: a line over the upper half, one dot at the lower right."""
    frame = Frame(0, 2, 0, 2)
    upper = stroke((0, 1), (1, 1))
    assert texts(chart(1, 1, frame, [upper], (), DOTS["blocks"])) == ["▀"]
    assert texts(chart(1, 1, frame, [upper, stroke((1, 0))], (), DOTS["blocks"])) == ["▜"]
    assert texts(chart(1, 1, frame, [stroke((0, 0))], (), DOTS["blocks"])) == ["▖"]


def test_ascii_has_one_sign_for_each_kind_of_stroke() -> None:
    frame = Frame(0, 4, 0, 2)
    limit = stroke((0, 0), (3, 0), sign="-", on=1, off=1)
    read = stroke((0, 1), (1, 1), (2, 0))
    assert texts(chart(4, 2, frame, [limit, read], (), DOTS["ascii"])) == ["**  ", "- * "]


def test_dashes_and_dots() -> None:
    frame = Frame(0, 8, 0, 4)
    level = ((0, 0), (7, 0))
    assert texts(chart(4, 1, frame, [stroke(*level, on=1, off=1)])) == ["\u28c0 \u28c0 "]
    # Every third column of dots: 0, 3 and 6.
    assert texts(chart(4, 1, frame, [stroke(*level, thin=3)])) == ["\u2840\u2880 \u2840"]


def test_a_gap_is_a_band_and_nothing_is_joined_over_it() -> None:
    """Columns 0 and 1 were read, 2 and 3 not, 4 and 5 were again, two dots lower."""
    frame = Frame(0, 12, 0, 4)
    before, after = stroke((0, 3), (3, 3)), stroke((8, 1), (11, 1))
    (line,) = chart(6, 1, frame, [before, after], [(4, 7)])
    assert line == (
        ("\u2809\u2809", Role.STRONG),
        ("░░", Role.FAINT),
        ("\u2824\u2824", Role.STRONG),
    )


def test_what_is_drawn_later_lies_above() -> None:
    low, high = stroke((0, 0), role=Role.FAINT), stroke((1, 3))
    (line,) = chart(1, 1, CELL, [low, high])
    assert line == (("\u2848", Role.STRONG),)  # both dots, 0x40 + 0x08, in one cell
    (line,) = chart(1, 1, CELL, [high, low])
    assert line == (("\u2848", Role.FAINT),)


def test_a_stroke_without_points_and_an_empty_chart() -> None:
    assert chart(3, 2, CELL, [stroke()]) == [(("   ", Role.QUIET),)] * 2


def test_columns() -> None:
    frame = Frame(100, 200, 0, 1)
    found = [column_of(x, frame, 10) for x in (0, 100, 109.9, 110, 199, 200, 900)]
    assert found == [0, 0, 0, 1, 9, 9, 9]


def test_every_sign_is_one_cell() -> None:
    for dots in DOTS.values():
        signs = (*dots.signs, dots.band, dots.past, dots.ahead, dots.tick)
        assert {cell_len(sign) for sign in signs} == {1}
    assert len(DOTS["braille"].signs) == 256
    assert len(DOTS["blocks"].signs) == 16
    plain = DOTS["ascii"]
    assert f"{plain.band}{plain.past}{plain.ahead}{plain.tick}".isascii()


@given(
    width=st.integers(1, 90),
    height=st.integers(1, 20),
    points=st.lists(st.tuples(st.floats(-50, 150), st.floats(-50, 500)), max_size=20),
    dots=st.sampled_from(list(DOTS.values())),
    band=st.tuples(st.floats(-50, 150), st.floats(0, 100)),
)
def test_always_exactly_as_wide_and_high(
    width: int, height: int, points: Any, dots: Any, band: tuple[float, float]
) -> None:
    drawn = chart(
        width, height, Frame(0, 100, 0, 300), [stroke(*points)], [(band[0], sum(band))], dots
    )
    assert [cell_len(text) for text in texts(drawn)] == [width] * height
