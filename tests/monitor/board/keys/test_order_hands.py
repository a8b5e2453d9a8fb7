"""The keys of orders: what sends, and above all what does not."""

from dataclasses import replace
from typing import Any

import pytest

from monitor.board.acts.effects import (
    AnswerForThem,
    CloseAnOrder,
    CrewState,
    EmergencyState,
    GiveAnOrder,
    Say,
    TakeAlarms,
)
from monitor.board.acts.questions import Mode
from monitor.board.keys.hands import Hands
from monitor.board.keys.order_hands import (
    IN_ORDER,
    NO_ORDER,
    NOT_SENT,
    ORDER_READ_NS,
    QUESTION_NS,
)
from monitor.board.keys.table import BY_NAME, KEYS
from monitor.incident.picture import Picture

S = 1_000_000_000
NOW = 100 * S
APART_NS = 300_000_000
"""Between two keys that somebody presses on purpose."""
ALL = GiveAnOrder("evacuate", (), "everybody", "", "", "EVACUATE everybody")
ROWS = ("qwertyuiop", "asdfghjkl", "zxcvbnm"), ("azertyuiop", "qsdfghjklm", "wxcvbn")
"""Letters as they stand on QWERTY and AZERTY; on QWERTZ only y and z change places."""


@pytest.fixture
def picture(scenes: Any) -> Picture:
    shown: Picture = scenes.quiet()
    return shown


def press(hands: Hands, keys: str, picture: Picture, now_ns: int = NOW) -> Any:
    """Press keys one after the other; an order that is open is drawn after each, as a board does.

    Gives what the last one brought about.
    """
    effect = None
    for place, key in enumerate(keys.split()):
        at_ns = now_ns + place * APART_NS
        effect = hands.press(key, at_ns, picture)
        if hands.mode is Mode.ORDER:
            hands.order_drawn(at_ns)
    return effect


# ---------------------------------------------------------------- evacuate


def test_evacuate_all_is_two_presses(picture: Picture) -> None:
    assert press(Hands(), "f j", picture) == ALL


def test_the_two_keys_are_not_beside_one_another() -> None:
    """At least two keys lie between them, in one row, wherever letters stand."""
    (first,), (second,) = BY_NAME["f"].names, BY_NAME["j"].names
    for rows in ROWS:
        (row,) = [row for row in rows if first in row]
        assert abs(row.index(first) - row.index(second)) >= 3


@pytest.mark.parametrize(
    ("keys", "wearers", "scope"),
    [
        ("4 f j", (4,), "Alpha 2-2"),
        ("f 4 j", (4,), "Alpha 2-2"),
        ("4 k f j", (3, 4), "crew Alpha 2"),
        ("f 4 k j", (3, 4), "crew Alpha 2"),
        ("4 k comma 7 k f j", (3, 4, 7, 8), "crew Alpha 2 and crew Alpha 4"),
        ("f 4 k comma 7 j", (3, 4, 7), "crew Alpha 2 and Alpha 4-1"),
        ("4 comma 7 f j", (4, 7), "Alpha 2-2 and Alpha 4-1"),
    ],
)
def test_selected(picture: Picture, keys: str, wearers: tuple[int, ...], scope: str) -> None:
    effect = press(Hands(), keys, picture)
    assert isinstance(effect, GiveAnOrder)
    assert (effect.order, effect.wearers, effect.scope) == ("evacuate", wearers, scope)


@pytest.mark.parametrize(
    ("keys", "whose"),
    [
        ("f right j", "command"),
        ("f right right j", "another entry point"),
        ("f left j", "another entry point"),
        ("f right left j", ""),
    ],
)
def test_given_elsewhere(picture: Picture, keys: str, whose: str) -> None:
    assert press(Hands(), keys, picture) == replace(ALL, on_order_of=whose)


# ---------------------------------------------------------------- what never sends


