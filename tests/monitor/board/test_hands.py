"""The keyboard's rules, key by key; time is handed in."""

from dataclasses import replace
from typing import Any

import pytest

from monitor.board.effects import (
    Command,
    Move,
    PutAsideAlarm,
    Reading,
    ResetAlarm,
    Say,
    SilenceSound,
    TakeAlarms,
    TakeBackAlarm,
)
from monitor.board.hands import DOUBT_NS, HELD_NS, IN_DOUBT, READ_NS_MIN, Hands
from monitor.board.order_hands import CHOSEN_NS, QUESTION_NS
from monitor.board.questions import Mode
from monitor.board.sheets import act
from monitor.incident.picture import Phase, Picture, Priority

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


# ---------------------------------------------------------------- taking alarms


def test_space_takes_the_top_alarm(hands: Hands, picture: Picture) -> None:
    assert press(hands, "space", picture) == TakeAlarms((3,), "MOTION ALARM, 4 Alpha 2-2")


def test_not_before_it_has_stood_half_a_second(picture: Picture) -> None:
    hands = Hands()
    hands.drawn((3, 4, 5), 3, NOW)
    assert isinstance(hands.press("space", NOW + READ_NS_MIN - 1, picture), Say)
    hands = Hands()
    hands.drawn((3, 4, 5), 3, NOW)
    assert isinstance(hands.press("space", NOW + READ_NS_MIN, picture), TakeAlarms)


def test_not_if_another_has_just_come_above_it(hands: Hands, picture: Picture) -> None:
    hands.drawn((2, 3, 4, 5), 2, NOW - 1)
    assert isinstance(press(hands, "space", picture), Say)


