"""The overview as lines, at every size: who, which door, how old, how sure."""

import re
from dataclasses import replace
from datetime import UTC

import pytest
from rich.cells import cell_len

from monitor.board.keys.hands import Hands
from monitor.board.words.marks import Look, Role
from monitor.overview.doors import Door, Trust
from monitor.overview.overview import overview_of
from monitor.overview.screen import (
    HINTS,
    WAITING,
    Looked,
    Seen,
    door_screen,
    overview_screen,
)
from tests.monitor.board import conftest as boards
from tests.monitor.overview.scenes import S, door, peace, trouble

SIZES = [(80, 24), (120, 40)]


def drawn(
    doors: list[Door], size: tuple[int, int] = (80, 24), seen: Seen | None = None
) -> list[str]:
    overview = overview_of("Kiln works", doors, boards.WALL)
    lines = overview_screen(overview, Look(*size, zone=UTC), seen or Seen())
    assert len(lines) == size[1]
    texts = ["".join(text for text, _ in line) for line in lines]
    assert max(map(cell_len, texts)) <= size[0]
    return [text.rstrip() for text in texts]


@pytest.mark.parametrize("size", SIZES)
def test_in_peace(size: tuple[int, int]) -> None:
    page = drawn(peace(), size)
    assert page[0].startswith("KILN WORKS  under air 24  OVERVIEW   EXERCISE  ")
    heads = page[1].split()
    assert heads[:3] == ["No", "DOOR", "OFFICER"]
    for number, (line, name) in enumerate(zip(page[2:5], "ABC", strict=True), 1):
        cells = line.split()
        assert cells[:2] == [str(number), name]
        assert "148" in cells
        assert cells[-2:] == ["now", "proved"]
    assert page[5] == "1 A"
    assert page[6].startswith("  Alpha 1")
    assert page[-1] == HINTS


@pytest.mark.parametrize("size", SIZES)
def test_with_a_danger_one_not_heard_and_one_not_to_be_trusted(size: tuple[int, int]) -> None:
    page = drawn(trouble(), size)
    assert "under air 24, of these 8 as of 40 s ago" in re.sub(r"\s+", " ", page[0])
    assert any(re.match(r"■ NOT TO BE TRUSTED +A: 8 under air", line) for line in page)
    assert any(line.startswith("■ DOOR NOT HEARD") and "C: 8 under air" in line for line in page)
    assert any("MOTION ALARM" in line and "B 4 Alpha 2-2" in line for line in page)
    lines = {line.split()[1]: line for line in page if re.match(r" [123] [ABC] ", line)}
    assert lines["A"].endswith("DISTRUST")
    assert "NOT H." in lines["C"]
    assert lines["B"].endswith("now proved")


def test_a_total_never_adds_what_is_not_heard_without_saying_so() -> None:
    for width in range(40, 200):
        page = drawn([*peace()[:2], replace(peace()[2], age_ns=40 * S)], (width, 24))
        if "under air" in page[0]:
            assert "of these 8 as of 40 s ago" in page[0] or "24, 8 OLD" in page[0]


@pytest.mark.parametrize("doors", [1, 3, 40])
@pytest.mark.parametrize("size", [(40, 5), (80, 10), (80, 24), (200, 60)])
def test_any_size_and_any_number_of_doors(doors: int, size: tuple[int, int]) -> None:
    many = [door(n, f"door {n}", boards.trouble_scene()) for n in range(1, doors + 1)]
    page = drawn(many, size)
    assert page[0]
    if doors == 40 and size[1] >= 10:
        (said,) = [line for line in page if "more doors, " in line]
        assert said.endswith("under air: window too small")


def test_crews_are_scrolled_and_what_is_left_is_counted() -> None:
    whole = drawn(peace(), (80, 40))
    assert sum(line.startswith("  Alpha") for line in whole) == 12
    page = drawn(peace(), (80, 16))
    # 16 lines less header, heading, three doors, message and keys: nine of fifteen, one of them
    # counts the others.
    assert page[-3] == "  + 7 more lines: PgDn"
    further = drawn(peace(), (80, 16), Seen(top=99))
    assert further[-3].startswith("  Alpha 4")


def test_before_any_door() -> None:
    page = drawn([])
    assert WAITING in page


def test_an_old_picture_says_so_and_marks_its_air_as_estimated() -> None:
    quiet = boards.quiet_scene()
    fallen = tuple(replace(w, air=replace(w.air, pressure_bar=100.0)) for w in quiet.wearers)
    page = drawn([door(1, "A", quiet, 40, falling=fallen)])
    assert any(line.startswith("1 A  as of 40 s ago, air estimated") for line in page)
    (line,) = [line for line in page if re.match(r" 1 A ", line)]
    assert "~100" in line


def test_clocks_that_differ_are_said() -> None:
    ahead = drawn([door(1, "A", boards.quiet_scene(), clock_ns=-300 * S)])
    (said,) = [line for line in ahead if "its clock is 5 min" in line]
    assert said.endswith("ahead of this one")


@pytest.mark.parametrize("size", SIZES)
def test_a_doors_board_unchanged_with_the_others_on_top(size: tuple[int, int]) -> None:
    doors = [door(1, "A", boards.quiet_scene()), trouble()[1], replace(peace()[2], age_ns=40 * S)]
    overview = overview_of("", doors, boards.WALL)
    look = Look(*size, zone=UTC)
    lines, _ = door_screen(overview, doors[0], look, Hands(holds=False), Looked())
    page = ["".join(text for text, _ in line).rstrip() for line in lines]
    assert len(page) == size[1]
    assert page[0].startswith(" DOOR 1 A ")
    assert "DANGER AT B" in page[0]
    assert "NOT HEARD: C" in page[0]
    assert page[1].startswith("KILN LANE  ")
    assert " VIEW ONLY " in page[2]
    assert any("1 Alpha 1-1" in line for line in page)


def test_a_doors_board_that_is_not_heard_has_it_over_everything() -> None:
    (_, _, lost) = trouble()
    overview = overview_of("", trouble(), boards.WALL)
    look = Look(80, 24, zone=UTC)
    lines, _ = door_screen(overview, lost, look, Hands(holds=False), Looked())
    page = ["".join(text for text, _ in line) for line in lines]
    assert any("VALUES OLD" in line for line in page)
    roles = {role for line in lines[3:8] for _, role in line}
    assert roles <= {Role.OLD, Role.DANGER}


def test_what_is_shown_of_no_key_is_not_quiet() -> None:
    overview = overview_of("", [door(1, "A", boards.quiet_scene(), trust=Trust.UNPROVED)], 0)
    lines = overview_screen(overview, Look(80, 24, zone=UTC), Seen())
    ((text, role),) = [part for line in lines for part in line if part[0].strip() == "no key"]
    assert (text.strip(), role) == ("no key", Role.STRONG)
