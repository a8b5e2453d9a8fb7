"""The table of things to do keeps its own rules, and one row is enough for a new one."""

from dataclasses import replace
from typing import Any

import pytest

from monitor.board.acts.effects import Move, Say, WriteAct, act_of
from monitor.board.acts.questions import Mode
from monitor.board.keys.hands import Hands
from monitor.board.keys.sheet_hands import Aids
from monitor.board.keys.table import BY_NAME, KEYS, TABLE, THINGS, Key, help_texts, table_of
from monitor.board.pages.more_page import find_page, more_page
from monitor.board.plain.sheets import open_sheet
from monitor.board.sheets.common import Context, Sheet, act
from monitor.board.sheets.forms import Answers, Field, Filling, Form

S = 1_000_000_000


def test_no_key_means_two_things() -> None:
    names = [name for key in KEYS for name in key.names]
    assert len(names) == len(set(names)) == len(BY_NAME)


def test_no_chord_no_function_key_no_y_or_z_no_shift() -> None:
    ways_out = {"ctrl+c", "ctrl+q", "ctrl+z"}
    for key in KEYS:
        for name in set(key.names) - ways_out:
            assert "+" not in name
            assert name not in {"y", "z"}
            assert not (name.startswith("f") and name[1:].isdigit())
            assert name == name.lower()


def test_every_way_out_asks() -> None:
    assert {BY_NAME[name].does for name in ("q", "ctrl+c", "ctrl+q", "ctrl+z")} == {"quit"}


def test_help_names_every_key_and_fits_half_a_line() -> None:
    assert len(help_texts()) == len(KEYS)
    assert max(len(words) for _, words in help_texts()) <= 28


# ---------------------------------------------------------------- by letters


@pytest.mark.parametrize(
    ("letters", "code"),
    [("mayd", "31"), ("relief", "24"), ("filled", "43"), ("distr", "31"), ("bottle", "42")],
)
def test_letters_find_what_people_call_a_thing(letters: str, code: str) -> None:
    assert TABLE.found(letters)[0].code == code


def test_what_has_a_key_is_found_too_and_says_which() -> None:
    assert [thing.shown for thing in TABLE.found("evac")] == ["f"]


def test_every_word_of_every_row_finds_it() -> None:
    for thing in TABLE.entries:
        assert thing in TABLE.found(thing.words.split()[-1].casefold())


def pressed(hands: Hands, picture: Any, *keys: str, at_s: float = 10.0) -> Any:
    effect = None
    for place, name in enumerate(keys):
        at_ns = round((at_s + place) * S)
        effect = hands.press(name, at_ns, picture, name if len(name) == 1 else None)
    return effect


def test_enter_twice_and_letters_open_a_sheet(scenes: Any) -> None:
    hands = Hands()
    pressed(hands, scenes.quiet(), "3", "enter", "enter", *"mayd", "enter")
    assert hands.filling is not None
    assert hands.filling.form.name == "emergency"
    assert hands.filling.form.about == (3,)


def test_letters_are_acts_in_the_table_until_enter_is_pressed_again(scenes: Any) -> None:
    """Whoever opened the table and then sees a danger presses f at once."""
    hands = Hands()
    pressed(hands, scenes.quiet(), "enter", "f")
    assert hands.mode is Mode.ORDER


def test_space_takes_an_alarm_while_letters_write(scenes: Any) -> None:
    picture = scenes.trouble()
    hands = Hands()
    pressed(hands, picture, "enter", "enter", "m")
    top = picture.alarms[0].number
    hands.drawn([top], top, 12 * S, picture.alarms)
    effect = pressed(hands, picture, "space", at_s=14)
    assert getattr(effect, "alarms", None) == (top,)


def test_letters_that_find_nothing_are_refused_and_no_key_of_an_act_is_lost_for_long(
    scenes: Any,
) -> None:
    picture, hands = scenes.quiet(), Hands()
    effect = pressed(hands, picture, "enter", "enter", "f", "j", at_s=10)
    assert effect.words == "nothing begins with fj; letters are keys again after Esc"
    assert hands.typed == "f"
    assert hands.expire(29 * S), "15 s after the last letter, at 13 s, letters are acts again"
    assert hands.mode is Mode.BOARD


