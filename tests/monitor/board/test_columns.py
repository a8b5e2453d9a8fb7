"""A wearer's line: what each cell says, and that old data never looks live."""

from dataclasses import replace
from typing import Any

import pytest
from rich.cells import cell_len

from monitor.board import columns
from monitor.board.columns import COLUMNS, RowContext, layout, wearer_line
from monitor.board.marks import Line, Role
from monitor.incident.alarms.catalogue import CATALOGUE, row_word
from monitor.incident.picture import AirFrom, Phase, Priority, Signal
from monitor.incident.wording import CREW_ALARM, quiet_state


def text_of(line: Line) -> str:
    return "".join(text for text, _ in line)


def roles_of(line: Line, part: str) -> set[Role]:
    return {role for text, role in line if part in text}


def drawn(scenes: Any, wearer: Any, width: int = 80, **look: Any) -> Line:
    picture = scenes.picture((wearer,))
    return wearer_line(wearer, RowContext(picture, scenes.look(width, **look)))


def test_a_quiet_line(scenes: Any) -> None:
    line = drawn(scenes, scenes.wearer(1, 188))
    expected = "  ok               1 Alpha 1-1         ######....  188  1270      1 s  5 min 0 s"
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
    assert line[0] == ("■ MOTION ALARM  ", Role.DANGER)


def test_a_new_alarm_blinks_its_sign_only(scenes: Any) -> None:
    new = scenes.wearer(4, 147, state="LOW AIR", priority=Priority.DANGER, acknowledged=False)
    assert drawn(scenes, new, blink_on=False)[0] == ("  LOW AIR       ", Role.DANGER)
    taken = replace(new, acknowledged=True)
    assert drawn(scenes, taken, blink_on=False)[0] == ("■ LOW AIR       ", Role.DANGER)


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
    assert "~######.... ~201" in text_of(line)
    assert "72 s" in text_of(line)
    assert roles_of(line, "201") == {Role.ESTIMATE}
    assert roles_of(line, "#") == {Role.ESTIMATE}
    assert line[0] == ("? NO SIGNAL     ", Role.CAUTION_LOST)


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
    assert "v####...... v140" in text_of(drawn(scenes, spoken))
    assert "v 3 min" in text_of(drawn(scenes, spoken))


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
        (Signal.NOT_PROVEN, "unproven"),
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
    picture = scenes.picture((scenes.wearer(1, 100),), pressure_unit="psi")
    line = wearer_line(picture.wearers[0], RowContext(picture, scenes.look()))
    assert " 1450 " in text_of(line)
    assert " psi" in text_of(columns.heading(scenes.look(), "psi"))


def test_the_chosen_wearer_is_marked(scenes: Any) -> None:
    picture = scenes.quiet()
    line = wearer_line(picture.wearers[2], RowContext(picture, scenes.look(), frozenset({3})))
    assert roles_of(line, "Alpha 2-1") == {Role.SELECTED}


def test_a_long_name_ends_in_the_cut_sign(scenes: Any) -> None:
    line = text_of(drawn(scenes, scenes.wearer(1, call_sign="A very long call sign")))
    assert "A very long cal…" in line


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
    place = text_of(columns.heading(scenes.look(120), "bar")).index("LOSS") - 1
    assert text_of(drawn(scenes, wearer, 120))[place : place + 5].strip() == words
    assert "LOSS" not in text_of(columns.heading(scenes.look(119), "bar"))
    assert "%" not in text_of(drawn(scenes, wearer, 119))


def test_numbers_of_five_digits_fit(scenes: Any) -> None:
    wearer = scenes.wearer(10_000)
    line = wearer_line(
        wearer, RowContext(scenes.picture((wearer,)), scenes.look()), wide_numbers=True
    )
    assert "10000" in text_of(line)
    assert cell_len(text_of(line)) == 80


def test_text_from_a_person_cannot_move_the_cursor(scenes: Any) -> None:
    assert "\x1b" not in text_of(drawn(scenes, scenes.wearer(1, call_sign="A\x1b[2J")))


def test_headings_stand_over_their_columns(scenes: Any) -> None:
    heading = text_of(columns.heading(scenes.look(), "bar"))
    line = text_of(drawn(scenes, scenes.wearer(1, 188)))
    assert len(heading) == len(line) == 80
    assert heading.index("bar") == line.index("188")
    assert len([c for c in COLUMNS if c.from_width <= 80]) == 8
