"""One wearer's pressure as a chart: what stands where; places are worked out by hand.

Wearer 4 of the scene connected at 14:14:07 with 295 bar and has been silent from 8 to 11 min; now
is 18 min, the plan ends at 40 min. Frame: 40 min over 0 to 300 bar.
"""

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.cells import cell_len

from monitor.board.lines import air_chart
from monitor.board.lines.air_chart import LINES_MIN, flow, key_line, legend, runs, to_empty
from monitor.board.words.marks import GLYPHS, Role
from monitor.incident.air.detail import Mark

S = 1_000_000_000
WALL_LESS_T = (1_741_962_727 - 1_500) * S
"""The scene's wall clock less its incident time."""


def text_of(line: Any) -> str:
    return "".join(text for text, _ in line)


def drawn(detail: Any, look: Any, lines: int = 14) -> list[str]:
    return [text_of(line) for line in air_chart.air_chart(detail, look, lines, WALL_LESS_T)]


def test_the_pressure_axis(scenes: Any) -> None:
    """Twelve rows for 300 bar are 25 bar a row, so 50 begins with the third from below.

    300 is the upper edge and stands in the uppermost row.
    """
    lines = drawn(scenes.detail(), scenes.look())
    assert [line[:4].strip() for line in lines] == (
        ["300", "250", "", "200", "", "150", "", "100", "", "50", "", "0", "", "bar"]
    )


def test_limits_are_dashed_and_named_at_their_height(scenes: Any) -> None:
    """142.1 bar up is 143, low air 105; of 25 bar a row 142 lies in the 6th row from below."""
    lines = drawn(scenes.detail(), scenes.look())
    assert lines[11 - 5].endswith(" turn-back 143")
    assert lines[11 - 4].rstrip().endswith(" low air 105")
    # Dashed: every other cell, at the left where nothing else is near.
    dashes = lines[11 - 5][4:14]
    assert [sign != " " for sign in dashes] == [True, False] * 5


def test_limits_in_one_row_stand_below_each_other(scenes: Any) -> None:
    close = scenes.detail(limits=(("low air", 105.0), ("turn-back", 110.0)))
    lines = drawn(close, scenes.look())
    assert lines[11 - 4].endswith(" turn-back 110")
    assert lines[11 - 3].rstrip().endswith(" low air 105")


def test_readings_gap_and_forecast_from_left_to_right(scenes: Any) -> None:
    """80 cells less 4 and 14 leave 62 for 40 min: 38.7 s a cell.

    Silent from 480 to 660 s: cells 12 to 17. Now, 1080 s, is in cell 27.
    """
    ascii_look = scenes.look(glyphs=GLYPHS["ascii"])
    lines = [line[4:66] for line in drawn(scenes.detail(), ascii_look)]
    plot = lines[:12]
    assert [{row[cell] for row in plot} & {":"} for cell in (11, 12, 17, 18)] == [
        set(), {":"}, {":"}, set()
    ]  # fmt: skip
    read = [cell for cell in range(62) if any(row[cell] == "*" for row in plot)]
    assert read == [*range(13), *range(17, 28)]
    ahead = [cell for cell in range(62) if any(row[cell] == "~" for row in plot)]
    assert min(ahead) == 28
    assert lines[12][27] == "A"  # the alarm, 34 s ago, in the cell of now
    assert set(lines[12][28:]) == {".", "+"}


def test_letters_stand_on_the_axis_where_they_happened(scenes: Any) -> None:
    """60 s, 600 s and 700 s at 38.7 s a cell: cells 1, 15 and 18."""
    axis = drawn(scenes.detail(), scenes.look())[12][4:]
    assert [axis.index(letter) for letter in "EVI"] == [1, 15, 18]


def test_letters_of_one_moment_stand_beside_each_other(scenes: Any) -> None:
    detail = scenes.detail()
    many = tuple(Mark(detail.start_ns + 60 * S, letter, letter) for letter in "ABC")
    late = tuple(Mark(detail.start_ns + 2_399 * S, letter, letter) for letter in "XY")
    axis = drawn(replace(detail, marks=many + late), scenes.look())[12][4:66]
    assert axis[1:4] == "ABC"
    assert (axis[61], axis[0]) == ("X", "Y")  # no room behind the last: the first that is free


def test_times_of_day_stand_below_their_ticks_and_now_below_now(scenes: Any) -> None:
    """14:20, 14:30, ... are 353 s, 953 s, ... after 14:14:07: cells 9, 24, 40, 55; now is 27."""
    axis, times = (line[4:] for line in drawn(scenes.detail(), scenes.look())[12:])
    assert [cell for cell, sign in enumerate(axis) if sign == "┬"] == [9, 24, 40, 55]
    assert (times.index("14:20"), times.index("14:40"), times.index("14:50")) == (9, 40, 55)
    assert times.index("now") == 27
    assert "14:30" not in times  # now stands there


