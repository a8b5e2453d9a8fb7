"""A wearer's line: what each cell says, and that old data never looks live."""

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.cells import cell_len

from monitor.board.lines import columns
from monitor.board.lines.columns import RowContext, fit_of, layout, wearer_line
from monitor.board.words import wording
from monitor.board.words.marks import Line, Role
from monitor.incident.alarms.catalogue import CATALOGUE, row_word
from monitor.incident.picture import AirFrom, NextMark, Phase, Priority, Signal
from monitor.incident.wording import CREW_ALARM, quiet_state

S = 1_000_000_000


def text_of(line: Line) -> str:
    return "".join(text for text, _ in line)


def roles_of(line: Line, part: str) -> set[Role]:
    return {role for text, role in line if part in text}


def drawn(scenes: Any, wearer: Any, width: int = 80, **look: Any) -> Line:
    picture = scenes.picture((wearer,))
    return wearer_line(wearer, RowContext(picture, scenes.look(width, **look)))


def test_a_quiet_line(scenes: Any) -> None:
    line = drawn(scenes, scenes.wearer(1, 188))
    # 188 - 142.1 bar at 0.115 bar a second: 399 s; 142.1 bar and 46.2 L/min up
    expected = "  ok             1 Alpha 1-1  ######....  188   47 turn 6 F   143     1 s  5 min"
    assert text_of(line) == expected
    assert {role for _, role in line} == {Role.QUIET, Role.STRONG}


@pytest.mark.parametrize("width", [80, 100, 110, 120, 132, 200])
def test_a_line_is_as_wide_as_the_screen(scenes: Any, width: int) -> None:
    line = drawn(
        scenes, scenes.wearer(3, 147, state="MOTION ALARM", priority=Priority.DANGER), width
    )
    assert cell_len(text_of(line)) == width


def test_a_danger_is_a_block_with_a_word_and_a_sign(scenes: Any) -> None:
    line = drawn(scenes, scenes.wearer(4, 147, state="MOTION ALARM", priority=Priority.DANGER))
    assert line[0] == ("■ MOTION ALARM ", Role.DANGER)


def test_a_new_alarm_blinks_its_sign_only(scenes: Any) -> None:
    new = scenes.wearer(4, 147, state="LOW AIR", priority=Priority.DANGER, acknowledged=False)
    assert drawn(scenes, new, blink_on=False)[0] == ("  LOW AIR      ", Role.DANGER)
    taken = replace(new, acknowledged=True)
    assert drawn(scenes, taken, blink_on=False)[0] == ("■ LOW AIR      ", Role.DANGER)


def test_an_estimate_never_looks_like_a_reading(scenes: Any) -> None:
    lost = scenes.wearer(
        6,
        state="NO SIGNAL",
        priority=Priority.CAUTION,
        air=scenes.air(201.9, AirFrom.ESTIMATE, 72),
        signal=Signal.LOST,
        silence_ns=72 * scenes.S,
    )
    line = drawn(scenes, lost)
    # 201.9 - 142.1 bar at 0.115 bar a second: 519 s
    assert "######.... ~201   47 turn ~8 F" in text_of(line)
    assert "72 s" in text_of(line)
    assert roles_of(line, "201") == roles_of(line, "~8") == {Role.ESTIMATE}
    assert roles_of(line, "#") == {Role.ESTIMATE}
    assert line[0] == ("? NO SIGNAL    ", Role.CAUTION_LOST)


def test_a_reading_goes_faint_once_its_pack_is_not_heard(scenes: Any) -> None:
    gap = scenes.wearer(2, 195, state="signal gap", signal=Signal.GAP, silence_ns=20 * scenes.S)
    line = drawn(scenes, gap)
    assert roles_of(line, "195") == {Role.ESTIMATE}
    assert line[0][0].startswith("? signal gap")


def test_a_spoken_reading_is_marked_and_shows_its_own_age(scenes: Any) -> None:
    spoken = scenes.wearer(
        2,
        air=scenes.air(140, AirFrom.VOICE, 130),
        signal=Signal.BY_VOICE,
        silence_ns=500 * scenes.S,
    )
    assert "####...... v140" in text_of(drawn(scenes, spoken))
    assert "v3 min" in text_of(drawn(scenes, spoken))


