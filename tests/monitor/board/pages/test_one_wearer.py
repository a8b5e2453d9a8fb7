"""The screen of one wearer: who, the plan, the link with its rule, every figure's rule."""

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from rich.cells import cell_len

from monitor.board.lines.columns import RowContext
from monitor.board.pages import one_wearer
from monitor.board.pages.one_wearer import link_rule, next_sentence, wearer_page
from monitor.board.words.marks import Role
from monitor.incident.air.detail import Rule
from monitor.incident.picture import AirFrom, NextMark, Phase, Priority, Signal

S = 1_000_000_000


def text_of(line: Any) -> str:
    return "".join(text for text, _ in line).rstrip()


def page_of(
    scenes: Any, wearer: Any, lines: int = 30, page: int = 0, width: int = 80, **detail: Any
) -> Any:
    context = RowContext(scenes.picture((wearer, scenes.wearer(3, 188))), scenes.look(width))
    return wearer_page(wearer, scenes.detail(**detail), context, lines, page)


def texts(*args: Any, **kwargs: Any) -> list[str]:
    return [text_of(line) for line in page_of(*args, **kwargs).lines]


def test_who_how_and_what_is_planned_stand_on_top(scenes: Any) -> None:
    """147 bar of 6.8 L; 147 - 142.1 bar at 0.115 bar a second: 42 s to the turn."""
    drawn = texts(scenes, scenes.wearer(4, 147, leader=True))
    assert drawn[:3] == [
        "4 Alpha 2-2  Wearer 4  crew Alpha 2  leader  with No 3 188 bar  pack 4714",
        "ok  for 5 min 0 s  147 bar  read 1 s ago  990 L  47 L/min  mean 51",
        "on air 14:14 at 295 bar, 18 min  turn-back in 0 min (forecast)  turn at 143 bar",
    ]


def test_the_link_with_its_rule_the_pack_and_the_place(scenes: Any) -> None:
    where = {"location": "stairs, floor 2", "location_at_ns": scenes.T - 780 * S}
    drawn = texts(scenes, scenes.wearer(4, 147, pre_alarms=2, frames_late=1, **where))
    assert drawn[3:5] == [
        "signal: silent 1 s, limit 46 s  frames 290 taken, 10 lost (4 %), 1 late  -71 dBm",
        "motion moving  2 pre-alarms  battery 80 %  last place stairs, floor 2 (14:19)",
    ]


@pytest.mark.parametrize(
    ("silence", "limit", "pack", "words"),
    [
        (46_400_000_000, 45 * S, 4714, "silent 47 s, limit 45 s"),  # gone by: up
        (46 * S, 45_900_000_000, 4714, "silent 46 s, limit 45 s"),  # what is allowed: down
        (3 * S, None, 4714, "silent 3 s"),
        (None, 45 * S, 4714, "never heard"),
        (None, None, None, ""),
    ],
)
def test_the_link_rule(
    scenes: Any, silence: int | None, limit: int | None, pack: int | None, words: str
) -> None:
    wearer = scenes.wearer(4, silence_ns=silence, silence_limit_ns=limit, pack=pack)
    assert link_rule(wearer) == words


def test_a_wearer_without_telemetry_by_voice(scenes: Any) -> None:
    spoken = scenes.wearer(
        4,
        air=scenes.air(140, AirFrom.VOICE, 130),
        signal=Signal.BY_VOICE,
        silence_ns=500 * S,
    )
    assert "by voice: silent 9 min, limit 46 s  by voice 3 min ago" in texts(scenes, spoken)[3]
    bare = scenes.wearer(4, pack=None, signal=Signal.NONE, silence_ns=None, battery_percent=None)
    drawn = texts(scenes, replace(bare, motion="", frames_taken=0, frames_lost=0))
    assert "no pack" in drawn[0]
    assert drawn[3] == "no telemetry  no place told"