def test_a_short_wear_is_not_drawn_steep(scenes: Any) -> None:
    detail = scenes.detail()
    young = replace(
        detail, t=detail.start_ns + 60 * S, points=detail.points[:12], gaps=(), fan=(), plan=()
    )
    lines = drawn(replace(young, marks=()), scenes.look(glyphs=GLYPHS["ascii"]))
    # 60 s of 600 s in 62 cells: six of them.
    assert max(line[4:66].rfind("*") for line in lines[:12]) == 5


def test_psi(scenes: Any) -> None:
    """295 bar = 4278.6 psi: up to 4500, 375 a row; 4000 is in the 11th from below.

    142.1 bar = 2060.99 psi.
    """
    lines = drawn(scenes.detail(unit="psi"), scenes.look())
    assert lines[1].startswith("4000 ")
    assert any(line.endswith(" turn-back 2061") for line in lines)
    assert lines[-1].startswith("psi  ")


def test_runs_are_parted_by_gaps(scenes: Any) -> None:
    detail = scenes.detail(
        points=((0, 3.0), (5, 2.9), (40, 2.0), (45, 1.9), (90, 1.0)), gaps=((5, 40), (45, 90))
    )
    assert list(runs(detail)) == [((0, 3.0), (5, 2.9)), ((40, 2.0), (45, 1.9)), ((90, 1.0),)]
    silent = replace(detail, points=((0, 3.0),), gaps=((5, 40),))
    assert list(runs(silent)) == [((0, 3.0),), ()]


def test_a_falling_line_ends_at_nothing() -> None:
    assert to_empty([(0, 2.0), (1, 0.0), (2, 0.0)]) == [(0, 2.0), (1, 0.0)]
    assert to_empty([(0, 2.0)]) == [(0, 2.0)]
    assert to_empty([]) == []


def test_the_legend_says_what_the_letters_are(scenes: Any) -> None:
    lines = [text_of(line) for line in legend(scenes.detail(), scenes.look(), 2, WALL_LESS_T)]
    assert lines == [
        "E 14:15 gone in  V 14:24 204 bar by voice  I 14:25 objective reached at 199 bar",
        "A 14:31 MOTION ALARM",
    ]


def test_a_legend_that_is_too_long_keeps_the_latest_and_counts_the_others(scenes: Any) -> None:
    (line,) = legend(scenes.detail(), scenes.look(), 1, WALL_LESS_T)
    assert text_of(line) == (
        "+ 2 earlier  I 14:25 objective reached at 199 bar  A 14:31 MOTION ALARM"
    )
    assert legend(scenes.detail(marks=()), scenes.look(), 1, WALL_LESS_T) == []
    assert legend(scenes.detail(), scenes.look(20), 1, WALL_LESS_T) == []


def test_the_key_names_what_is_there(scenes: Any) -> None:
    text = text_of(key_line(scenes.detail(), scenes.look(glyphs=GLYPHS["ascii"])))
    assert text == "*** read   .   planned   ~ ~ forecast 10, 50, 90 %   ::: no reading"
    bare = scenes.detail(fan=(), plan=(), gaps=())
    assert text_of(key_line(bare, scenes.look(glyphs=GLYPHS["ascii"]))) == "*** read   "
    assert key_line(scenes.detail(), scenes.look(20)) == ()


def test_flow() -> None:
    assert flow(["aa", "bb", "cc"], 6) == ["aa  bb", "cc"]
    assert flow([], 6) == []


def test_readings_are_strong_and_what_may_be_is_faint(scenes: Any) -> None:
    look = scenes.look(glyphs=GLYPHS["ascii"])
    lines = air_chart.air_chart(scenes.detail(), look, 14, WALL_LESS_T)
    roles: dict[str, set[Role]] = {}
    for line in lines[:12]:
        for text, role in line[1:-1]:
            for sign in text:
                roles.setdefault(sign, set()).add(role)
    assert roles["*"] == {Role.STRONG}
    assert roles["~"] == {Role.ESTIMATE}
    assert roles["."] == roles[":"] == {Role.FAINT}
    assert roles["-"] == {Role.QUIET}


@pytest.mark.parametrize("glyphs", ["unicode", "blocks", "ascii"])
@given(data=st.data())
def test_any_size_has_exactly_its_lines_and_none_is_too_wide(
    scenes: Any, glyphs: str, data: st.DataObject
) -> None:
    width = data.draw(st.integers(1, 200))
    lines = data.draw(st.integers(LINES_MIN, 30))
    limits = data.draw(st.sampled_from([(), (("turn-back", 142.1),), (("x" * 60, 300.0),)]))
    detail = scenes.detail(limits=limits, unit=data.draw(st.sampled_from(["bar", "psi"])))
    look = scenes.look(width, glyphs=GLYPHS[glyphs])
    found = drawn(detail, look, lines)
    assert len(found) == lines
    if width >= 10:
        assert max(cell_len(line) for line in found) <= width
