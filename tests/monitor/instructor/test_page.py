"""The instructor's screen: truth beside what the board shows, and what to say as the crew."""

from dataclasses import replace
from typing import Any

import pytest
from rich.cells import cell_len

from monitor.board.words.marks import Role
from monitor.instructor.page import Shown, answers, does, instructor_page
from monitor.instructor.tail import HowItIs, Really
from monitor.instructor.trouble import hands
from simulators.scenario_file import load
from tests.monitor.board.conftest import quiet_scene, scenes, trouble_scene, wearer

S = 1_000_000_000
__all__ = ("scenes",)


def truth(number: int, bar: float = 180.9, **changes: object) -> HowItIs:
    plain = HowItIs(number, 5 * S, bar, 40.1, "search", 2.0, True, "drying loft", 1.0, 61.0)
    return replace(plain, **changes)  # type: ignore[arg-type]


def really(**changes: object) -> Really:
    made = Really(t_ns=95 * S, wearers={n: truth(n) for n in range(1, 9)})
    return replace(made, **changes)  # type: ignore[arg-type]


def texts(picture: Any, look: Any, found: Really, **shown: Any) -> list[str]:
    made = hands(load("kiln-lane"), found.came, shown.get("chosen"), 1)
    page = instructor_page(picture, found, made, look, Shown(**shown))
    return ["".join(text for text, _ in line).rstrip() for line in page]


@pytest.mark.parametrize("size", [(80, 24), (120, 40), (40, 10), (20, 3), (80, 1)])
@pytest.mark.parametrize("state", [{}, {"chosen": 4}, {"open": True, "chosen": 4}])
def test_as_many_lines_as_the_screen_none_too_wide(scenes: Any, size: Any, state: Any) -> None:
    for picture in (quiet_scene(), trouble_scene(), scenes.many(60), scenes.picture(())):
        lines = texts(picture, scenes.look(*size), really(), **state)
        assert len(lines) == size[1]
        assert max(cell_len(line) for line in lines) <= size[0]


def test_truth_stands_beside_what_the_board_shows(scenes: Any) -> None:
    lines = texts(quiet_scene(), scenes.look(), really())
    assert lines[0].startswith(" INSTRUCTOR   EXERCISE   KILN LANE  14:32:07  run 1 min 35 s")
    # True pressure rounded down, rate rounded up; the board shows 188 bar of wearer 1.
    assert (
        lines[3] == "   1 Alpha 1-1      180     41 drying loft       search    ok              188"
    )
    assert not any("…" in line for line in lines)


def test_what_the_board_does_not_know_stands_out(scenes: Any) -> None:
    found = really()
    found.wearers = {1: truth(1, 188), 2: truth(2, 195, still_s=25.0), 3: truth(3, 222.9)}
    page = instructor_page(quiet_scene(), found, [], scenes.look(), Shown())
    roles = {line[0][0].split()[0]: line[0][1] for line in page[3:6]}
    # The board shows 188, 195 and 233 bar: the third is more than 10 bar too much.
    assert roles == {"1": Role.QUIET, "2": Role.STRONG, "3": Role.STRONG}


def test_paused_and_real_are_unmistakable(scenes: Any) -> None:
    paused = texts(replace(quiet_scene(), paused=True), scenes.look(), really())
    assert " EXERCISE PAUSED " in paused[0]
    real = texts(replace(quiet_scene(), use="real"), scenes.look(), really())
    assert "REAL: THE EXERCISE IS OVER" in real[0]


def test_what_to_say_when_the_trainee_asks() -> None:
    found = really(ordered={4714: "evacuate"})
    assert answers(wearer(4), truth(4), found) == [
        'gauge: "180 bar"',
        'place: "drying loft"',
        "how they are: well; what they do: search; the pack sounds: evacuate",
    ]
    on_the_way = truth(4, place="", still_s=0)
    assert 'place: "on the way, 61 s from the door"' in answers(wearer(4), on_the_way, found)
    assert answers(wearer(4), truth(4, still_s=43.7), found) == [
        "(no answer, if they are down: still for 43 s; true pressure 180 bar)"
    ]
    assert answers(wearer(4), None, found) == ["(nothing is known of them yet)"]


def test_what_they_do_in_a_word() -> None:
    assert does(truth(1)) == "search"
    assert does(truth(1, on_air=False)) == "off air"
    assert does(truth(1, still_s=20.0)) == "STILL 20s"
    assert does(truth(1, still_s=99.9)) == "STILL 99s"
    assert does(truth(1, still_s=3_599.9)) == "STILL 59m", "nine cells at the most"


@pytest.mark.parametrize("chosen", [1, 30, 60])
def test_of_many_the_chosen_one_is_in_view_and_the_others_are_counted(
    scenes: Any, chosen: int
) -> None:
    """24 lines: two on top, two below, the heading, five of what to say; 13 wearers and a count."""
    found = really(wearers={n: truth(n) for n in range(1, 61)})
    lines = texts(scenes.many(60), scenes.look(), found, chosen=chosen)
    rows = [int(line.split()[0]) for line in lines if line[:4].strip().isdigit()]
    assert chosen in rows
    assert len(rows) == 13
    assert "  + 47 more    Up Down" in lines


def test_the_keys_are_told_again_once_a_wearer_is_chosen(scenes: Any) -> None:
    assert texts(quiet_scene(), scenes.look(), really(), typed="9")[-1] == "wearer 9_"
    last = texts(quiet_scene(), scenes.look(), really(), typed="4", chosen=4)[-1]
    assert last.startswith("number  Enter what to do")


def test_the_table_and_its_digits(scenes: Any) -> None:
    lines = texts(quiet_scene(), scenes.look(), really(), open=True, chosen=4, typed="3")
    told = "\n".join(lines)
    for words in ("11  called", "14  bookmark", "21  ", "31  collapse", "42  receiver pulled"):
        assert words in told
    assert lines[-1].startswith("TWO DIGITS  3_")


def test_ticks_and_messages_are_shown(scenes: Any) -> None:
    lines = texts(
        quiet_scene(), scenes.look(), really(), chosen=4, ticks={4: ("called 14:31:00",)},
        message="TAKEN: note", connected=False,
    )  # fmt: skip
    assert "  done by voice: called 14:31:00" in lines
    assert lines[-2] == "TAKEN: note"
    assert "NO DESK" in lines[0]
