"""The screen of one order: everybody, and after how long each fact came."""

from dataclasses import replace
from typing import Any

import pytest
from rich.cells import cell_len

from monitor.board.lines.columns import RowContext
from monitor.board.pages.order_page import order_page

S = 1_000_000_000


def page(scenes: Any, order: Any, width: int = 80, lines: int = 16, number: int = 0) -> Any:
    picture = replace(scenes.evacuation(), orders=(order,))
    context = RowContext(picture, scenes.look(width))
    drawn = order_page(order, (1, 2), context, lines, number)
    return ["".join(text for text, _ in line).rstrip() for line in drawn.lines], drawn.more


def test_all_lines_with_the_seconds_of_each_fact(scenes: Any) -> None:
    (order,) = scenes.evacuation().orders
    lines, more = page(scenes, replace(order, number=3, on_order_of="command"))
    assert not more
    assert lines[1:] == [
        "  Say: Evacuate, evacuate, evacuate. Everybody: come out now. Acknowledge.",
        "  order 3 (1 of 2), everybody, given 14:31:33 by R. Harrow, on the order of",
        "  command",
        " No NAME       RECEIVED   BUTTON     VOICE      STARTED    OUT",
        "  4 Alpha 2-2  2 s        -          -          -          -          NO ANSWER",
        "  6 Alpha 3-2  -          -          -          -          -          NO ANSWER",
        "  7 Alpha 4-1  2 s        -          20 s       -          -          not out",
        "  3 Alpha 2-1  2 s        9 s        -          -          -          not out",
        "  5 Alpha 3-1  2 s        14 s       -          16 s       -          not out",
        "  8 Alpha 4-2  2 s        7 s        -          -          31 s",
        "  1 Alpha 1-1  -          -          -          -          -          COMMITTED",
        "  2 Alpha 1-2  -          -          -          -          -          COMMITTED",
        *[""] * 3,
    ]


def test_who_was_on_the_way_before_has_not_followed_it(scenes: Any) -> None:
    (order,) = scenes.evacuation().orders
    before = replace(order.lines[4], back_ns=0)
    lines, _ = page(scenes, replace(order, lines=(before,)))
    assert "  before  " in lines[4]


def test_no_pack_no_button(scenes: Any) -> None:
    (order,) = scenes.evacuation().orders
    silent = scenes.order_line(scenes.wearer(4, pack=None), voice_ns=61 * S, unanswered=False)
    lines, _ = page(scenes, replace(order, lines=(silent,)))
    assert lines[4] == (
        "  4 Alpha 2-2  no pack    no pack    1 min 1 s  -          -          not out"
    )


def test_a_roll_call_has_crews_and_nobody_to_come_out(scenes: Any) -> None:
    (order,) = scenes.evacuation().orders
    lines, _ = page(scenes, replace(order, order="roll call"))
    assert "Alpha 2 one of two" in lines[3]
    assert lines[4] == " No NAME       RECEIVED   BUTTON     VOICE                AIR"


def test_wide_has_air_motion_and_place(scenes: Any) -> None:
    (order,) = scenes.evacuation().orders
    lines, _ = page(scenes, order, 140)
    assert lines[3].split()[-4:] == ["OUT", "AIR", "MOTION", "PLACE"]
    assert lines[4].endswith("147 bar            moving             stairs, floor 2")
    assert "~201 bar (72 s)    moving 72 s ago" in lines[5]
    assert page(scenes, order, 160)[0][3].endswith("SENT")


def test_more_wearers_than_lines_go_to_further_pages(scenes: Any) -> None:
    crowd = scenes.many(30)
    order = scenes.order_view(tuple(scenes.order_line(w) for w in crowd.wearers))
    seen: list[str] = []
    number, more = 0, True
    while more:
        lines, more = page(scenes, order, 80, 14, number)
        assert len(lines) == 14
        seen += [line for line in lines if "Alpha" in line]
        assert lines[-1].startswith("  d: ") is more
        number += 1
    assert [int(line.split()[0]) for line in seen] == list(range(1, 31))
    assert page(scenes, order, 80, 14, 99) == page(scenes, order, 80, 14, number - 1)


@pytest.mark.parametrize("width", [40, 80, 100, 120, 200])
@pytest.mark.parametrize("lines", [0, 1, 3, 5, 16])
def test_lines_fit(scenes: Any, width: int, lines: int) -> None:
    (order,) = scenes.evacuation().orders
    drawn, _ = page(scenes, order, width, lines)
    assert len(drawn) == lines
    assert all(cell_len(line) <= max(width, 79) for line in drawn)
