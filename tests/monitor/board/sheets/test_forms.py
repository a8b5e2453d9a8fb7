"""Sheets of questions, key by key."""

from typing import Any

import pytest

from monitor.board.sheets.forms import (
    NEEDED,
    PICK,
    UNPRINTABLE,
    Answers,
    Field,
    Filling,
    Form,
    Made,
    Refused,
    number,
)

PLACES = ("kiln hall", "drying floor")


def made(answers: Answers) -> dict[str, str] | Refused:
    if answers["place"] == answers["task"]:
        return Refused("a task is not a place", "task")
    return dict(answers)


def form(**changes: Any) -> Form[dict[str, str]]:
    fields = (
        Field("place", "place", picks=PLACES, most=20),
        Field("gauge", "gauge", needed=False, check=number(0, 450, "bar", whole=True)),
        Field("task", "task", start="search", most=10),
    )
    return Form("entry", "ENTRY", changes.get("fields", fields), made)


def press(filling: Filling[dict[str, str]], keys: str) -> Any:
    """Press these characters one by one; ``/`` stands for Enter, ``<`` for backspace, ``^`` Up."""
    named = {"/": "enter", "<": "backspace", "^": "up", "~": "ctrl+u"}
    done = None
    for key in keys:
        done = filling.press(named.get(key, key), None if key in named else key)
    return done


def test_a_digit_picks_and_enter_goes_on_to_the_end() -> None:
    done = press(Filling(form()), "2//\x2f")
    assert done == Made({"place": "drying floor", "gauge": "", "task": "search"})


def test_own_words_with_digits_and_blanks_in_them() -> None:
    filling = Filling(form())
    press(filling, "bay 2 <")
    assert filling.answers["place"] == "bay 2"
    press(filling, "/188/")
    assert filling.asked.name == "task"


def test_typing_replaces_what_stood_there_and_rubbing_out_does_not() -> None:
    filling = Filling(form())
    press(filling, "1//rescue")
    assert filling.answers["task"] == "rescue"
    other = Filling(form())
    press(other, "1//<")
    assert other.answers["task"] == "searc"
    press(other, "h2")
    assert other.answers["task"] == "search2"


@pytest.mark.parametrize("typed", ["2nd floor", "12", "101"])
def test_what_begins_with_a_digit_need_not_be_a_pick(typed: str) -> None:
    filling = Filling(form())
    press(filling, typed)
    assert filling.answers["place"] == typed
    press(filling, "~2")
    assert filling.answers["place"] == "drying floor"


def test_a_pick_is_rubbed_out_like_anything_typed() -> None:
    filling = Filling(form())
    press(filling, "2<<<<<<loft")
    assert filling.answers["place"] == "drying" + "loft"


def test_where_only_picks_count_the_next_digit_picks_again() -> None:
    only = Field("use", "use", picks=("exercise", "real"), free=False)
    filling = Filling(Form("use", "USE", (only,), dict))
    press(filling, "12")
    assert filling.answers["use"] == "real"


def test_a_needed_answer_is_asked_for_and_nothing_is_lost() -> None:
    filling = Filling(form())
    assert press(filling, "/") is None
    assert (filling.place, filling.complaint) == (0, NEEDED)
    press(filling, "1/900/")
    assert filling.complaint == "a whole number from 0 to 450 bar"
    assert (filling.asked.name, filling.answers["gauge"]) == ("gauge", "900")
    press(filling, "<<")
    assert filling.complaint == ""


@pytest.mark.parametrize("typed", ["nan", "1e2", "inf", "1_0", "²", "12,5", "-1", "451", "x"])
def test_what_is_no_figure(typed: str) -> None:
    assert number(0, 450, "bar")(typed, {}) == "a number from 0 to 450 bar"


@pytest.mark.parametrize("typed", ["0", "450", "12.5", "007"])
def test_what_is_one(typed: str) -> None:
    assert number(0, 450, "bar")(typed, {}) == ""


def test_up_goes_back_and_the_answer_before_is_there() -> None:
    filling = Filling(form())
    press(filling, "1/^")
    assert filling.asked.name == "place"
    assert filling.answers["place"] == "kiln hall"
    press(filling, "^")
    assert filling.place == 0


def test_only_picks_where_own_words_are_no_answer() -> None:
    only = Field("use", "use", picks=("exercise", "real"), free=False)
    filling = Filling(Form("use", "USE", (only,), dict))
    press(filling, "x")
    assert (filling.complaint, filling.answers["use"]) == (PICK, "")
    assert press(filling, "3/") is None
    assert press(filling, "2/") == Made({"use": "real"})


def test_no_more_characters_than_there_may_be() -> None:
    filling = Filling(form())
    press(filling, "x" * 21)
    assert filling.answers["place"] == "x" * 20
    assert filling.complaint == "at most 20 characters"