@pytest.mark.parametrize("name", sorted({name for key in KEYS for name in key.names} - {"j"}))
def test_no_other_key_sends(picture: Picture, name: str) -> None:
    """Neither alone, nor twice, nor before or behind the key that opens."""
    for keys in (name, f"{name} {name}", f"f {name}", f"f {name} {name}", f"{name} f {name}"):
        assert not isinstance(press(Hands(), keys, picture), GiveAnOrder)


@pytest.mark.parametrize(
    "name",
    [n for key in KEYS for n in key.names if key.does not in IN_ORDER] + ["f1", "ctrl+p", "z"],
)
def test_a_key_between_closes_it_and_does_nothing_else(picture: Picture, name: str) -> None:
    """``4 f o j``: nobody is logged out and nobody evacuated."""
    hands = Hands()
    between = press(hands, f"4 f {name}", picture)
    assert between == Say(f"{NOT_SENT}: another key closed the order")
    assert (hands.mode, hands.chosen) == (Mode.BOARD, ())
    assert press(hands, "j", picture, NOW + S) == Say(NO_ORDER)


@pytest.mark.parametrize(
    "sweep", ["a s d f g h j k l", "l k j h g f d s a", "f g h j", "q f t g h j m", "d f comma j"]
)
def test_a_sleeve_across_the_keys_sends_nothing(picture: Picture, sweep: str) -> None:
    hands = Hands()
    for place, key in enumerate(sweep.split()):
        effect = hands.press(key, NOW + place * 250_000_000, picture)
        assert not isinstance(effect, GiveAnOrder)
        if hands.mode is Mode.ORDER:
            hands.order_drawn(NOW + place * 250_000_000)


def test_both_keys_struck_together_send_nothing_however_long_they_are_held(
    picture: Picture,
) -> None:
    """An arm on the keyboard: f and j within 20 ms, then j again and again, as keyboards do."""
    hands = Hands()
    hands.press("f", NOW, picture)
    hands.order_drawn(NOW)
    times = [NOW + 20_000_000, *(NOW + 270_000_000 + n * 33_000_000 for n in range(300))]
    effects = [hands.press("j", t, picture) for t in times]
    assert not any(isinstance(effect, GiveAnOrder) for effect in effects)
    assert press(hands, "f j", picture, times[-1] + 1) == ALL


def test_held_keys_open_one_order_and_send_one(picture: Picture) -> None:
    """A held f leaves it open as it was; a held j, once it has sent, sends no other."""
    hands = Hands()
    times = [NOW, *(NOW + 500_000_000 + n * 33_000_000 for n in range(60))]
    for t in times:
        hands.press("f", t, picture)
        hands.order_drawn(t)
    assert (hands.mode, hands.draft.order) == (Mode.ORDER, "evacuate")
    assert hands.until_ns == NOW + QUESTION_NS
    sends = [hands.press("j", t + 3 * S, picture) for t in times]
    assert sends[0] == ALL
    assert not any(isinstance(effect, GiveAnOrder) for effect in sends[1:])


def test_only_what_has_stood_on_the_screen_is_sent(picture: Picture) -> None:
    for seen_ns, after_ns, sent in (
        (NOW, ORDER_READ_NS - 1, False),
        (NOW, ORDER_READ_NS, True),
        (None, S, False),
    ):
        hands = Hands()
        hands.press("f", NOW, picture)
        if seen_ns is not None:
            hands.order_drawn(seen_ns)
        effect = hands.press("j", NOW + after_ns, picture)
        assert isinstance(effect, GiveAnOrder) is sent


def test_after_ten_seconds_it_is_gone(picture: Picture) -> None:
    for after_ns, sent in ((QUESTION_NS - 1, True), (QUESTION_NS, False)):
        hands = Hands()
        press(hands, "f", picture)
        effect = hands.press("j", NOW + after_ns, picture)
        assert (effect == ALL) is sent
        assert (effect == Say(NO_ORDER)) is not sent