def test_an_estimate_looks_like_one(scenes: Any) -> None:
    """201.9 - 142.1 bar at 0.115 bar a second: 520 s."""
    lost = scenes.wearer(
        4,
        state="NO SIGNAL",
        priority=Priority.CAUTION,
        air=scenes.air(201.9, AirFrom.ESTIMATE, 72),
        signal=Signal.LOST,
        silence_ns=72 * S,
    )
    page = page_of(scenes, lost)
    assert ("? NO SIGNAL", Role.CAUTION_LOST) in page.lines[1]
    assert ("~201 bar", Role.ESTIMATE) in page.lines[1]
    assert ("turn-back in ~8 min (forecast)", Role.ESTIMATE) in page.lines[2]


def test_what_is_not_known_is_said(scenes: Any) -> None:
    unknown = scenes.wearer(4, None, crew="", location="")
    drawn = texts(scenes, unknown)
    assert "air unknown" in drawn[1]
    assert "no crew" in drawn[0]


def test_mates_not_under_air_are_not_with_anybody(scenes: Any) -> None:
    wearer = scenes.wearer(4)
    mates = (
        scenes.wearer(3, under_air=False),
        scenes.wearer(5, None, crew="Alpha 2"),
        scenes.wearer(6, 100, crew="Alpha 2", unit="psi"),
    )
    context = RowContext(scenes.picture((wearer, *mates)), scenes.look(120))
    top = text_of(wearer_page(wearer, None, context, 10, 0).lines[0])
    assert "with No 5 ?, No 6 1450 psi" in top


def test_how_far_they_are(scenes: Any) -> None:
    there = scenes.wearer(4, objective_ns=130 * S)
    assert "at the objective for 2 min 10 s" in " ".join(texts(scenes, there)[2:5])
    back = replace(there, back_ns=70 * S)
    assert "going back for 1 min 10 s" in " ".join(texts(scenes, back)[2:5])
    fed = replace(there, augmented=True)
    assert "on another supply: no forecast" in " ".join(texts(scenes, fed)[2:5])
    off = scenes.wearer(4, wear_ns=None, phase=Phase.OFF_AIR, air=scenes.air(None))
    off = replace(off, air=replace(off.air, turn_bar=None))
    context = RowContext(scenes.picture((off,)), scenes.look())
    assert text_of(wearer_page(off, None, context, 20, 0).lines[2]) == "not on air"


@pytest.mark.parametrize(
    ("mark", "words"),
    [
        (NextMark("turn", 419, "F"), "turn-back in 6 min (forecast)"),
        (NextMark("low", 59, "R"), "low air in 0 min (plan, real gas)"),
        (NextMark("turn", -61, "T"), "turn-back 2 min ago (table)"),
        (NextMark("empty", -9_000, "F"), "empty 3 h ago (forecast)"),
    ],
)
def test_the_next_mark_in_words(mark: NextMark, words: str) -> None:
    assert next_sentence(mark) == words


def test_every_rule_is_said_whole_and_long_ones_go_on_below_their_words(scenes: Any) -> None:
    told = (
        Rule("turn-back", "143 bar", "double air for the way back; No 3 has the least margin"),
        Rule("to the low-air warning", "12 min", "at the earliest, by forecast " + "word " * 12),
    )
    drawn = [text_of(line) for line in one_wearer.rules(told, scenes.look())]
    assert drawn[0] == (
        "turn-back               143 bar  double air for the way back; No 3 has the least"
    )
    assert drawn[1] == " " * 33 + "margin"
    assert " ".join(" ".join(drawn).split()).count("word") == 12
    assert max(len(line) for line in drawn) <= 80