def test_half_a_second_counts_on_top_not_anywhere(hands: Hands, picture: Picture) -> None:
    only_caution = replace(picture, alarms=picture.alarms[2:])
    hands.drawn((5,), 5, NOW - S // 4)
    assert isinstance(press(hands, "space", only_caution), Say)


def test_not_if_it_has_just_become_more_urgent(picture: Picture) -> None:
    was = replace(picture.alarms[0], priority=Priority.CAUTION, acknowledged=False)
    now = replace(was, priority=Priority.DANGER)
    for before, after, key in ((was, now, "space"), (replace(was, acknowledged=True), was, "a")):
        hands = Hands()
        hands.drawn((3,), 3, NOW - S, (before,))
        hands.drawn((3,), 3, NOW - S // 2 - 1, (before,))
        shown = replace(picture, alarms=(after,))
        hands.drawn((3,), 3, NOW, (after,))
        assert isinstance(hands.press(key, NOW + READ_NS_MIN - 1, shown), Say)
        hands.drawn((3,), 3, NOW + READ_NS_MIN - 1, (after,))
        later = NOW + READ_NS_MIN + S
        assert isinstance(hands.press(key, later, shown), TakeAlarms)


def test_not_while_the_display_is_stopped(hands: Hands, picture: Picture) -> None:
    hands.hidden()
    assert isinstance(press(hands, "space", picture), Say)


def test_a_held_space_takes_one(hands: Hands, picture: Picture) -> None:
    """Keyboards repeat after 250 to 660 ms, then every 33 ms."""
    assert isinstance(hands.press("space", NOW, picture), TakeAlarms)
    rest = replace(picture, alarms=picture.alarms[1:])
    hands.drawn((4, 5), 5, NOW + 1)
    presses = [NOW + 660_000_000 + n * 33_000_000 for n in range(200)]
    assert not any(isinstance(hands.press("space", t, rest), TakeAlarms) for t in presses)
    later = presses[-1] + HELD_NS
    assert isinstance(hands.press("space", later, rest), TakeAlarms)


def test_no_alarm_waits(scenes: Any, hands: Hands) -> None:
    assert press(hands, "space", scenes.quiet()) == Say("no alarm waits")


def test_a_takes_cautions_in_view_never_a_danger(hands: Hands, picture: Picture) -> None:
    assert press(hands, "a", picture) == TakeAlarms((5,), "1 caution")


def test_a_takes_no_caution_that_is_not_on_the_screen(picture: Picture) -> None:
    hands = Hands()
    hands.drawn((3,), 3, NOW - S)
    assert isinstance(press(hands, "a", picture), Say)
    quiet = replace(picture, alarms=())
    assert press(hands, "a", quiet) == Say("no caution waits")


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


# ---------------------------------------------------------------- reset


@pytest.fixture
def latched(picture: Picture) -> Picture:
    alarms = tuple(replace(a, latched=a.number in {3, 4}) for a in picture.alarms)
    return replace(picture, alarms=alarms)


def test_one_key_silences_the_sound_and_held_it_counts_once(hands: Hands, scenes: Any) -> None:
    quiet = scenes.quiet()
    assert hands.press("l", S, quiet) == SilenceSound(60, "sound silenced for 60 s")
    for at_ns in range(S, 3 * S, 33_000_000):
        assert hands.press("l", at_ns, quiet) is None
    assert hands.press("l", 4 * S, quiet) == SilenceSound(60, "sound silenced for 60 s")
    hands.holds = False
    assert isinstance(hands.press("l", 6 * S, quiet), Say)


def test_reset_asks_for_a_numbered_reason(hands: Hands, latched: Picture) -> None:
    press(hands, "r", latched)
    alarm = hands.asked_about(latched)
    assert alarm is not None
    assert alarm.number == 3
    assert press(hands, "4", latched) is None
    assert hands.why == "mistake"
    assert press(hands, "4", latched, NOW + S) == Say("Enter resets it, Esc leaves it")
    assert press(hands, "enter", latched, NOW + S) == ResetAlarm(
        3, "mistake", "reset MOTION ALARM, 4 Alpha 2-2: mistake"
    )


@pytest.mark.parametrize("digit", ["2", "3"])
def test_nobody_who_is_inside_is_reset_as_out(hands: Hands, latched: Picture, digit: str) -> None:
    """``r`` and then, in haste, the number of a wearer: 2 is the reason "out, well"."""
    entered = tuple(replace(w, phase=Phase.ENTERED) for w in latched.wearers)
    inside = replace(latched, wearers=entered)
    no = Say("NOT DONE: 4 is inside: note out first (4 o)")
    assert press(hands, f"r {digit}", inside) == no
    assert press(hands, "enter", inside, NOW + S) is None
    assert hands.mode is Mode.MORE


def test_whoever_went_in_meanwhile_is_not_reset_as_out(hands: Hands, latched: Picture) -> None:
    out = replace(latched, wearers=tuple(replace(w, phase=Phase.OUT) for w in latched.wearers))
    entered = tuple(replace(w, phase=Phase.ENTERED) for w in latched.wearers)
    press(hands, "r 2", out)
    assert isinstance(press(hands, "enter", replace(out, wearers=entered), NOW + S), Say)


def test_a_reset_that_was_not_confirmed_lapses(hands: Hands, latched: Picture) -> None:
    press(hands, "r 4", latched)
    assert press(hands, "enter", latched, NOW + S + QUESTION_NS) is None
    assert hands.mode is Mode.MORE


def test_r_again_goes_to_the_next(hands: Hands, latched: Picture) -> None:
    assert press(hands, "r r 1 enter", latched).alarm == 4
    assert press(hands, "r r r 1 enter", latched, NOW + 10 * S).alarm == 3


def test_a_chosen_wearers_alarm_comes_first(hands: Hands, latched: Picture) -> None:
    assert press(hands, "8 r 1 enter", latched).alarm == 4


def test_no_reason_no_reset(hands: Hands, latched: Picture) -> None:
    assert press(hands, "r 9", latched) == Say("nothing done")
    assert press(hands, "r 0", latched) == Say("nothing done")


def test_nothing_is_over(hands: Hands, picture: Picture) -> None:
    assert isinstance(press(hands, "r", picture), Say)


def test_an_alarm_that_went_while_being_asked_about(hands: Hands, latched: Picture) -> None:
    press(hands, "r", latched)
    gone = replace(latched, alarms=())
    assert hands.asked_about(gone) is None
    assert press(hands, "1", gone) == Say("nothing done")


# ---------------------------------------------------------------- put aside


def test_put_aside_asks_why_and_for_how_long(hands: Hands, picture: Picture) -> None:
    assert press(hands, "p", picture) is None
    assert hands.mode.name == "ASIDE_WHY"
    assert press(hands, "2", picture) is None
    assert hands.mode.name == "ASIDE_FOR"
    words = "put aside for 20 min: NO SIGNAL, 6 Alpha 3-2"
    assert press(hands, "3", picture) == PutAsideAlarm(5, 20, "bad radio spot", words)
    assert hands.mode.name == "BOARD"


@pytest.mark.parametrize("keys", ["p 6", "p 0", "p 1 5", "p 1 0"])
def test_without_reason_or_time_nothing_is_put_aside(
    hands: Hands, picture: Picture, keys: str
) -> None:
    assert press(hands, keys, picture) == Say("nothing done")


def test_a_danger_is_never_offered(hands: Hands, picture: Picture) -> None:
    dangers = replace(picture, alarms=picture.alarms[:2])
    said = press(hands, "p", dangers)
    assert said == Say("no alarm that may be put aside: a danger never may")


def test_one_that_becomes_a_danger_while_being_asked_about(hands: Hands, picture: Picture) -> None:
    press(hands, "p 1", picture)
    worse = replace(picture.alarms[2], priority=Priority.DANGER, may_be_put_aside=False)
    assert press(hands, "2", replace(picture, alarms=(worse,))) == Say("nothing done")


def test_p_again_goes_to_the_next_and_the_chosen_wearers_comes_first(
    hands: Hands, picture: Picture
) -> None:
    also = replace(picture.alarms[2], number=9, wearers=(1,))
    two = replace(picture, alarms=(*picture.alarms, also))
    assert press(hands, "p p 1 2", two).alarm == 9
    assert press(hands, "p p p 1 2", two, NOW + 10 * S).alarm == 5
    assert press(hands, "1 p 1 2", two, NOW + 20 * S).alarm == 9


def test_let_it_come_back(hands: Hands, scenes: Any, picture: Picture) -> None:
    assert press(hands, "v", picture) == Say("nothing is put aside")
    aside = tuple(scenes.put_aside(n, "NO SIGNAL", f"{n} Alpha") for n in (6, 7))
    shown = replace(picture, put_aside=aside)
    assert press(hands, "v 1", shown) == TakeBackAlarm(6, "back again: NO SIGNAL, 6 Alpha")
    assert press(hands, "v v 1", shown).alarm == 7
    assert press(hands, "v 2", shown) == Say("nothing done")


# ---------------------------------------------------------------- an alarm by its wearer's number


def test_space_takes_the_chosen_wearers_alarm(hands: Hands, picture: Picture) -> None:
    """Seen for half a second: whoever names the wearer has read the line."""
    assert press(hands, "6 space", picture) == TakeAlarms((5,), "NO SIGNAL, 6 Alpha 3-2")
    assert hands.chosen == ()


def test_but_not_one_that_was_not_on_the_screen_for_so_long(picture: Picture) -> None:
    hands = Hands()
    hands.drawn((3, 4), 3, NOW - S)
    assert hands.press("6", NOW, picture) is None
    assert isinstance(hands.press("space", NOW, picture), Say)
    hands.drawn((3, 4, 5), 5, NOW + S)
    hands.press("6", NOW + S, picture)
    assert isinstance(hands.press("space", NOW + S + READ_NS_MIN - 1, picture), Say)
    hands.press("6", NOW + 3 * S, picture)
    assert isinstance(hands.press("space", NOW + 3 * S, picture), TakeAlarms)


def test_a_chosen_wearer_without_one_leaves_the_top_one_to_space(
    hands: Hands, picture: Picture
) -> None:
    assert press(hands, "1 space", picture) == TakeAlarms((3,), "MOTION ALARM, 4 Alpha 2-2")


def test_an_open_question_about_a_wearer_leaves_the_top_one_to_space(
    hands: Hands, picture: Picture
) -> None:
    assert press(hands, "6 g space", picture) == TakeAlarms((3,), "MOTION ALARM, 4 Alpha 2-2")
    assert hands.mode is Mode.READING


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
    for key in ("f1", "backspace", "ctrl+p"):
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
