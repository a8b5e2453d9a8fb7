"""The list as lines: heading, wearers, and what folded lines say."""

from dataclasses import replace
from typing import Any

from rich.cells import cell_len

from monitor.board.lines import rows
from monitor.board.words.marks import Role
from monitor.incident.picture import Priority

NONE: frozenset[int] = frozenset()


def texts(lines: Any) -> list[str]:
    return ["".join(text for text, _ in line).rstrip() for line in lines]


def test_heading_and_wearers(scenes: Any) -> None:
    drawn = texts(rows.list_lines(scenes.quiet(), scenes.look(), 19, NONE, by_time=False))
    assert drawn[0].startswith("  STATE         No NAME       AIR bar ")
    assert len(drawn) == 13  # four crews of two


def test_a_folded_crew_says_how_many_and_who_has_least(scenes: Any) -> None:
    drawn = texts(rows.list_lines(scenes.quiet(), scenes.look(), 12, NONE, by_time=False))
    # 207 - 142.1 bar at 0.115 bar a second: 564 s after 14:32:07
    assert drawn[-1] == "  Alpha 4  leader 7  on air 14:14  turn 14:41  2 ok  least 207 bar"


def test_folded_crews_are_counted(scenes: Any) -> None:
    drawn = texts(rows.list_lines(scenes.quiet(), scenes.look(), 3, NONE, by_time=False))
    assert drawn[1:] == [
        "  Alpha 1  leader 1  on air 14:14  turn 14:38  2 ok  least 188 bar",
        "  + 3 quiet crews, 6 wearers, least turn 0 F (No 6)",
    ]


def test_where_no_time_is_told_the_least_is_a_pressure_in_its_own_unit(scenes: Any) -> None:
    """148 bar = 2146.6 psi."""
    one, other = scenes.wearer(1, 148, unit="psi"), scenes.wearer(2, 200)
    one = replace(one, air=replace(one.air, next=None))
    assert rows.least_words((one, other)) == "least 2146 psi (No 1)"


def test_unknown_air_is_said_before_any_least(scenes: Any) -> None:
    wearers = tuple(scenes.wearer(n, None if n == 3 else 200) for n in range(1, 9))
    drawn = texts(rows.list_lines(scenes.picture(wearers), scenes.look(), 3, NONE, by_time=False))
    assert "air unknown: No 3" in drawn[-1]


def test_a_window_too_small_is_an_alarm_of_its_own(scenes: Any) -> None:
    bad = tuple(
        replace(w, state="LOW AIR", priority=Priority.DANGER) for w in scenes.many(30).wearers
    )
    picture = replace(scenes.many(30), wearers=bad)
    line = rows.list_lines(picture, scenes.look(), 10, NONE, by_time=False)[-1]
    assert line[0][1] is Role.DANGER
    assert texts([line]) == ["  WINDOW TOO SMALL: 22 more, 22 not ok, 22 dangers"]


def test_an_empty_board_says_so(scenes: Any) -> None:
    drawn = texts(rows.list_lines(scenes.picture(()), scenes.look(), 9, NONE, by_time=False))
    assert drawn[1] == "  nobody is on the board yet"


def test_least_time_first_counts_wearers(scenes: Any) -> None:
    drawn = texts(rows.list_lines(scenes.many(40), scenes.look(), 6, NONE, by_time=True))
    assert drawn[-1].startswith("  + 36 quiet wearers, least ")


def test_numbers_over_a_thousand_widen_the_column(scenes: Any) -> None:
    picture = scenes.picture((scenes.wearer(1_000),))
    lines = rows.list_lines(picture, scenes.look(), 6, NONE, by_time=False)
    assert {cell_len("".join(text for text, _ in line)) for line in lines} == {80}


def test_a_folded_line_says_who_comes_out(scenes: Any) -> None:
    crowd = scenes.many(40)
    away = dict.fromkeys((1, 2, 38, 39, 40), 18_000_000_000)
    wearers = tuple(replace(w, coming_out_ns=away.get(w.wearer)) for w in crowd.wearers)
    shown = replace(crowd, wearers=wearers)
    drawn = texts(rows.list_lines(shown, scenes.look(), 6, frozenset({3}), by_time=False))
    (rest,) = [line for line in drawn if "quiet crew" in line]
    assert "3 COMING OUT" in rest