def test_a_number_of_nobody_never_becomes_everybody(scenes: Any) -> None:
    quiet = scenes.quiet()
    hands = Hands()
    assert press(hands, "f 9", quiet) == Say(
        f"{NOT_SENT}: no wearer has number 9; nobody is chosen"
    )
    assert hands.mode is Mode.BOARD
    tens = scenes.picture((scenes.wearer(12), scenes.wearer(13)))
    hands = Hands()
    assert press(hands, "f 1 j", tens) == Say(f"{NOT_SENT}: no wearer has number 1")
    assert press(Hands(), "f 1 2 j", tens).wearers == (12,)
    hands = Hands()
    assert press(hands, "1 2 f comma 1 j", tens) == Say(f"{NOT_SENT}: no wearer has number 1")


@pytest.mark.parametrize("key", ["k", "comma"])
def test_the_crew_of_nobody_closes_it(picture: Picture, key: str) -> None:
    hands = Hands()
    assert isinstance(press(hands, f"f {key}", picture), Say)
    assert press(hands, "j", picture, NOW + S) == Say(NO_ORDER)


def test_a_board_that_only_looks_opens_nothing(picture: Picture) -> None:
    for keys in ("f j", "tab 2 j", "4 minus"):
        hands = Hands(holds=False)
        effect = press(hands, keys, picture)
        assert isinstance(effect, Say)
        assert effect.words.startswith("VIEW ONLY")
        assert hands.mode is Mode.BOARD


def test_alarms_can_be_taken_while_an_order_is_open(scenes: Any) -> None:
    trouble = scenes.trouble()
    hands = Hands()
    hands.drawn((3, 4, 5), 3, NOW - S)
    press(hands, "f", trouble)
    assert isinstance(hands.press("space", NOW + S, trouble), TakeAlarms)
    assert isinstance(hands.press("a", NOW + S, trouble), TakeAlarms)
    assert hands.press("j", NOW + 2 * S, trouble) == ALL


# ---------------------------------------------------------------- the others


def test_come_out_is_for_the_whole_crew_with_a_reason(picture: Picture) -> None:
    """Reasons of national guidance on the withdrawal of wearers, the third: the gauge."""
    assert press(Hands(), "4 tab 1 3 j", picture) == GiveAnOrder(
        "come out",
        (3, 4),
        "crew Alpha 2",
        "gauge faulty or unreadable",
        "",
        "COME OUT crew Alpha 2",
    )
    assert press(Hands(), "4 tab 1 0 j", picture).reason == ""
    assert press(Hands(), "4 tab 1 7", picture) == Say("nothing done")
    assert press(Hands(), "tab 1", picture) == Say("come out: first the number of a wearer")


def test_evacuate_instead_of_come_out_keeps_who_is_chosen(picture: Picture) -> None:
    effect = press(Hands(), "4 k tab 1 3 f j", picture)
    assert (effect.order, effect.wearers, effect.reason) == ("evacuate", (3, 4), "")


def test_roll_call_and_test(picture: Picture) -> None:
    roll = press(Hands(), "tab 2 j", picture)
    assert (roll.order, roll.wearers, roll.scope) == ("roll call", (), "everybody")
    assert press(Hands(), "4 tab 3 j", picture).wearers == (4,)


def test_an_emergency_crew_is_one_act_each(picture: Picture) -> None:
    states: dict[str, CrewState] = {"4": "ready", "5": "committed", "6": "stood down"}
    for digit, state in states.items():
        effect = press(Hands(), f"7 tab {digit}", picture)
        assert effect == EmergencyState("Alpha 4", state, f"emergency crew {state}: Alpha 4")
    assert isinstance(press(Hands(), "tab 4", picture), Say)
    assert press(Hands(), "4 comma 7 tab 4", picture) == Say("emergency crew: one crew at a time")
    alone = replace(picture, wearers=tuple(replace(w, crew="") for w in picture.wearers))
    assert press(Hands(), "7 tab 4", alone) == Say("this wearer has no crew")