def test_where_columns_would_cost_much_the_words_close_up(scenes: Any) -> None:
    """27 for the label, 14 for the figure and 2 blanks twice leave 35 of 80."""
    told = (
        Rule("planned to low-air warning", "26 min table", "22 min by real gas, at 50 L/min"),
        Rule("turn-back", "203 bar", "half of the usable air; Alpha 3-2 has the least margin"),
        Rule("to turn-back", "4 min", "at the earliest, by breathing; as likely as not 8 min"),
        Rule("to empty", "19 min", "at the earliest, by breathing; as likely as not 31 min"),
    )
    drawn = [text_of(line) for line in one_wearer.rules(told, scenes.look())]
    assert drawn == [
        "planned to low-air warning  26 min table  22 min by real gas, at 50 L/min",
        "turn-back  203 bar  half of the usable air; Alpha 3-2 has the least margin",
        "to turn-back  4 min  at the earliest, by breathing; as likely as not 8 min",
        "to empty  19 min  at the earliest, by breathing; as likely as not 31 min",
    ]
    long = Rule("contents", "1727 L", "word " * 20)
    narrow = [text_of(line) for line in one_wearer.rules((*told, long), scenes.look())]
    # 80 - 18 cells hold twelve words of five, but for the last blank.
    assert narrow[5] == "    " + "word " * 7 + "word"


def test_all_of_it_stands_on_one_page_where_it_fits(scenes: Any) -> None:
    page = page_of(scenes, scenes.wearer(4, 147), lines=34, width=120)
    drawn = [text_of(line) for line in page.lines]
    assert not page.more
    assert len(drawn) == 34
    assert any("turn-back 143" in line for line in drawn)
    assert any(line.startswith("real gas") for line in drawn)
    assert any("no reading" in line for line in drawn)


def test_else_the_chart_has_the_first_page_and_the_rules_the_next(scenes: Any) -> None:
    page = page_of(scenes, scenes.wearer(4, 147), lines=16)
    drawn = [text_of(line) for line in page.lines]
    assert page.more
    assert drawn[-1] == "  d: 8 more lines of figures and their rules"
    assert any("low air 105" in line for line in drawn)
    later = page_of(scenes, scenes.wearer(4, 147), lines=16, page=1)
    drawn = [text_of(line) for line in later.lines]
    assert not later.more
    assert drawn[0].startswith("4 Alpha 2-2")
    assert drawn[2].startswith("turn-back")
    assert [line for line in drawn if line][-1].startswith("real gas")
    assert later == page_of(scenes, scenes.wearer(4, 147), lines=16, page=7)


def test_a_window_too_low_for_a_chart_has_the_rules_all_the_same(scenes: Any) -> None:
    wearer = scenes.wearer(4, 147)
    drawn: list[str] = []
    page = 0
    while True:
        found = page_of(scenes, wearer, lines=9, page=page)
        drawn += [text_of(line) for line in found.lines[2:]]
        if not found.more:
            break
        page += 1
    for rule in scenes.detail().rules:
        assert any(line.startswith(rule.label) for line in drawn)


def test_off_air_there_is_no_chart(scenes: Any) -> None:
    wearer = scenes.wearer(4, 147)
    context = RowContext(scenes.picture((wearer,)), scenes.look())
    page = wearer_page(wearer, None, context, 12, 0)
    assert not page.more
    assert [text_of(line) for line in page.lines[5:]] == [""] * 7


@settings(deadline=None)
@given(
    width=st.integers(80, 160),
    lines=st.integers(0, 45),
    page=st.integers(0, 3),
    unit=st.sampled_from(["bar", "psi"]),
    place=st.sampled_from(["", "stairs, floor 2", "x" * 300]),
)
def test_exactly_its_lines_and_none_too_wide(
    scenes: Any, width: int, lines: int, page: int, unit: str, place: str
) -> None:
    wearer = scenes.wearer(4, 147, unit=unit, location=place, objective_ns=5 * S, pre_alarms=3)
    found = page_of(scenes, wearer, lines, page, width, unit=unit)
    assert len(found.lines) == lines
    assert all(cell_len(text_of(line)) <= width for line in found.lines)
