"""A dozen pictures of the screen; words and rules are tested apart from them."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from monitor.board.keys.sheet_hands import Aids
from monitor.board.terminal.themes import Colours
from monitor.board.words.marks import GLYPHS
from monitor.desk import Role as DeskRole

S = 1_000_000_000
SIZES = [(80, 24), (120, 40)]


@pytest.mark.parametrize("size", SIZES, ids=["80x24", "120x40"])
@pytest.mark.parametrize("scene", ["quiet", "trouble"])
def test_dark(
    snap_compare: Any, make_board: Callable[..., Any], scenes: Any, scene: str, size: Any
) -> None:
    board = make_board(getattr(scenes, scene)())
    assert snap_compare(board.app, terminal_size=size)


@pytest.mark.parametrize("size", SIZES, ids=["80x24", "120x40"])
def test_daylight(
    snap_compare: Any, make_board: Callable[..., Any], scenes: Any, size: Any
) -> None:
    board = make_board(scenes.trouble(), daylight=True)
    assert snap_compare(board.app, terminal_size=size)


@pytest.mark.parametrize("colours", [Colours.SIXTEEN, Colours.NONE], ids=lambda c: c.value)
def test_fewer_colours(
    snap_compare: Any, make_board: Callable[..., Any], scenes: Any, colours: Colours
) -> None:
    board = make_board(scenes.trouble(), colours=colours)
    assert snap_compare(board.app, terminal_size=(80, 24))


@pytest.mark.parametrize("size", SIZES, ids=["80x24", "120x40"])
@pytest.mark.parametrize(
    ("daylight", "colours"),
    [(False, Colours.FULL), (True, Colours.FULL), (False, Colours.NONE)],
    ids=["dark", "daylight", "none"],
)
def test_one_wearer(
    snap_compare: Any,
    make_board: Callable[..., Any],
    scenes: Any,
    daylight: bool,
    colours: Colours,
    size: Any,
) -> None:
    board = make_board(scenes.trouble(), daylight=daylight, colours=colours)
    assert snap_compare(board.app, terminal_size=size, press=["4", "d"])


def test_one_wearers_figures(
    snap_compare: Any, make_board: Callable[..., Any], scenes: Any
) -> None:
    board = make_board(scenes.trouble())
    assert snap_compare(board.app, terminal_size=(80, 24), press=["4", "d", "d"])


@pytest.mark.parametrize("glyphs", ["blocks", "ascii"])
def test_one_wearer_without_braille(
    snap_compare: Any, make_board: Callable[..., Any], scenes: Any, glyphs: str
) -> None:
    board = make_board(scenes.quiet(), glyphs=GLYPHS[glyphs])
    assert snap_compare(board.app, terminal_size=(80, 24), press=["4", "d"])


@pytest.mark.parametrize("size", SIZES, ids=["80x24", "120x40"])
def test_display_stopped(
    snap_compare: Any, make_board: Callable[..., Any], scenes: Any, size: Any
) -> None:
    board = make_board(scenes.trouble())

    async def stand(_pilot: Any) -> None:
        board.source.moving = False
        board.app.tick()
        board.clock.pass_ns(12 * S)
        board.app.tick()

    assert snap_compare(board.app, terminal_size=size, run_before=stand)


def test_folded(snap_compare: Any, make_board: Callable[..., Any], scenes: Any) -> None:
    crowd = scenes.many(60)
    trouble = scenes.trouble()
    wearers = (*trouble.wearers, *crowd.wearers[8:])
    board = make_board(replace(trouble, wearers=wearers))
    assert snap_compare(board.app, terminal_size=(80, 24))


def test_help(snap_compare: Any, make_board: Callable[..., Any], scenes: Any) -> None:
    board = make_board(scenes.trouble())
    assert snap_compare(board.app, terminal_size=(80, 24), press=["h"])


def test_leaving(snap_compare: Any, make_board: Callable[..., Any], scenes: Any) -> None:
    board = make_board(scenes.trouble())
    assert snap_compare(board.app, terminal_size=(80, 24), press=["q"])


def test_view_only(snap_compare: Any, make_board: Callable[..., Any], scenes: Any) -> None:
    board = make_board(replace(scenes.quiet(), use="real"))
    board.desk.role = DeskRole(holder=False, by="S. Moss")
    assert snap_compare(board.app, terminal_size=(80, 24))


@pytest.mark.parametrize("size", SIZES, ids=["80x24", "120x40"])
@pytest.mark.parametrize(
    ("daylight", "colours"),
    [(False, Colours.FULL), (True, Colours.FULL), (False, Colours.NONE)],
    ids=["dark", "daylight", "none"],
)
def test_evacuation(
    snap_compare: Any,
    make_board: Callable[..., Any],
    scenes: Any,
    daylight: bool,
    colours: Colours,
    size: Any,
) -> None:
    board = make_board(scenes.evacuation(), daylight=daylight, colours=colours)
    assert snap_compare(board.app, terminal_size=size, press=["escape"])


@pytest.mark.parametrize(
    "keys",
    [["f"], ["4", "k", "comma", "7", "k", "f", "right"], ["4", "tab", "1"], ["tab", "7"], ["d"]],
    ids=["evacuate", "selected", "reasons", "close", "list"],
)
def test_orders_open(
    snap_compare: Any, make_board: Callable[..., Any], scenes: Any, keys: list[str]
) -> None:
    board = make_board(scenes.evacuation())
    assert snap_compare(board.app, terminal_size=(80, 24), press=keys)


def test_emergency_message(snap_compare: Any, make_board: Callable[..., Any], scenes: Any) -> None:
    """Five fields known, two not; the other alarms stay readable above it."""
    form = (("name", "C. Marl"), ("team", "Alpha 2"), ("last location", "stairs, floor 2 (14:19)"),
            ("brief", "search"), ("pressure", "147 bar, 3 s ago"), ("needs", ""))  # fmt: skip
    board = make_board(scenes.trouble(), aids=Aids(emergency_form=lambda _wearer: form))
    assert snap_compare(board.app, terminal_size=(80, 24), press=["4", "enter", "3", "1"])


@pytest.mark.parametrize("colours", [Colours.FULL, Colours.NONE], ids=lambda c: c.value)
def test_large_figures(
    snap_compare: Any, make_board: Callable[..., Any], scenes: Any, colours: Colours
) -> None:
    board = make_board(scenes.trouble(), colours=colours)
    assert snap_compare(board.app, terminal_size=(80, 24), press=["s", "s"])


def test_found_by_letters(
    snap_compare: Any, make_board: Callable[..., Any], scenes: Any, clock: Any
) -> None:
    async def slowly(pilot: Any) -> None:
        for key in ("4", "enter", "enter", "r", "e"):
            clock.pass_ns(300_000_000)
            await pilot.press(key)

    board = make_board(scenes.trouble())
    assert snap_compare(board.app, terminal_size=(80, 24), run_before=slowly)


@pytest.mark.parametrize("colours", [Colours.FULL, Colours.NONE], ids=lambda c: c.value)
def test_roll_call(
    snap_compare: Any, make_board: Callable[..., Any], scenes: Any, colours: Colours
) -> None:
    board = make_board(scenes.roll_call(), colours=colours)
    assert snap_compare(board.app, terminal_size=(80, 24), press=["escape"])


@pytest.mark.parametrize(
    "keys",
    [
        ["enter"],
        ["4", "enter", "1", "5", "1", "enter"],
        ["enter", "6", "1"],
        ["enter", "5", "4"],
    ],
    ids=["more", "sheet", "check-in", "close"],
)
def test_more_to_do(
    snap_compare: Any, make_board: Callable[..., Any], scenes: Any, keys: list[str]
) -> None:
    board = make_board(scenes.trouble())
    assert snap_compare(board.app, terminal_size=(80, 24), press=keys)


@pytest.mark.parametrize("size", SIZES, ids=["80x24", "120x40"])
@pytest.mark.parametrize("number", [4, 12, 24])
def test_how_many(
    snap_compare: Any, make_board: Callable[..., Any], scenes: Any, number: int, size: Any
) -> None:
    """Names that are long, wide, from right to left; one of whom nothing is known."""
    crowd = scenes.many(number).wearers
    odd = (
        replace(crowd[0], call_sign="", name="Bartholomew Fitz-Quoinstone the Younger"),
        replace(crowd[1], call_sign="", name="窯場 煉瓦"),
        replace(crowd[2], call_sign="", name="שלום אבן"),
        replace(crowd[3], air=scenes.air(None), pack=None, location="", crew=""),
        *crowd[4:],
    )
    board = make_board(replace(scenes.many(number), wearers=odd))
    assert snap_compare(board.app, terminal_size=size, press=["escape"])
