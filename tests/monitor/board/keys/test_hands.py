"""The keyboard's rules, key by key; time is handed in."""

from dataclasses import replace
from typing import Any

import pytest

from monitor.board.acts.effects import (
    Command,
    Move,
    Reading,
    Say,
    TakeAlarms,
)
from monitor.board.acts.questions import Mode
from monitor.board.keys.hands import DOUBT_NS, IN_DOUBT, START_NS, Hands
from monitor.board.keys.order_hands import CHOSEN_NS, QUESTION_NS
from monitor.board.sheets.common import act
from monitor.incident.air.start import StartFrom
from monitor.incident.picture import Phase, Picture, Priority, Signal

S = 1_000_000_000
NOW = 100 * S


@pytest.fixture
def picture(scenes: Any) -> Picture:
    shown: Picture = scenes.trouble()
    return shown


@pytest.fixture
def hands() -> Hands:
    """A keyboard before which alarms 3, 4, 5 have stood for a second, 3 on top."""
    made = Hands()
    made.drawn((3, 4, 5), 3, NOW - S)
    return made


def press(hands: Hands, keys: str, picture: Picture, now_ns: int = NOW) -> Any:
    """Press keys 0.2 s apart; the last one's effect."""
    effect = None
    for place, key in enumerate(keys.split()):
        effect = hands.press(key, now_ns + place * S // 5, picture)
    return effect


# ---------------------------------------------------------------- choosing and acting


def test_a_number_then_a_step_is_two_keys(hands: Hands, picture: Picture) -> None:
    assert press(hands, "8 o", picture) == Move("out", (8,), "out: 8 Alpha 4-2")
    assert hands.chosen == ()


@pytest.mark.parametrize(
    ("key", "step"),
    [
        ("c", "connect"),
        ("e", "enter"),
        ("i", "objective"),
        ("n", "new objective"),
        ("u", "start back"),
        ("m", "other supply"),
        ("o", "out"),
        ("x", "off air"),
    ],
)
def test_each_step(hands: Hands, picture: Picture, key: str, step: str) -> None:
    effect = press(hands, f"4 {key}", picture)
    assert (effect.step, effect.wearers) == (step, (4,))


def test_another_supply_ends_with_the_same_key(hands: Hands, picture: Picture) -> None:
    def with_supply(*wearers: int) -> Picture:
        return replace(
            picture,
            wearers=tuple(replace(w, augmented=w.wearer in wearers) for w in picture.wearers),
        )

    effect = press(hands, "4 m", with_supply(4))
    assert effect == Move("own supply", (4,), "on the own cylinder: 4 Alpha 2-2")
    # One of two is on it: the crew is.
    assert press(hands, "4 k m", with_supply(4), NOW + S).step == "other supply"
    assert press(hands, "4 k m", with_supply(3, 4), NOW + 2 * S).step == "own supply"


# ---------------------------------------------------------------- the screen of one wearer


def test_d_opens_the_screen_of_the_chosen_wearer_and_closes_it(
    hands: Hands, picture: Picture
) -> None:
    assert press(hands, "d", picture) == Say("d: first the number of a wearer")
    assert press(hands, "4 d", picture) is None
    assert (hands.watched, hands.chosen) == (4, ())
    press(hands, "d", picture)
    assert hands.watched is None
    press(hands, "4 d escape", picture)
    assert hands.watched is None


def test_d_turns_to_the_next_page_while_there_is_one(hands: Hands, picture: Picture) -> None:
    press(hands, "4 d", picture)
    hands.drawn((), None, NOW, more=True)
    press(hands, "d", picture)
    assert (hands.watched, hands.page) == (4, 1)
    hands.drawn((), None, NOW, more=False)
    press(hands, "d 5 d", picture)
    assert (hands.watched, hands.page) == (5, 0)


def test_the_screen_of_one_wearer_follows_the_choice(hands: Hands, picture: Picture) -> None:
    press(hands, "4 d", picture)
    hands.page = 1
    press(hands, "down", picture)
    assert (hands.watched, hands.chosen, hands.page) == (5, (5,), 0)
    press(hands, "8", picture)
    assert hands.watched == 8
    press(hands, "k", picture)
    assert hands.watched == 8


def test_keys_mean_the_same_on_the_screen_of_one_wearer(hands: Hands, picture: Picture) -> None:
    press(hands, "4 d", picture)
    assert press(hands, "o", picture) == Say("o: first the number of a wearer")
    assert press(hands, "8 o", picture) == Move("out", (8,), "out: 8 Alpha 4-2")
    assert press(hands, "space", picture) == TakeAlarms((3,), "MOTION ALARM, 4 Alpha 2-2")
    assert press(hands, "q", picture) is None
    press(hands, "escape", picture)
    assert hands.watched == 8


def test_looking_needs_no_board(picture: Picture) -> None:
    hands = Hands(holds=False)
    press(hands, "4 d", picture)
    assert hands.watched == 4


# ---------------------------------------------------------------- crews


def test_entry_of_a_crew_is_three_keys(hands: Hands, picture: Picture) -> None:
    assert press(hands, "4 k e", picture) == Move("enter", (3, 4), "enter: Alpha 2 (3, 4)")


def test_a_wearer_without_crew(scenes: Any, hands: Hands) -> None:
    alone = scenes.picture((scenes.wearer(1, crew=""),))
    assert press(hands, "1 k o", alone) == Move("out", (1,), "out: 1 Alpha 1-1")


def test_an_act_without_a_wearer_does_nothing(hands: Hands, picture: Picture) -> None:
    assert press(hands, "o", picture) == Say("o: first the number of a wearer")


def test_a_choice_is_forgotten_after_five_seconds(hands: Hands, picture: Picture) -> None:
    hands.press("4", NOW, picture)
    assert not hands.expire(NOW + CHOSEN_NS - 1)
    assert hands.chosen == (4,)
    assert isinstance(hands.press("o", NOW + CHOSEN_NS, picture), Say)


def test_numbers_of_two_digits(scenes: Any, hands: Hands) -> None:
    many = scenes.many(30)
    press(hands, "1 2", many)
    assert hands.chosen == (12,)


def test_a_digit_too_many_chooses_nobody(scenes: Any, hands: Hands) -> None:
    no = Say("no wearer has number 123; nobody is chosen")
    assert press(hands, "1 2 3", scenes.many(30)) == no
    assert not hands.chosen


@pytest.mark.parametrize("typed", ["1 3", "4 4", "8 0"])
def test_a_number_that_nobody_has_is_never_its_last_digit(
    hands: Hands, picture: Picture, typed: str
) -> None:
    """Eight are on the board: the step that follows must not be that of somebody else."""
    effect = press(hands, f"{typed} o", picture)
    assert effect == Say("o: first the number of a wearer")
    assert hands.chosen == ()


def test_a_number_that_nobody_has(hands: Hands, picture: Picture) -> None:
    assert press(hands, "9", picture) == Say("no wearer has number 9; nobody is chosen")
    nobody = "no wearer has number 0; nobody is chosen"
    assert press(hands, "0", picture, NOW + S) == Say(nobody)


def test_the_first_digit_of_a_later_number_waits(scenes: Any, hands: Hands) -> None:
    tens = scenes.picture((scenes.wearer(1), scenes.wearer(21)))
    assert press(hands, "2", tens) is None
    assert hands.typed == "2"
    press(hands, "1", tens)
    assert hands.chosen == (21,)


def burst(hands: Hands, keys: str, picture: Picture, apart_ns: int = 1_000_000) -> list[Any]:
    """Press keys as a line that had stalled hands them over; what each did."""
    return [
        hands.press(key, NOW + place * apart_ns, picture) for place, key in enumerate(keys.split())
    ]


@pytest.mark.parametrize("apart_ns", [0, 1_000_000, 33_000_000])
def test_a_held_digit_or_a_burst_is_not_guessed_at(
    hands: Hands, scenes: Any, apart_ns: int
) -> None:
    """Was it 1 or 11 that came out? Nobody can tell, so nobody is noted out."""
    effects = burst(hands, "1 1 o", scenes.many(30), apart_ns)
    assert effects[1:] == [Say(IN_DOUBT), Say(IN_DOUBT)]
    assert hands.chosen == ()


def test_what_follows_a_doubt_within_a_burst_does_nothing(hands: Hands, scenes: Any) -> None:
    """``1 1 3 o`` must not note 3 out; half a second of quiet later keys count again."""
    many = scenes.many(30)
    burst(hands, "1 1 3 o", many)
    assert not hands.chosen
    assert hands.press("3", NOW + 3_000_000 + DOUBT_NS - 1, many) == Say(IN_DOUBT)
    assert hands.press("3", NOW + 3_000_000 + 2 * DOUBT_NS - 1, many) is None
    assert hands.chosen == (3,)


def test_a_burst_of_other_digits_is_taken_whole(hands: Hands, scenes: Any) -> None:
    effect = burst(hands, "1 3 o", scenes.many(30))[-1]
    assert (effect.step, effect.wearers) == ("out", (13,))


def test_a_reading_in_a_burst_is_not_cut(hands: Hands, picture: Picture) -> None:
    """200 must not become 20."""
    press(hands, "4 g", picture, NOW - S)
    assert burst(hands, "2 0 0 enter", picture)[2:] == [Say(IN_DOUBT), Say(IN_DOUBT)]
    assert hands.mode is Mode.BOARD


def test_escape_goes_back_in_doubt_too(hands: Hands, picture: Picture) -> None:
    burst(hands, "4 4", picture)
    assert hands.press("escape", NOW + S // 10, picture) is None


def test_up_and_down_go_through_the_wearers(hands: Hands, picture: Picture) -> None:
    press(hands, "down down", picture)
    assert hands.chosen == (2,)
    press(hands, "up up", picture)
    assert hands.chosen == (8,)
    press(hands, "escape up", picture)
    assert hands.chosen == (8,)
    assert isinstance(press(hands, "down", replace(picture, wearers=())), Say)


def test_escape_leaves_everything(hands: Hands, picture: Picture) -> None:
    press(hands, "4 g 1 escape", picture)
    assert (hands.mode, hands.chosen, hands.typed) == (Mode.BOARD, (), "")


# ---------------------------------------------------------------- readings


def test_a_reading_is_five_keys(hands: Hands, picture: Picture) -> None:
    effect = press(hands, "4 g 1 4 7", picture)
    assert effect == Reading((4,), 147.0, "reading 147 bar, 4 Alpha 2-2")


def test_a_short_reading_ends_with_enter(hands: Hands, picture: Picture) -> None:
    assert press(hands, "4 g enter", picture) is None
    assert press(hands, "5 7 backspace 2 enter", picture) == Reading(
        (4,), 52.0, "reading 52 bar, 4 Alpha 2-2"
    )


def unheard(picture: Picture, *numbers: int) -> Picture:
    """These at the door, without telemetry."""
    told = tuple(
        replace(w, signal=Signal.NONE, pack=None, phase=Phase.CHECKED_IN, under_air=False)
        if w.wearer in numbers
        else w
        for w in picture.wearers
    )
    return replace(picture, wearers=told)


def believed(picture: Picture, number: int, start_bar: float) -> Picture:
    """A wearer counts from this pressure at connecting."""
    told = tuple(
        replace(w, air=replace(w.air, start_bar=start_bar, start_from=StartFrom.HEARD))
        if w.wearer == number
        else w
        for w in picture.wearers
    )
    return replace(picture, wearers=told)


def test_a_start_far_under_what_is_believed_is_asked_about_once(
    hands: Hands, picture: Picture
) -> None:
    """30 for 300; what counts is 298 bar."""
    shown = believed(unheard(picture, 7), 7, 298)
    press(hands, "7 c", shown)
    said = press(hands, "3 0 enter", shown, NOW + 9 * S)
    assert said == Say(
        "30 bar is far under the 298 bar of 7: Enter if it is so, else type it again"
    )
    assert hands.starts_asked() == (7,)
    amended = press(hands, "enter", shown, NOW + 12 * S)
    assert amended == act(
        "amend_start", "start 30 bar, 7 Alpha 4-1", wearers=(7,), pressure_bar=30.0
    )
    press(hands, "7 c", shown, NOW + 60 * S)
    assert isinstance(press(hands, "0 3 0", shown, NOW + 70 * S), Say)
    typed_again = press(hands, "2 9 0", shown, NOW + 80 * S)
    assert typed_again == act(
        "amend_start", "start 290 bar, 7 Alpha 4-1", wearers=(7,), pressure_bar=290.0
    )


def test_connecting_asks_the_gauge_of_whoever_has_no_live_pack(
    hands: Hands, picture: Picture
) -> None:
    shown = unheard(picture, 7, 8)
    assert press(hands, "7 comma 8 c", shown) == Move("connect", (7, 8), "connect: Alpha 4 (7, 8)")
    assert hands.starts_asked() == (7, 8)
    first = press(hands, "2 8 0", shown, NOW + 9 * S)
    assert first == act(
        "amend_start", "start 280 bar, 7 Alpha 4-1", wearers=(7,), pressure_bar=280.0
    )
    assert hands.starts_asked() == (8,)
    second = press(hands, "9 0 enter", shown, NOW + 20 * S)
    assert second == act(
        "amend_start", "start 90 bar, 8 Alpha 4-2", wearers=(8,), pressure_bar=90.0
    )
    assert (hands.mode, hands.starts_asked()) == (Mode.BOARD, ())


def test_a_live_pack_is_not_asked(hands: Hands, picture: Picture) -> None:
    assert press(hands, "8 c", picture) == Move("connect", (8,), "connect: 8 Alpha 4-2")
    assert hands.mode is Mode.BOARD


def test_escape_leaves_the_gauge_at_connecting_open(hands: Hands, picture: Picture) -> None:
    shown = unheard(picture, 7, 8)
    press(hands, "7 comma 8 c", shown)
    assert press(hands, "2 escape", shown, NOW + 5 * S) is None
    assert (hands.mode, hands.starts_asked()) == (Mode.BOARD, ())


def test_nobody_asks_for_it_for_ever(hands: Hands, picture: Picture) -> None:
    shown = unheard(picture, 8)
    press(hands, "8 c", shown)
    at = NOW + S // 5
    assert not hands.expire(at + START_NS - 1)
    assert hands.expire(at + START_NS)


def test_what_no_gauge_shows_is_asked_again(hands: Hands, picture: Picture) -> None:
    shown = unheard(picture, 8)
    press(hands, "8 c", shown)
    said = press(hands, "9 0 5", shown, NOW + 5 * S)
    assert isinstance(said, Say)
    assert hands.starts_asked() == (8,)


def test_an_alarm_is_taken_while_it_is_asked(hands: Hands, picture: Picture) -> None:
    shown = unheard(picture, 8)
    press(hands, "8 c", shown)
    assert isinstance(press(hands, "space", shown, NOW + 5 * S), TakeAlarms)


def test_a_reading_in_psi_has_four_digits(hands: Hands, picture: Picture) -> None:
    """As the wearer's own gauge reads, whatever the others' do."""
    psi = replace(
        picture, wearers=tuple(replace(w, unit="psi" if w.wearer == 4 else "bar") for w in
                               picture.wearers)
    )  # fmt: skip
    effect = press(hands, "4 g 2 1 3 2", psi)
    # 2132 psi * 6894.757 Pa = 147.0 bar
    assert round(effect.pressure_bar, 1) == 147.0
    assert effect.subject == "reading 2132 psi, 4 Alpha 2-2"
    assert press(hands, "5 g 1 4 7", psi).pressure_bar == 147.0


def test_the_lowest_of_a_crew_is_six_keys(hands: Hands, picture: Picture) -> None:
    lowest = Reading((3, 4), 170.0, "lowest 170 bar, Alpha 2 (3, 4)", lowest=True)
    assert press(hands, "4 g k 1 7 0", picture) == lowest
    assert press(hands, "4 k g 1 7 0", picture) == lowest
    assert press(hands, "4 g 9 5 k enter", picture).lowest
    assert press(hands, "4 g k k 1 7 0", picture) == Reading(
        (4,), 170.0, "reading 170 bar, 4 Alpha 2-2"
    )


def test_the_lowest_of_a_crew_is_of_those_under_air(hands: Hands, picture: Picture) -> None:
    out = replace(picture.wearers[2], under_air=False)
    one_out = replace(picture, wearers=(*picture.wearers[:2], out, *picture.wearers[3:]))
    for keys in ("4 g k 1 7 0", "4 k g 1 7 0"):
        effect = press(hands, keys, one_out)
        assert (effect.wearers, effect.lowest) == ((4,), False)


def test_without_a_crew_there_is_no_lowest_of_it(scenes: Any, hands: Hands) -> None:
    alone = scenes.picture((scenes.wearer(1, crew=""), scenes.wearer(2, crew="")))
    effect = press(hands, "1 g k 1 7 0", alone)
    assert (effect.wearers, effect.lowest) == ((1,), False)


def test_more_than_any_gauge_shows(hands: Hands, picture: Picture) -> None:
    """Of a cylinder whose rating nobody knows."""
    air = replace(picture.wearers[3].air, rated_bar=None)
    unrated = replace(picture.wearers[3], air=air)
    wearers = (*picture.wearers[:3], unrated, *picture.wearers[4:])
    picture = replace(picture, wearers=wearers)
    assert isinstance(press(hands, "4 g 4 5 1", picture), Say)
    assert isinstance(press(hands, "4 g 4 5 0", picture), Reading)


def test_a_reading_nobody_ends_goes_away(hands: Hands, picture: Picture) -> None:
    press(hands, "4 g 1", picture)
    assert hands.expire(NOW + S + QUESTION_NS)
    assert hands.mode is Mode.BOARD


# ---------------------------------------------------------------- the screen, leaving, view only


def test_screen_keys(hands: Hands, picture: Picture) -> None:
    assert press(hands, "b", picture) == Command("theme")
    assert press(hands, "s", picture) == Command("sort")
    assert press(hands, "h", picture) == press(hands, "question_mark", picture) == Command("help")


@pytest.mark.parametrize("way", ["q", "ctrl+c", "ctrl+q", "ctrl+z"])
def test_nothing_leaves_without_asking(hands: Hands, picture: Picture, way: str) -> None:
    assert press(hands, way, picture) is None
    assert hands.mode.name == "QUIT"
    assert press(hands, "1", picture) == Command("leave")
    press(hands, way, picture)
    assert press(hands, "2", picture) == Command("leave and stop")
    press(hands, way, picture)
    assert press(hands, "3", picture) is None
    assert hands.mode.name == "BOARD"


def test_view_only_refuses_acts_and_says_so(hands: Hands, picture: Picture) -> None:
    hands.holds = False
    for place, key in enumerate(["space", "a", "r", "c", "e", "g", "i", "n", "u", "m", "o", "x"]):
        effect = press(hands, f"4 {key}", picture, NOW + place * S)
        assert isinstance(effect, Say)
        assert "VIEW ONLY" in effect.words
        assert hands.chosen == ()


def test_view_only_may_leave_but_not_stop_recording(hands: Hands, picture: Picture) -> None:
    hands.holds = False
    assert press(hands, "q 2", picture) is None
    assert press(hands, "q 1", picture) == Command("leave")


def test_taking_the_board_asks(hands: Hands, picture: Picture) -> None:
    assert isinstance(press(hands, "t", picture), Say)
    hands.holds = False
    assert press(hands, "t 1", picture) == Command("take board")
    assert press(hands, "t 5", picture) is None


def test_other_keys_do_nothing(hands: Hands, picture: Picture) -> None:
    for key in ("f1", "ctrl+p"):
        assert press(hands, key, picture) is None
    assert hands.mode is Mode.BOARD


def test_recording_again_is_of_the_screen_and_needs_no_board(picture: Picture) -> None:
    """Who had the board has gone with the recorder."""
    for holds in (True, False):
        assert press(Hands(holds=holds), "w", picture) == Command("record again")


def test_priorities_without_word_are_not_taken_together(hands: Hands, picture: Picture) -> None:
    notices = tuple(replace(a, priority=Priority.NOTICE) for a in picture.alarms)
    assert press(hands, "a", replace(picture, alarms=notices)) == Say("no caution waits")


# ---------------------------------------------------------------- notes


def test_a_note_is_two_presses_and_of_the_chosen_wearer(picture: Picture) -> None:
    hands = Hands()
    hands.press("insert", NOW, picture)
    assert hands.press("3", NOW + S, picture) == act(
        "note", "note: area searched", text="area searched", wearer=None
    )
    for place, key in enumerate(("4", "insert")):
        hands.press(key, NOW + (2 + place) * S, picture)
    said = hands.press("2", NOW + 4 * S, picture)
    assert said == act("note", "note: 4 Alpha 2-2, no answer", text="no answer", wearer=4)


def test_a_digit_that_is_no_note_writes_nothing_down(picture: Picture) -> None:
    hands = Hands()
    hands.press("insert", NOW, picture)
    assert hands.press("9", NOW + S, picture) == Say("nothing written down")


def test_a_reading_above_the_rating_is_not_taken(hands: Hands, picture: Picture) -> None:
    """A cylinder rated for 300 bar shows up to 330 when it is warm."""
    assert press(hands, "4 g 3 3 1", picture) == Say(
        "not taken: 331 bar is above the 300 bar that the cylinder of 4 is rated for"
    )
    assert isinstance(press(hands, "4 g 3 3 0", picture, NOW + 9 * S), Reading)