def test_answered_by_voice_is_two_keys_for_a_wearer_three_for_a_crew(scenes: Any) -> None:
    picture = scenes.evacuation()
    assert press(Hands(), "6 minus", picture) == AnswerForThem(
        1, (6,), "by voice: 6 Alpha 3-2: evacuate"
    )
    # Of Alpha 2 wearer 3 has pressed the button: the answer of the crew is that of the other.
    assert press(Hands(), "4 k minus", picture).wearers == (4,)
    # Whoever has pressed the button may still answer by voice; once.
    assert press(Hands(), "3 minus", picture).wearers == (3,)
    assert press(Hands(), "7 minus", picture) == Say("no order waits for 7 Alpha 4-1")
    # The committed are not asked.
    assert isinstance(press(Hands(), "1 k minus", picture), Say)
    assert isinstance(press(Hands(), "minus", picture), Say)


def test_an_answer_goes_to_the_order_that_waits_for_it(scenes: Any) -> None:
    evacuation = scenes.evacuation()
    waits = scenes.order_line(evacuation.wearers[6])
    roll = scenes.order_view((waits,), number=2, order="roll call")
    picture = replace(evacuation, orders=(*evacuation.orders, roll))
    assert press(Hands(), "7 minus", picture).order == 2
    assert press(Hands(), "6 minus", picture).order == 1


def test_closing_needs_a_reason_and_tab_asks_about_the_next(scenes: Any) -> None:
    evacuation = scenes.evacuation()
    (order,) = evacuation.orders
    roll = scenes.order_view(order.lines, number=2, order="roll call")
    picture = replace(evacuation, orders=(order, roll))
    assert press(Hands(), "tab 7 2", picture) is None
    assert press(Hands(), "tab 7 2 2", picture) == Say("Enter closes it, Esc leaves it")
    assert press(Hands(), "tab 7 2 enter", picture) == CloseAnOrder(
        1, "accounted for elsewhere", "close EVACUATE everybody: accounted for elsewhere"
    )
    assert press(Hands(), "tab 7 tab 5 enter", picture).order == 2
    assert press(Hands(), "tab 7 tab tab 5 enter", picture).order == 1
    for digit in ("0", "6"):
        assert press(Hands(), f"tab 7 {digit}", picture) == Say("nothing done")
    assert press(Hands(), "tab 7", scenes.quiet()) == Say("no order stands")


def test_an_order_that_is_over_meanwhile_is_not_closed(scenes: Any) -> None:
    hands = Hands()
    press(hands, "tab 7", scenes.evacuation())
    assert press(hands, "2", scenes.quiet(), NOW + S) == Say("nothing done")
    press(hands, "tab 7 2", scenes.evacuation(), NOW + 2 * S)
    gone = Say("nothing done: it has gone")
    assert press(hands, "enter", scenes.quiet(), NOW + 4 * S) == gone


def test_d_alone_goes_through_the_orders(scenes: Any) -> None:
    evacuation = scenes.evacuation()
    (order,) = evacuation.orders
    picture = replace(evacuation, orders=(order, replace(order, number=5)))
    hands = Hands()
    seen = []
    for _ in range(4):
        press(hands, "d", picture)
        seen.append(hands.listed)
    assert seen == [1, 5, None, 1]
    hands.more = True
    press(hands, "d", picture)
    assert (hands.listed, hands.page) == (1, 1)
    press(hands, "4 d", picture)
    assert (hands.watched, hands.listed, hands.page) == (4, None, 0)
    hands = Hands()
    press(hands, "d escape", picture)
    assert hands.listed is None


def test_keys_keep_their_meaning_while_an_order_is_listed(scenes: Any) -> None:
    picture = scenes.evacuation()
    hands = Hands()
    assert press(hands, "d 6 minus", picture) == AnswerForThem(
        1, (6,), "by voice: 6 Alpha 3-2: evacuate"
    )
    assert hands.listed == 1
    assert press(hands, "f j", picture, NOW + 3 * S) == ALL
