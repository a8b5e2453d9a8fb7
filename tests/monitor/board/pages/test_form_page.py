"""A sheet on the screen: what is asked is always there, and nothing is wider than the screen."""

from typing import Any

import pytest
from rich.cells import cell_len

from monitor.board.pages.form_page import form_page, form_prompt, numbered, window
from monitor.board.sheets.forms import Answers, Field, Filling, Form

PLACES = tuple(f"bay {n} of the kiln hall" for n in range(1, 10))


def filling(count: int = 6, **changes: Any) -> Filling[Answers]:
    fields = tuple(
        Field(f"f{n}", f"question {n}", picks=PLACES if n == 2 else (), needed=n == 2)
        for n in range(count)
    )
    form = Form("sheet", "A SHEET", fields, lambda a: a, notes=("read this first",))
    return Filling(form, **changes)


def texts(page: Any) -> list[str]:
    return ["".join(text for text, _ in line).rstrip() for line in page.lines]


@pytest.mark.parametrize("room", [0, 1, 2, 3, 5, 8, 30])
@pytest.mark.parametrize("place", [0, 2, 5, 39])
def test_what_is_asked_is_among_the_lines(scenes: Any, room: int, place: int) -> None:
    page = form_page(filling(40, place=place), scenes.look(), room)
    lines = texts(page)
    assert len(lines) <= room
    if room >= 2:
        assert lines[0] == "A SHEET"
        assert any(f"question {place}" in line and line.endswith("_") for line in lines)


def test_numbered_answers_stand_below_their_question(scenes: Any) -> None:
    lines = texts(form_page(filling(place=2), scenes.look(), 20))
    at = next(n for n, line in enumerate(lines) if "question 2" in line)
    assert lines[at + 1].strip() == "1 bay 1 of the kiln hall  2 bay 2 of the kiln hall"
    assert not any("bay" in line for line in texts(form_page(filling(), scenes.look(), 20)))


def test_nothing_is_wider_than_the_screen(scenes: Any) -> None:
    long = filling(answers={"f0": "窯" * 200, "f1": "x" * 400})
    for width in (20, 40, 80, 120):
        for line in texts(form_page(long, scenes.look(width), 30)):
            assert cell_len(line) <= width


def test_the_end_of_a_long_answer_is_what_is_seen_while_it_is_typed(scenes: Any) -> None:
    lines = texts(form_page(filling(answers={"f0": "x" * 200 + "end"}), scenes.look(), 30))
    assert any(line.endswith("xend_") for line in lines)


def test_a_long_answer_is_wrapped_and_the_line_of_the_cursor_is_seen(scenes: Any) -> None:
    said = " ".join(f"word{n:02}" for n in range(40))
    long = filling(answers={"f0": said})
    shown = " ".join(line.strip() for line in texts(form_page(long, scenes.look(), 30))[2:7])
    assert " ".join(shown.split()).startswith(f"question 0 {said[:30]}")
    long.press("home", None)
    for _ in range(7):
        long.press("right", None)
    lines = texts(form_page(long, scenes.look(), 3))
    assert any("word00 _word01" in line for line in lines)
    for _ in range(7 * 30):
        long.press("right", None)
    assert any("_word31" in line for line in texts(form_page(long, scenes.look(), 3)))


def test_the_prompt_says_that_keys_write_and_what_is_wrong() -> None:
    open_sheet = filling(place=2)
    assert form_prompt(open_sheet)[0] == "KEYS WRITE  question 2: a number, or in own words"
    open_sheet.press("enter", "\r")
    assert form_prompt(open_sheet)[0] == "KEYS WRITE  question 2: an answer is needed"
    assert form_prompt(filling())[0] == "KEYS WRITE  question 0: in own words; may stay empty"
    assert len(form_prompt(filling())[1]) <= 80


def test_a_window_over_lines() -> None:
    lines = [((str(n), None),) for n in range(10)]  # any role will do
    assert [line[0][0] for line in window(lines, 9, 3)] == ["0", "8", "9"]  # type: ignore[arg-type]
    assert [line[0][0] for line in window(lines, 0, 3)] == ["0", "1", "2"]  # type: ignore[arg-type]
    assert numbered(("a", "b"), 3) == ["1 a", "2 b"]


def test_what_is_to_be_read_is_whole(scenes: Any) -> None:
    """The mates and their air were cut off at the edge of the screen."""
    told = "mates " + ", ".join(f"Alpha 2-{n} 187 bar by estimate" for n in range(1, 6))
    wide = "place 窯業 " * 20
    form = Form("sheet", "A SHEET", (Field("f", "q"),), lambda a: a, notes=(told, wide))
    lines = texts(form_page(Filling(form), scenes.look(80), 30))
    assert " ".join(line.strip() for line in lines[1:4]).startswith(told)
    assert sum(line.count("窯業") for line in lines) == 20
    assert max(map(cell_len, lines)) <= 80