def test_answers_that_do_not_go_together_lead_back_to_the_question() -> None:
    filling = Filling(form())
    assert press(filling, "search//search/") is None
    assert (filling.asked.name, filling.complaint) == ("task", "a task is not a place")


def test_a_wrong_answer_left_behind_is_found_at_the_end() -> None:
    filling = Filling(form(), {"place": "kiln hall", "gauge": "900"}, place=2)
    assert press(filling, "/") is None
    assert filling.asked.name == "gauge"


def test_keys_that_write_nothing_change_nothing() -> None:
    filling = Filling(form())
    for name, character in (("f5", None), ("ctrl+a", "\x01"), ("left", None), ("tab2", "ab")):
        filling.press(name, character)
    assert filling.answers["place"] == ""


def test_a_line_at_a_time() -> None:
    filling = Filling(form())
    filling.fill("2")
    filling.fill("  ")
    assert filling.fill("") == Made({"place": "drying floor", "gauge": "", "task": "search"})
    other = Filling(form())
    other.fill("a\x1b[2J")
    assert (other.complaint, other.place) == (UNPRINTABLE, 0)


def keys(filling: Filling[dict[str, str]], *names: str) -> tuple[str, str]:
    for name in names:
        filling.press(name, name if len(name) == 1 else None)
    return filling.cursor


def test_left_right_home_end_and_delete_edit_as_everywhere() -> None:
    filling = Filling(form())
    assert keys(filling, *"bay") == ("bay", "")
    assert keys(filling, "left", "left") == ("b", "ay")
    assert keys(filling, "o") == ("bo", "ay")
    assert keys(filling, "delete") == ("bo", "y")
    assert keys(filling, "home", "1") == ("1", "boy"), "in the middle of words a digit is a digit"
    assert keys(filling, "end", "right", "s") == ("1boys", "")
    assert keys(filling, "left", "backspace", "ctrl+u") == ("", "")
    assert keys(filling, "left", "delete", "backspace") == ("", "")


def test_moving_into_what_stood_there_edits_it_instead_of_replacing_it() -> None:
    filling = Filling(form())
    press(filling, "1//")
    assert keys(filling, "end", *"ing") == ("searching", "")
    assert keys(filling, "down", "up", "home", "x")[0] == "x"


def test_another_question_has_the_cursor_at_its_end() -> None:
    filling = Filling(form())
    keys(filling, *"bay", "home", "down", "up")
    assert filling.cursor == ("bay", "")


def test_what_is_pasted_is_one_line_and_whole_or_nothing() -> None:
    filling = Filling(form())
    keys(filling, *"bay", "left", "left")
    filling.paste(" 2 \n of 3 ")
    assert filling.cursor == ("b2 of 3", "ay")
    filling.paste("x" * 12)
    assert (filling.cursor, filling.complaint) == (("b2 of 3", "ay"), "at most 20 characters")
    filling.paste("a\x1bb")
    assert filling.complaint == UNPRINTABLE


def test_a_pasted_answer_is_no_pick() -> None:
    only = (Field("place", "place", picks=PLACES, free=False), *form().fields[1:])
    filling = Filling(form(fields=only))
    filling.paste("kiln hall")
    assert (filling.answers["place"], filling.complaint) == ("", PICK)


def test_in_a_sheet_of_gaps_the_cursor_goes_to_what_is_not_known() -> None:
    fields = (
        Field("who", "who", start="C. Marl", needed=False),
        Field("air", "air", needed=False),
        Field("where", "where", start="loft", needed=False),
        Field("needs", "needs", needed=False),
        Field("to", "to"),
    )
    filling = Filling(Form("message", "MESSAGE", fields, dict, gaps=True))
    assert filling.untouched
    seen = [filling.asked.name]
    for key in ("enter", "enter"):
        filling.press(key, None)
        seen.append(filling.asked.name)
    assert seen == ["air", "needs", "to"]
    for _ in range(4):
        filling.press("up", None)
    assert filling.asked.name == "who", "Up leads to every question"
    keys(filling, *"D. Hod", "enter")
    assert filling.asked.name == "air"


def test_wide_and_right_to_left_letters_are_letters() -> None:
    filling = Filling(form())
    press(filling, "窯 שלום")
    assert filling.answers["place"] == "窯 שלום"


def test_a_question_that_does_not_arise_is_skipped_and_answers_nothing() -> None:
    fields = (
        Field("pack", "pack", picks=("301", "none")),
        Field("cylinder", "cylinder", when=lambda a: a["pack"] == "none"),
        Field("remark", "remark", needed=False),
    )
    with_pack = Filling(Form("in", "IN", fields, dict))
    assert press(with_pack, "1//") == Made({"pack": "301", "cylinder": "", "remark": ""})
    without = Filling(Form("in", "IN", fields, dict))
    assert press(without, "2/6.8/300") is None
    press(without, "^^")
    assert without.asked.name == "pack"
    assert press(without, "1//") == Made({"pack": "301", "cylinder": "", "remark": "300"})
