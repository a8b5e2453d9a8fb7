"""The keys of sheets, and of the table that opens them; how many the commonest acts take."""

from dataclasses import replace
from typing import Any

import pytest

from monitor.board.acts.effects import Asking, Command, Effect, Say, TakeAlarms, act_of
from monitor.board.acts.questions import Mode
from monitor.board.keys.hands import Hands
from monitor.board.keys.sheet_hands import KEPT_MAX, LEFT, MORE_NS, VIEW_ONLY, Aids
from monitor.board.keys.table import View
from monitor.incident.picture import Phase, Picture, Signal, UnjoinedView

S = 1_000_000_000
NOW = 100 * S
CYLINDERS = {"6.8/300": (6.8, 300.0)}


@pytest.fixture
def picture(scenes: Any) -> Picture:
    shown: Picture = scenes.trouble()
    return shown


@pytest.fixture
def hands() -> Hands:
    made = Hands(aids=Aids(cylinders=CYLINDERS))
    made.drawn((3, 4, 5), 3, NOW - S)
    return made


def press(hands: Hands, keys: str, picture: Picture, now_ns: int = NOW) -> list[Effect]:
    """Press keys 0.2 s apart, ``enter`` by name; every effect."""
    effects = []
    for place, key in enumerate(keys.split()):
        character = {"enter": "\r", "space": " "}.get(key, key if len(key) == 1 else None)
        effect = hands.press(key, now_ns + place * S // 5, picture, character)
        if effect is not None:
            effects.append(effect)
    return effects


def test_enter_opens_the_table_and_two_digits_a_sheet(hands: Hands, picture: Picture) -> None:
    assert press(hands, "enter", picture) == []
    assert hands.elsewhere
    assert hands.filling is None
    assert press(hands, "5 2", picture) == []
    assert hands.filling is not None
    assert hands.filling.form.name == "stage"


def test_the_chosen_wearer_is_whom_the_sheet_is_about(hands: Hands, picture: Picture) -> None:
    press(hands, "4 enter 2 1", picture)
    assert hands.filling is not None
    assert hands.filling.form.about == (4,)


def test_a_number_that_is_not_there_is_said(hands: Hands, picture: Picture) -> None:
    assert press(hands, "enter 5 9", picture) == [Say("nothing has number 59")]
    assert press(hands, "enter 0", picture) == [Say("nothing has number 0")]


def test_the_table_closes_by_escape_by_time_and_by_any_other_act(
    hands: Hands, picture: Picture
) -> None:
    press(hands, "enter escape", picture)
    assert hands.mode is Mode.BOARD
    press(hands, "enter", picture)
    assert hands.expire(NOW + MORE_NS)
    assert hands.mode is Mode.BOARD


def test_space_takes_the_alarm_while_the_table_is_open(hands: Hands, picture: Picture) -> None:
    assert press(hands, "enter space", picture) == [TakeAlarms((3,), "MOTION ALARM, 4 Alpha 2-2")]


def test_in_a_sheet_every_key_writes(hands: Hands, picture: Picture) -> None:
    """f, j and q would open an order, send it, and ask to leave."""
    effects = press(hands, "4 enter 2 3 f j space q enter", picture)
    assert len(effects) == 1
    assert act_of(effects[0], "act-number-1", "R", 0).model_dump()["text"] == "fj q"  # type: ignore[arg-type]


def test_the_ways_out_of_the_terminal_ask_all_the_same(hands: Hands, picture: Picture) -> None:
    press(hands, "enter 5 2", picture)
    assert press(hands, "ctrl+q", picture) == []
    assert hands.mode is Mode.QUIT
    assert press(hands, "1", picture) == [Command("leave")]


def test_a_sheet_waits_for_as_long_as_it_takes(hands: Hands, picture: Picture) -> None:
    press(hands, "enter 5 2", picture)
    assert not hands.expire(NOW + 3_600 * S)
    assert hands.mode is Mode.SHEET


def test_a_sheet_that_was_left_is_there_again(hands: Hands, picture: Picture) -> None:
    press(hands, "4 enter 2 3 a b escape", picture)
    assert (hands.mode, hands.filling) == (Mode.BOARD, None)
    press(hands, "4 enter 2 3", picture)
    assert hands.filling is not None
    assert hands.filling.answers["text"] == "ab"


def test_looking_into_another_sheet_loses_nothing_of_the_one_that_was_left(
    hands: Hands, picture: Picture
) -> None:
    assert press(hands, "4 enter 2 3 a b escape", picture) == [Say(LEFT)]
    assert press(hands, "4 enter 2 1 escape", picture) == [], "nothing was typed into this one"
    press(hands, "4 enter 2 1 c escape 4 enter 2 3", picture)
    assert hands.filling is not None
    assert hands.filling.answers["text"] == "ab"


def test_an_act_that_is_no_sheets_takes_away_nothing_that_was_typed(
    hands: Hands, picture: Picture
) -> None:
    press(hands, "4 enter 2 3 a b escape", picture)
    hands.asked("act-1")
    hands.taken("act-1")
    press(hands, "4 enter 2 3", picture)
    assert hands.filling is not None
    assert hands.filling.answers["text"] == "ab"


def test_so_many_sheets_are_kept(hands: Hands, picture: Picture) -> None:
    for wearer in range(1, KEPT_MAX + 1):
        press(hands, f"{wearer} enter 2 3 a escape", picture, NOW + wearer * 2 * S)
    press(hands, "1 enter 2 1 b escape 1 enter 2 3", picture, NOW + 100 * S)
    assert hands.filling is not None
    assert hands.filling.answers["text"] == "", "the one that was left first gave way"
    press(hands, "escape 2 enter 2 3", picture, NOW + 200 * S)
    assert hands.filling is not None
    assert hands.filling.answers["text"] == "a"


def test_not_for_another_wearer(hands: Hands, picture: Picture) -> None:
    press(hands, "4 enter 2 3 a b escape 5 enter 2 3", picture)
    assert hands.filling is not None
    assert hands.filling.answers["text"] == ""


def test_what_was_not_taken_need_not_be_typed_again(hands: Hands, picture: Picture) -> None:
    press(hands, "4 enter 2 3 a b enter", picture)
    hands.asked("act-1")
    press(hands, "4 enter 2 3", picture)
    assert hands.filling is not None
    assert hands.filling.answers["text"] == "ab"
    press(hands, "enter", picture, NOW + 2 * S)
    hands.asked("act-2")
    hands.taken("act-1")
    hands.taken("act-2")
    press(hands, "4 enter 2 3", picture)
    assert hands.filling is not None
    assert hands.filling.answers["text"] == ""


def test_a_screen_that_may_not_act_looks_and_does_nothing(picture: Picture) -> None:
    hands = Hands(holds=False)
    assert press(hands, "enter 5 2", picture) == [Say(VIEW_ONLY)]
    assert press(hands, "enter 6 3", picture) == []
    assert hands.viewed is View.LOG


def test_pages_to_look_at_turn_and_close(hands: Hands, picture: Picture) -> None:
    press(hands, "enter 6 4", picture)
    assert (hands.viewed, hands.page) == (View.LINKS, 0)
    hands.drawn((3,), 3, NOW, more=True)
    press(hands, "d", picture)
    assert (hands.viewed, hands.page) == (View.LINKS, 1)
    hands.drawn((3,), 3, NOW, more=False)
    press(hands, "d", picture)
    assert hands.viewed is None
    press(hands, "enter 6 4 escape", picture)
    assert hands.viewed is None


def test_an_untouched_sheet_shows_how_things_stand_now(hands: Hands, picture: Picture) -> None:
    """Whoever presses a button at the door is among the answers at once."""
    press(hands, "enter 1 1", picture)
    hands.refresh(door(picture))
    assert hands.filling is not None
    assert hands.filling.asked.picks == ("4799", "4800", "none", "roster")


def test_one_in_which_something_was_typed_stays_as_it_is(hands: Hands, picture: Picture) -> None:
    press(hands, "enter 1 1 9", door(picture))
    hands.refresh(picture)
    assert hands.filling is not None
    assert hands.filling.asked.picks == ("4799", "4800", "none", "roster")
    assert hands.filling.answers["pack"] == "9"


def test_one_wearer_takes_the_place_of_a_page(hands: Hands, picture: Picture) -> None:
    press(hands, "enter 6 4 4 d", picture)
    assert (hands.viewed, hands.watched) == (None, 4)


# ---------------------------------------------------------------- how many keys


def door(picture: Picture) -> Picture:
    """Wearers 7 and 8 have come to the door; two packs are heard, and nobody's."""
    waiting = [
        replace(w, phase=Phase.LISTED, under_air=False, pack=None) if w.wearer > 6 else w
        for w in picture.wearers
    ]
    packs = tuple(UnjoinedView(n, 290, S, Signal.HEARD) for n in (4799, 4800))
    return replace(picture, wearers=tuple(waiting), unjoined=packs)


BUDGET: list[tuple[str, str, int, list[str]]] = [
    ("take the top alarm", "space", 1, ["acknowledge"]),
    ("note a crew come out", "3 k o", 4, ["come_out"]),
    ("note one come out", "3 o", 2, ["come_out"]),
    ("a gauge reading", "3 g 1 8 8", 5, ["spoken_reading"]),
    ("a checked-in crew on air", "3 k c", 4, ["connect"]),
    ("entry of a crew", "3 k e", 4, ["enter"]),
    ("evacuate all", "f j", 2, ["give_order"]),
    ("call a crew out", "3 tab 1 1 j", 5, ["give_order"]),
    ("answered by voice", "3 minus", 2, ["answer_by_voice"]),
    ("off air", "3 x", 2, ["off_air"]),
    ("a note", "3 insert 2", 3, ["note"]),
    ("check in two with telemetry", "enter 1 1 1 enter 7 enter 2 enter 8 enter", 12,
     ["join_pack", "join_pack"]),
    ("check in two without", "enter 1 1 3 enter 7 enter 1 enter 3 enter 8 enter 1 enter", 20,
     ["join_pack", "join_pack"]),
]  # fmt: skip
"""What, the keys, how many they may be, the acts that come of it. What a terminal sends as one key
is one; "k" for the whole crew counts."""


@pytest.mark.parametrize(("what", "keys", "most", "acts"), BUDGET)
def test_the_commonest_acts_take_few_keys(
    scenes: Any, what: str, keys: str, most: int, acts: list[str]
) -> None:
    shown = scenes.evacuation() if "voice" in what else scenes.trouble()
    picture = door(shown) if "check in" in what else shown
    hands = Hands(aids=Aids(cylinders=CYLINDERS))
    hands.drawn((3, 4, 5), 3, NOW - S)
    made: list[str] = []
    for place, key in enumerate(keys.split()):
        now_ns = NOW + place * S // 2
        if hands.mode is Mode.ORDER:
            hands.order_drawn(now_ns - S // 2)
        character = "\r" if key == "enter" else key if len(key) == 1 else None
        effect = hands.press(key, now_ns, picture, character)
        if isinstance(effect, Say | Command):
            pytest.fail(f"{what}: {effect}")
        if effect is not None:
            asked: Asking = effect
            made.append(act_of(asked, f"act-number-{place}", "R. Harrow", 0).what)
    assert made == acts
    assert len(keys.split()) <= most


# ---------------------------------------------------------------- found on reading


def test_ways_out_of_the_terminal_keep_what_was_typed(hands: Hands, picture: Picture) -> None:
    press(hands, "4 enter 2 3 a b ctrl+c escape 4 enter 2 3", picture)
    assert hands.filling is not None
    assert hands.filling.answers["text"] == "ab"


def test_a_held_enter_does_not_run_through_a_sheet(hands: Hands, picture: Picture) -> None:
    """Keyboards repeat every 33 ms: a fresh cylinder was noted that nobody had said a word of."""
    press(hands, "4 enter 4 2", picture)
    at = NOW + S
    effects = [hands.press("enter", at + n * S // 30, picture, "\r") for n in range(20)]
    assert effects == [None] * 20
    assert hands.mode is Mode.SHEET


def test_enter_after_a_reading_that_is_complete_opens_nothing(
    hands: Hands, picture: Picture
) -> None:
    """The digits after it were taken for the table's: "5 4" closes an incident."""
    press(hands, "4 g 1 4 7 enter", picture)
    assert not hands.elsewhere
    press(hands, "enter", picture, NOW + 10 * S)
    assert hands.elsewhere


def test_a_message_that_was_left_is_filled_anew(picture: Picture) -> None:
    """Only what was typed is kept; the air of before is not told as that of now."""
    told = [("air", "147 bar, 3 s ago")]
    hands = Hands(aids=Aids(emergency_form=lambda _number: told))
    press(hands, "4 enter 3 1 1 escape", picture)
    told[0] = ("air", "120 bar, 2 s ago")
    press(hands, "4 enter 3 1", picture, NOW + 60 * S)
    assert hands.filling is not None
    assert hands.filling.answers["to"] == "command"
    assert "120 bar" in hands.filling.answers["field 0"]


def test_what_is_pasted_goes_into_a_sheet_and_nowhere_else(hands: Hands, picture: Picture) -> None:
    """Pasted words are no keys: "f j" on the board would give an order."""
    assert hands.paste("fj") == Say("NOT DONE: what was pasted goes into a sheet alone")
    assert hands.mode is Mode.BOARD
    press(hands, "4 enter 2 3", picture)
    assert hands.paste("fj") is None
    assert hands.filling is not None
    assert hands.filling.answers["text"] == "fj"


def test_a_time_on_a_sheet_counts_from_its_last_key(hands: Hands, picture: Picture) -> None:
    press(hands, "4 enter 2 5 b enter 5", picture)
    later = replace(picture, t=picture.t + 120 * S, wall_ns=picture.wall_ns + 120 * S)
    (effect,) = press(hands, "enter", later, NOW + 120 * S)
    made = act_of(effect, "act-number-1", "R", 0).model_dump()  # type: ignore[arg-type]
    assert made["at_ns"] == later.t - 300 * S


def test_enter_after_a_reading_opens_the_table_once_another_key_has_come(
    hands: Hands, picture: Picture
) -> None:
    press(hands, "4 g 1 8 8 enter", picture)
    assert hands.mode is Mode.BOARD
    press(hands, "4 g 1 8 8 3 enter", picture, NOW + 20 * S)
    assert hands.elsewhere