def test_who_has_no_pack_and_has_spoken_was_not_never_heard(scenes: Any) -> None:
    """What was said has aged into an estimate: its age goes on, marked as said."""
    aged = scenes.wearer(
        2, air=scenes.air(140, AirFrom.ESTIMATE, 250), signal=Signal.BY_VOICE, silence_ns=None
    )
    assert columns.signal_words(aged, scenes.look()) == "v5 min"
    untold = scenes.wearer(2, None, signal=Signal.BY_VOICE, silence_ns=None)
    assert columns.signal_words(untold, scenes.look()) == "none"


def test_unknown_air_is_said(scenes: Any) -> None:
    line = text_of(drawn(scenes, scenes.wearer(2, None, signal=Signal.NONE, silence_ns=None)))
    assert "unknown" in line
    assert "?" in line
    assert "none" in line


@pytest.mark.parametrize(
    ("signal", "words"),
    [
        (Signal.NONE, "none"),
        (Signal.NEVER, "never"),
        (Signal.NOT_PROVEN, "unsure"),
        (Signal.SIGNED_OFF, "off"),
        (Signal.HEARD, "2 s"),
        (Signal.GAP, "2 s"),
        (Signal.LOST, "2 s"),
    ],
)
def test_the_signal_column(scenes: Any, signal: Signal, words: str) -> None:
    wearer = scenes.wearer(1, signal=signal, silence_ns=2 * scenes.S)
    assert columns.signal_words(wearer, scenes.look()) == words


def test_every_state_word_fits_its_column(scenes: Any) -> None:
    width = next(w for c, w in layout(80) if c.heading == "  STATE")
    words = [row_word(kind, p) for kind in CATALOGUE for p in Priority]
    words += [quiet_state(phase, signal) for phase in Phase for signal in Signal] + [CREW_ALARM]
    assert max(len(word) for word in words) + 2 <= width


def test_psi_is_shown_in_psi(scenes: Any) -> None:
    """100 bar = 1450.4 psi, left: down. 142.1 bar = 2060.99 psi, where to turn: up."""
    picture = scenes.picture((scenes.wearer(1, 100, unit="psi"),))
    fitted = fit_of(picture)
    line = wearer_line(picture.wearers[0], RowContext(picture, scenes.look()), fitted)
    assert " 1450 " in text_of(line)
    assert " 2061 " in text_of(line)
    assert " AIR psi" in text_of(columns.heading(scenes.look(), fitted))


def test_where_gauges_differ_each_figure_has_its_unit(scenes: Any) -> None:
    bar = scenes.wearer(1, 188)
    psi = scenes.wearer(2, unit="psi", air=scenes.air(300, AirFrom.ESTIMATE), signal=Signal.LOST)
    picture = scenes.picture((bar, psi))
    for width in (80, 110, 140):
        context, fitted = RowContext(picture, scenes.look(width)), fit_of(picture)
        texts = [text_of(wearer_line(w, context, fitted)) for w in picture.wearers]
        assert " 188bar " in texts[0]
        assert " ~4351psi " in texts[1]  # 300 bar = 4351.1 psi
        assert {cell_len(text) for text in texts} == {width}
        heading = text_of(columns.heading(context.look, fitted))
        assert ("L/min" in heading) is (width > 80)
        assert "AIR bar" not in heading


def test_the_chosen_wearer_is_marked(scenes: Any) -> None:
    picture = scenes.quiet()
    line = wearer_line(picture.wearers[2], RowContext(picture, scenes.look(), frozenset({3})))
    assert roles_of(line, "Alpha 2-1") == {Role.SELECTED}


def test_a_long_name_ends_in_the_cut_sign(scenes: Any) -> None:
    line = text_of(drawn(scenes, scenes.wearer(1, call_sign="A very long call sign")))
    assert "A very lo…" in line


