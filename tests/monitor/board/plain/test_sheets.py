"""Sheets on the plain board, line by line."""

from typing import Any

import pytest

from monitor.board.keys.sheet_hands import Aids
from monitor.board.keys.table import TABLE
from monitor.board.plain.sheets import (
    HELP_SHEET,
    is_command,
    open_sheet,
    opening_lines,
    question,
)
from monitor.board.sheets.forms import Filling


def opened(line: str, picture: Any) -> Any:
    return open_sheet(line.split(), picture, Aids())


def test_a_word_and_numbers_open_a_sheet_about_them(scenes: Any) -> None:
    filling = opened("task 3 4", scenes.quiet())
    assert isinstance(filling, Filling)
    assert filling.form.about == (3, 4)
    assert opened("TASK crew 3", scenes.quiet()).form.about == (3, 4)
    assert opened("stage", scenes.quiet()).form.about == ()


@pytest.mark.parametrize("line", ["", "fly 3", "take", "note x", "place 3 x"])
def test_other_words_are_not_of_sheets(scenes: Any, line: str) -> None:
    assert opened(line, scenes.quiet()) is None


@pytest.mark.parametrize("line", ["task 99", "task 3 x", "task x"])
def test_whoever_is_not_on_the_board(scenes: Any, line: str) -> None:
    assert opened(line, scenes.quiet()) == [
        "task: say numbers of wearers on the board, or nothing."
    ]


def test_nothing_to_do_is_a_sentence(scenes: Any) -> None:
    assert opened("filled", scenes.quiet()) == ["No cylinder is noted that is to be filled."]


def test_pages_are_told_whole(scenes: Any) -> None:
    assert opened("log", scenes.quiet()) == ["nothing was done yet"]
    assert len(opened("links", scenes.many(60))) == 61


def test_a_question_says_what_is_wanted_and_what_stands_there(scenes: Any) -> None:
    filling = opened("stage", scenes.quiet())
    assert opening_lines(filling) == [
        "STAGE OR CONTROL LEVEL. cancel leaves it.",
        "stage? (now: 1)",
    ]
    task = opened("task 3", scenes.quiet())
    assert question(task).startswith("task? (1 search, 2 rescue, 3 firefighting")
    assert question(task).endswith("may stay empty)")
    use = opened("real", scenes.quiet())
    use.fill("yes")
    assert question(use).startswith("Not so: one of the numbers. it is? (1, then Enter")


def test_help_names_every_word_and_fits_80_columns() -> None:
    lines = TABLE.typed_help()
    assert any(line.startswith("checkin ") and "(asks)" in line for line in lines)
    assert all(len(line) <= 80 for line in (*lines, *HELP_SHEET))


@pytest.mark.parametrize(
    "line",
    ["take", "TAKE 3", "silence 30", "alarms", "evacuate all", "evacuate crew 4", "evacuate 4"],
)
def test_commands_work_in_a_sheet(line: str) -> None:
    assert is_command(line.split())


@pytest.mark.parametrize(
    "line", ["take the left hand stair", "take 2 hoses", "evacuate was called", "alarms tried", ""]
)
def test_an_answer_that_begins_like_a_command_is_an_answer(line: str) -> None:
    """The first of these took the top alarm, unseen."""
    assert not is_command(line.split())
