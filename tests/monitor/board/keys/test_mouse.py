"""A click is the keys that would have done the same, and nothing where there are none."""

from collections.abc import Callable
from typing import Any

import pytest

from monitor.board.acts.questions import Mode
from monitor.board.keys.hands import Hands
from monitor.board.keys.mouse import keys_at
from monitor.board.lines.header import Desk
from monitor.board.pages.screen import Shown, screen

S = 1_000_000_000


def drawn(picture: Any, look: Any, hands: Hands) -> list[str]:
    shown = Shown(Desk(by="R. Harrow"), caution=False)
    lines = screen(picture, look, hands, shown).lines
    return ["".join(text for text, _ in line) for line in lines]


def click(picture: Any, look: Any, words: str, hands: Hands | None = None) -> list[str]:
    """Click on the first place where these words stand."""
    hands = hands or Hands()
    lines = drawn(picture, look, hands)
    y = next(y for y, line in enumerate(lines) if words in line)
    x = lines[y].index(words)
    return keys_at(lines, x, y, hands.mode, picture, elsewhere=hands.elsewhere)


def opened(picture: Any, *keys: str) -> Hands:
    hands = Hands()
    for place, key in enumerate(keys):
        hands.press(key, (100 + place) * S, picture)
    return hands


def test_a_wearers_line_chooses_the_wearer(scenes: Any) -> None:
    assert click(scenes.quiet(), scenes.look(), "Alpha 2-1") == ["3"]
    assert click(scenes.many(12), scenes.look(), "Alpha 6-2") == ["1", "2"]
    assert click(scenes.many(12), scenes.look(), "leader 11") == []


@pytest.mark.parametrize(
    ("words", "key"),
    [("h keys", "h"), ("evacuate", "f"), ("Tab orders", "tab"), ("Enter more", "enter"),
     ("e o x", "e"), ("leave", "q")],
)  # fmt: skip
def test_a_key_that_is_named_is_pressed(scenes: Any, words: str, key: str) -> None:
    assert click(scenes.quiet(), scenes.look(), words) == [key]


def test_the_key_beside_an_alarm(scenes: Any) -> None:
    assert click(scenes.trouble(), scenes.look(), "Space = take it") == ["space"]
    assert click(scenes.trouble(), scenes.look(), "call the crew") == []


def test_numbered_answers_and_entries(scenes: Any) -> None:
    quiet = scenes.quiet()
    leaving = opened(quiet, "q")
    assert click(quiet, scenes.look(), "stop recording too", leaving) == ["2"]
    more = opened(quiet, "enter")
    assert click(quiet, scenes.look(), "seeing to a set", more) == ["4", "1"]
    assert click(quiet, scenes.look(), "AT THE DOOR", more) == []
    sheet = opened(quiet, "3", "enter", "1", "5")
    assert sheet.mode is Mode.SHEET
    assert click(quiet, scenes.look(), "rescue", sheet) == ["2"]


def test_what_is_only_to_be_read_does_nothing(scenes: Any) -> None:
    trouble = scenes.trouble()
    for words in ("KILN LANE", "STATE", "EXERCISE"):
        assert click(trouble, scenes.look(), words) == []
    lines = drawn(trouble, scenes.look(), Hands())
    for y in (-1, len(lines)):
        assert keys_at(lines, 0, y, Mode.BOARD, trouble, elsewhere=False) == []
    for y, line in enumerate(lines):
        for x in range(len(line) + 5):
            keys = keys_at(lines, x, y, Mode.BOARD, trouble, elsewhere=False)
            assert "j" not in keys


async def test_the_board_follows_a_click(make_board: Callable[..., Any], scenes: Any) -> None:
    board = make_board(scenes.quiet())
    async with board.app.run_test(size=(80, 24)) as pilot:
        await pilot.press("escape")
        y = next(
            y
            for y, line in enumerate(board.app._view._lines)
            if "Alpha 2-1" in "".join(text for text, _ in line)
        )
        await pilot.click(offset=(20, y))
        assert board.app._hands.chosen == (3,)
        await pilot.press("o")
    assert board.desk.asked[-1].what == "come_out"
