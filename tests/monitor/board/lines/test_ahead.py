"""The next half hour, a line a crew. It is 14:32:07; 80 columns have 64 for 30 min."""

from dataclasses import replace
from typing import Any

from rich.cells import cell_len

from monitor.board.lines.ahead import Axis, ahead_lines
from monitor.board.words.marks import ASCII, Role
from monitor.incident.picture import NextMark, ReliefView

S = 1_000_000_000


def texts(lines: Any) -> list[str]:
    return ["".join(text for text, _ in line) for line in lines]


def ahead(wearer: Any, turn: int, low: int, empty: int) -> Any:
    later = (NextMark("low", low, "F"), NextMark("empty", empty, "F"))
    return replace(wearer, air=replace(wearer.air, next=NextMark("turn", turn, "F"), ahead=later))


def scene(scenes: Any) -> Any:
    """Crew 1 turns at 900 s, is warned at 1,350 s, empty at 1,700 s; crew 2 is past its turn."""
    one = [ahead(scenes.wearer(n), t, 1_350, 1_700) for n, t in ((1, 900), (2, 1_000))]
    two = [ahead(scenes.wearer(n), -30, 450, 2_000) for n in (3, 4)]
    return scenes.picture((*one, *two))


def test_an_instant_stands_at_its_share_of_the_axis_rounded_down() -> None:
    axis = Axis(64)
    assert [axis.at(s) for s in (-30, 0, 28, 29, 900, 1_799)] == [0, 0, 0, 1, 32, 63]


def test_letters_stand_at_the_earliest_of_each_mark(scenes: Any) -> None:
    """900 s of 1,800: cell 32 of 64; 1,350: 48; 1,700: 60."""
    blank, heading, one, two = texts(ahead_lines(scene(scenes), scenes.look(), 8))
    assert blank == ""
    assert heading.startswith("  AHEAD         14:32")
    assert one[16:] == "·" * 32 + "T" + "░" * 15 + "W" + "▒" * 11 + "E" + " " * 3
    assert two[16:].startswith("T"), "what is past stands at the left edge"
    assert two.index("W") == 16 + 16


def test_what_is_late_stands_out(scenes: Any) -> None:
    lines = ahead_lines(scene(scenes), scenes.look(), 8)
    assert [line[0][1] for line in lines[2:]] == [Role.TEXT, Role.STRONG]


def test_it_is_read_without_colour_and_in_ascii(scenes: Any) -> None:
    look = replace(scenes.look(), glyphs=ASCII)
    drawn = texts(ahead_lines(scene(scenes), look, 8))
    assert all(line.isascii() for line in drawn)
    assert "T:::" in drawn[2]
    assert "W+++" in drawn[2]


def test_every_line_fits(scenes: Any) -> None:
    for width in (40, 80, 120, 200):
        for line in texts(ahead_lines(scene(scenes), scenes.look(width), 8))[1:]:
            assert cell_len(line) == width


def test_without_room_it_is_not_there(scenes: Any) -> None:
    for room in (-1, 0, 2):
        assert ahead_lines(scene(scenes), scenes.look(), room) == []
    assert ahead_lines(scenes.picture(()), scenes.look(), 9) == []
    assert ahead_lines(scene(scenes), scenes.look(30), 9) == []


def test_where_one_line_is_left_it_is_that_of_who_comes_to_a_mark_first(scenes: Any) -> None:
    drawn = texts(ahead_lines(scene(scenes), scenes.look(), 3))
    assert len(drawn) == 3
    assert drawn[1].startswith("  AHEAD 1 of 2")
    assert "Alpha 2" in drawn[2]


def test_whose_time_nobody_tells_is_marked_and_never_left_out(scenes: Any) -> None:
    dark = replace(scenes.wearer(5), air=replace(scenes.wearer(5).air, next=None))
    half = replace(scenes.wearer(2), air=dark.air)
    picture = scenes.picture((*scene(scenes).wearers[:1], half, dark))
    drawn = texts(ahead_lines(picture, scenes.look(), 8))
    assert drawn[2].startswith("? Alpha 1")
    assert drawn[3].startswith("? Alpha 3       no times known")


def test_what_falls_due_by_the_clock_has_a_line(scenes: Any) -> None:
    relief = ReliefView("Alpha 1", "Alpha 4", 900 * S)
    picture = replace(scene(scenes), reliefs=(relief,), roll_call_in_ns=-5 * S)
    due = texts(ahead_lines(picture, scenes.look(), 9))[-1]
    assert due[16:].startswith("R roll call")
    assert due.index("r relief Alpha 1") == 16 + 32
    later = replace(picture, reliefs=(), roll_call_in_ns=1_900 * S)
    assert not any("due" in line for line in texts(ahead_lines(later, scenes.look(), 9)))