def test_escape_goes_from_letters_to_the_table_to_the_board(scenes: Any) -> None:
    picture, hands = scenes.quiet(), Hands()
    pressed(hands, picture, "enter", "enter", "m", "escape")
    modes = [hands.mode]
    pressed(hands, picture, "escape", at_s=15)
    assert [*modes, hands.mode] == [Mode.MORE, Mode.BOARD]


def test_digits_work_while_letters_write(scenes: Any) -> None:
    picture, hands = scenes.quiet(), Hands()
    pressed(hands, picture, "enter", "enter", "m", "6", "3")
    assert hands.viewed == "log"


def test_a_held_enter_opens_the_table_and_no_more(scenes: Any) -> None:
    picture, hands = scenes.quiet(), Hands()
    for place in range(20):
        hands.press("enter", 10 * S + place * 33_000_000, picture)
    assert hands.mode is Mode.MORE


def test_letters_that_come_in_a_burst_after_enter_twice_are_no_acts(scenes: Any) -> None:
    """A stalled line brings all keys at once: the second Enter may be a held one."""
    picture, hands = scenes.quiet(), Hands()
    hands.press("4", 9 * S, picture)
    effects = [
        hands.press(name, 10 * S + place * 1_000_000, picture, name)
        for place, name in enumerate(("enter", "enter", "e", "o", "x", "c"))
    ]
    assert not [effect for effect in effects if isinstance(effect, Move)]
    assert hands.chosen == ()
    assert hands.press("o", 20 * S, picture) == Say("o: first the number of a wearer")


# ---------------------------------------------------------------- one row is enough


def toy(context: Context) -> Sheet:
    """A sheet with one question that makes an act which the recorder understands."""

    def make(answers: Answers) -> WriteAct:
        return act("note", f"roped: {answers['rope']}", text=f"rope {answers['rope']}")

    return Form("rope", "ROPE LAID", (Field("rope", "rope"),), make, context.chosen)


ROPE = Key(words="rope laid", acts=True, code="27", opens=toy, word="rope", finds="lifeline")


def test_a_new_act_is_one_row_and_one_sheet(scenes: Any) -> None:
    """By digits, by letters, as a typed word, in the table and in the help: all from the row."""
    table = table_of((*THINGS, ROPE))
    picture, aids = scenes.quiet(), Aids(table=table)
    for keys in (("2", "7"), ("enter", *"lifel", "enter")):
        hands = Hands(aids=aids)
        pressed(hands, picture, "enter", *keys)
        assert hands.filling is not None
        made = pressed(hands, picture, "b", "l", "u", "e", "enter", at_s=40)
        assert made == WriteAct({"what": "note", "text": "rope blue"}, "roped: blue")
        assert act_of(made, "act-number-1", "R. Harrow", 0).what == "note"
    filling = open_sheet(["rope"], picture, aids)
    assert isinstance(filling, Filling)
    assert filling.form.name == "rope"
    assert "rope            rope laid (asks)" in table.typed_help()
    shown = [*more_page(scenes.look(), 17, "", table).lines]
    shown += find_page(scenes.look(), 17, table.found("rope"), 0).lines
    told = ["".join(text for text, _ in line) for line in shown]
    assert sum("27" in text and "rope laid" in text for text in told) == 2


def test_a_view_only_board_opens_no_sheet_by_letters(scenes: Any) -> None:
    hands = Hands(holds=False)
    effect = pressed(hands, scenes.quiet(), "enter", "enter", *"relief", "enter")
    assert effect.words.startswith("VIEW ONLY")


def test_rows_are_told_apart() -> None:
    words = [row.word for row in THINGS if row.word] + [w for row in THINGS for w in row.steps]
    assert len(words) == len(set(words)) == len(TABLE.by_word) + len(TABLE.step_words)
    assert replace(ROPE, acts=False).helped == ("rope            rope laid",)