def test_a_wide_screen_adds_columns_not_facts_of_its_own(scenes: Any) -> None:
    wearer = scenes.wearer(1, location="floor 2", location_at_ns=scenes.T - 60 * scenes.S)
    wide = text_of(drawn(scenes, wearer, 120))
    assert "18 min" in wide
    assert "floor 2" in wide
    assert "floor 2 (14:31)" in text_of(drawn(scenes, wearer, 140))
    assert "floor 2" not in text_of(drawn(scenes, wearer, 80))


@pytest.mark.parametrize(
    ("taken", "lost", "words"),
    [
        (0, 0, ""),
        (100, 0, "0 %"),
        (999, 1, "1 %"),  # 0.1: the worse case
        (100, 50, "34 %"),  # 33.3
        (0, 7, "100 %"),
    ],
)
def test_loss_from_120_columns_on_rounded_up(
    scenes: Any, taken: int, lost: int, words: str
) -> None:
    wearer = scenes.wearer(1, frames_taken=taken, frames_lost=lost)
    place = text_of(columns.heading(scenes.look(120))).index("LOSS") - 1
    assert text_of(drawn(scenes, wearer, 120))[place : place + 5].strip() == words
    assert "LOSS" not in text_of(columns.heading(scenes.look(119)))
    assert "%" not in text_of(drawn(scenes, wearer, 119))


def test_numbers_of_five_digits_fit(scenes: Any) -> None:
    wearer = scenes.wearer(10_000)
    picture = scenes.picture((wearer,))
    line = wearer_line(wearer, RowContext(picture, scenes.look()), fit_of(picture))
    assert " 10000 " in text_of(line)
    assert cell_len(text_of(line)) == 80


def test_text_from_a_person_cannot_move_the_cursor(scenes: Any) -> None:
    assert "\x1b" not in text_of(drawn(scenes, scenes.wearer(1, call_sign="A\x1b[2J")))


def test_headings_stand_over_their_columns(scenes: Any) -> None:
    heading = text_of(columns.heading(scenes.look()))
    line = text_of(drawn(scenes, scenes.wearer(1, 188)))
    assert len(heading) == len(line) == 80
    assert heading.split() == (
        ["STATE", "No", "NAME", "AIR", "bar", "L/min", "NEXT", "TURN", "AT", "SIGNAL", "FOR"]
    )
    for word, cell in (("AIR", "####"), ("NEXT", "turn")):
        assert heading.index(word) == line.index(cell)
    for word, cell in (("L/min", " 47"), ("TURN AT", " 143"), ("SIGNAL", " 1 s")):
        assert heading.index(word) + len(word) == line.index(cell) + len(cell)
    assert " L " in text_of(columns.heading(scenes.look(140)))


@pytest.mark.parametrize(
    ("l_min", "about", "shown"),
    [
        (714, True, "~714"),
        (999, True, "~999"),
        (1171, False, "1171"),
        (1171, True, ">999"),
        (12_000, False, ">999"),
    ],
)
def test_a_rate_is_never_cut_into_another(
    scenes: Any, l_min: float, about: bool, shown: str
) -> None:
    """1171 L/min must not read 11 and a cut sign: that is somebody at rest."""
    one = scenes.wearer(1, 188)
    fast = replace(one, air=replace(one.air, rate_about=about, rate_l_min=l_min))
    assert f" {shown} " in text_of(drawn(scenes, fast))


@given(
    rate=st.floats(0, 1e6),
    turn=st.floats(0, 1e6),
    seconds=st.integers(-(10**9), 10**9),
    by=st.sampled_from(["F", "R", "T"]),
    estimate=st.booleans(),
)
def test_no_figure_is_ever_cut(
    scenes: Any, rate: float, turn: float, seconds: int, by: Any, estimate: bool
) -> None:
    """Whatever stands in a cell of figures is the whole figure, a bound, or no figure at all."""
    one = scenes.wearer(1, 188)
    mark = NextMark("turn", seconds, by, estimate)
    air = replace(one.air, rate_l_min=rate, turn_bar=turn, next=mark, rate_about=estimate)
    wearer = replace(one, air=air)
    context = RowContext(scenes.picture((wearer,)), scenes.look(80))
    cells = {column.heading: text for column, text in cells_of(wearer, context)}
    assert cells["L/min"].strip("~") in {wording.rate(rate), ">999"}
    assert cells["TURN AT"] in {wording.turn_pressure(turn), "…" * 5}
    left = wording.until(seconds)
    assert cells["NEXT"].removeprefix("turn").strip(" ~FRT") in {left, ">999"}


