"""The keys of alarms, key by key; time is handed in."""

from dataclasses import replace
from typing import Any

import pytest

from monitor.board.acts.effects import (
    PutAsideAlarm,
    ResetAlarm,
    Say,
    SilenceSound,
    TakeAlarms,
    TakeBackAlarm,
)
from monitor.board.acts.questions import Mode
from monitor.board.keys.alarm_hands import ASKED_NS, HELD_NS, READ_NS_MIN
from monitor.board.keys.hands import Hands
from monitor.board.keys.order_hands import QUESTION_NS
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


def test_one_whose_answer_is_on_its_way_is_not_asked_for_twice(
    hands: Hands, picture: Picture
) -> None:
    """The second act would come back as not taken, of an alarm that is."""
    hands.drawn((3, 4, 5), 3, NOW - 1, picture.alarms)
    assert isinstance(hands.press("space", NOW, picture), TakeAlarms)
    hands.drawn((3, 4, 5), 3, NOW + S, picture.alarms)
    assert isinstance(hands.press("space", NOW + S, picture), Say)
    assert isinstance(hands.press("space", NOW + ASKED_NS - 1, picture), Say)


def test_one_that_nobody_answered_for_can_be_asked_for_again(
    hands: Hands, picture: Picture
) -> None:
    assert isinstance(hands.press("space", NOW, picture), TakeAlarms)
    assert isinstance(hands.press("space", NOW + ASKED_NS, picture), TakeAlarms)


def test_one_that_waits_anew_can_be_asked_for_at_once(hands: Hands, picture: Picture) -> None:
    waits = picture.alarms
    taken = (replace(waits[0], acknowledged=True), *waits[1:])
    hands.drawn((3, 4, 5), 3, NOW - S, waits)
    assert isinstance(hands.press("space", NOW, picture), TakeAlarms)
    hands.drawn((3, 4, 5), 4, NOW + S // 2, taken)
    hands.drawn((3, 4, 5), 3, NOW + S, waits)
    assert isinstance(hands.press("space", NOW + 2 * S, picture), TakeAlarms)


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
    worse = replace(picture.alarms[2], priority=Priority.DANGER, aside_minutes_max=0)
    assert press(hands, "2", replace(picture, alarms=(worse,))) == Say("nothing done")


def test_no_longer_time_is_offered_than_the_alarm_may_be_put_aside_for(
    hands: Hands, picture: Picture
) -> None:
    short = replace(picture, alarms=(replace(picture.alarms[2], aside_minutes_max=10),))
    assert press(hands, "p 1 3", short) == Say("nothing done")
    assert press(hands, "p 1 2", short).minutes == 10


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
