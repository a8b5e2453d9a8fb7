"""What is read from two metres: a block a crew."""

from dataclasses import replace
from typing import Any

import pytest
from rich.cells import cell_len

from monitor.board.pages.large import FIGURES, figures, large_lines
from monitor.board.words.marks import ASCII
from monitor.incident.picture import NextMark


def texts(lines: Any) -> list[str]:
    return ["".join(text for text, _ in line) for line in lines]


def read_back(lines: list[str], at: int, count: int) -> str:
    """The figures that stand in these five lines, by their shapes."""
    by_shape = {shape: digit for digit, shape in FIGURES.items()}
    found = ""
    for place in range(count):
        start = at + 5 * place
        shape = tuple(line[start : start + 4].replace("█", "#") for line in lines)
        found += by_shape[shape]
    return found


def crew(scenes: Any, *bars: float | None, turn: int = 725) -> list[Any]:
    made = [scenes.wearer(n, bar) for n, bar in enumerate(bars, 1)]
    mark = NextMark("turn", turn, "F")
    return [replace(w, air=replace(w.air, next=mark)) if w.air.next else w for w in made]


def test_every_figure_has_a_shape_of_its_own_five_lines_high() -> None:
    assert len(set(FIGURES.values())) == len(FIGURES)
    assert all(len(rows) == 5 and {len(row) for row in rows} == {4} for rows in FIGURES.values())
    assert figures("1", "#") == list(FIGURES["1"])


@pytest.mark.parametrize("width", [80, 120])
def test_the_least_air_and_the_minutes_to_the_next_mark(scenes: Any, width: int) -> None:
    """188 bar is the least of 195 and 188; 725 s are 12 whole minutes."""
    drawn = texts(large_lines(scenes.picture(crew(scenes, 195, 188.9)), scenes.look(width), 20))
    assert drawn[0].split() == ["Alpha", "1", "ok"]
    assert read_back(drawn[1:6], 2, 3) == "188"
    assert read_back(drawn[1:6], 25, 2) == "12"
    assert drawn[6].split() == ["bar,", "No", "2", "min", "to", "turn"]


def test_unknown_air_of_one_is_a_question_and_never_the_others_figure(scenes: Any) -> None:
    drawn = texts(large_lines(scenes.picture(crew(scenes, 195, None)), scenes.look(), 20))
    assert read_back(drawn[1:6], 2, 1) == "?"
    assert read_back(drawn[1:6], 25, 1) == "?"
    assert "time unknown" in drawn[6]


def test_what_is_overdue_counts_up(scenes: Any) -> None:
    drawn = texts(large_lines(scenes.picture(crew(scenes, 150, turn=-61)), scenes.look(), 20))
    assert read_back(drawn[1:6], 25, 2) == "+2"


def test_who_needs_an_eye_first_has_a_block_and_the_others_are_counted(scenes: Any) -> None:
    drawn = texts(large_lines(scenes.trouble(), scenes.look(), 13))
    assert "MOTION ALARM (No 4)" in drawn[0]
    assert "LOW AIR (No 8)" in drawn[0]
    assert drawn[7].startswith("  + 2 more crews, 1 not ok")
    assert len(drawn) == 8


def test_every_line_fits_and_ascii_is_ascii(scenes: Any) -> None:
    for width, room in ((40, 7), (80, 20), (120, 40), (200, 50)):
        look = replace(scenes.look(width), glyphs=ASCII)
        drawn = texts(large_lines(scenes.many(60), look, room))
        assert len(drawn) <= room
        assert all(cell_len(line) <= width and line.isascii() for line in drawn)


def test_nobody_under_air_is_said(scenes: Any) -> None:
    assert texts(large_lines(scenes.picture(()), scenes.look(), 9)) == ["  nobody is under air"]