def cells_of(wearer: Any, context: RowContext) -> list[tuple[columns.Column, str]]:
    """What stands in each column at 80 columns."""
    line = wearer_line(wearer, context)
    texts = text_of(line)
    found, at = [], 0
    for column, width in layout(80):
        found.append((column, texts[at : at + width].strip()))
        at += width + column.gap
    return found


def test_the_rate_is_about_until_three_minutes_are_behind_it(scenes: Any) -> None:
    one = scenes.wearer(1)
    early = replace(one, air=replace(one.air, rate_about=True, rate_l_min=99.1))
    assert " ~100 turn" in text_of(drawn(scenes, early))  # 99.1 up
    none = replace(one, air=replace(one.air, rate_l_min=None))
    assert "  200      turn" in text_of(drawn(scenes, none))


@pytest.mark.parametrize(
    ("target", "seconds", "by", "estimate", "words"),
    [
        ("turn", 6 * 60 + 59, "F", False, "turn 6 F"),
        ("turn", 59, "R", False, "turn 0 R"),
        ("turn", -1, "F", False, "turn +1 F"),  # never "now", and no second time 0
        ("turn", -61, "F", False, "turn +2 F"),
        ("low", 10 * 60, "T", False, "low 10 T"),
        ("empty", 5 * 60, "F", False, "empty 5 F"),
        ("turn", 6 * 60, "F", True, "turn ~6 F"),
        ("empty", 13 * 60, "F", True, "empty~13F"),
    ],
)
def test_the_next_mark(
    scenes: Any, target: Any, seconds: int, by: Any, estimate: bool, words: str
) -> None:
    one = scenes.wearer(1)
    one = replace(one, air=replace(one.air, next=NextMark(target, seconds, by, estimate)))
    assert columns.next_words(one, scenes.look(), columns.NEXT_CELLS) == words
    assert f" {words} " in text_of(drawn(scenes, one))
    overdue = roles_of(drawn(scenes, one), "+")
    assert overdue == ({Role.STRONG} if seconds < 0 else set())


@given(seconds=st.integers(-90_000, 90_000), target=st.sampled_from(["turn", "low", "empty"]))
def test_every_next_mark_fits_its_column(seconds: int, target: Any) -> None:
    mark = NextMark(target, seconds, "T", estimate=True)
    assert len(wording.next_mark(mark, columns.NEXT_CELLS, "~")) <= columns.NEXT_CELLS


def test_why_there_is_no_next_mark(scenes: Any) -> None:
    look, cells = scenes.look(), columns.NEXT_CELLS
    one = scenes.wearer(1)
    one = replace(one, air=replace(one.air, next=None))
    assert columns.next_words(one, look, cells) == "?"
    assert columns.next_words(replace(one, augmented=True), look, cells) == "augmented"
    assert columns.next_words(replace(one, apparatus="airline"), look, cells) == "no times"
    assert columns.next_words(replace(one, under_air=False), look, cells) == ""


# ---------------------------------------------------------------- out, in


@pytest.mark.parametrize(
    ("changes", "start"),
    [
        ({}, "  ok             5 Alpha 3-1"),
        ({"coming_out_ns": 18 * S}, "  COMING OUT   < 5 Alpha 3-1"),
        ({"committed": True}, "  COMMITTED    + 5 Alpha 3-1"),
        (
            {"coming_out_ns": 18 * S, "state": "LOW AIR", "priority": Priority.DANGER},
            "■ LOW AIR      < 5 Alpha 3-1",
        ),
        (
            {"committed": True, "state": "crew alarm", "crew_alarm": True},
            "  crew alarm   + 5 Alpha 3-1",
        ),
    ],
)
def test_who_comes_out_and_who_is_committed(
    scenes: Any, changes: dict[str, Any], start: str
) -> None:
    line = text_of(drawn(scenes, scenes.wearer(5, 200, **changes)))
    assert line.startswith(start)
    assert line.endswith(" 18 s" if "COMING OUT" in start else " 5 min")
