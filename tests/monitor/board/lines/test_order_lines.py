"""Orders in their place below the alarm lines."""

from dataclasses import replace
from typing import Any

import pytest
from rich.cells import cell_len

from monitor.board.keys.hands import Hands
from monitor.board.lines.order_lines import OVER_SHOWN_NS, order_block, panel, room_for
from monitor.board.words.marks import Line, Role

S = 1_000_000_000


def text(line: Line) -> str:
    return "".join(part for part, _ in line).rstrip()


def texts(lines: list[Line]) -> list[str]:
    return [text(line) for line in lines]


def opened(picture: Any, look: Any, keys: str) -> list[str]:
    hands = Hands()
    for place, key in enumerate(keys.split()):
        hands.press(key, place * S // 2, picture)
    return texts(panel(picture, hands, look))


# ---------------------------------------------------------------- open


def test_an_open_order_says_whom_it_covers_and_what_to_say(scenes: Any) -> None:
    assert opened(scenes.quiet(), scenes.look(), "f") == [
        f"{'EVACUATE EVERYBODY UNDER AIR: 8':<69}j = SEND IT",
        "  Say: Evacuate, evacuate, evacuate. Everybody: come out now. Acknowledge.",
        "  number only that one  k crew  , another  Left Right whose order  Esc nothing",
    ]


def test_the_chosen_their_numbers_and_whose_order_it_is(scenes: Any) -> None:
    drawn = opened(scenes.quiet(), scenes.look(), "4 k comma 7 k f right")
    assert drawn[0].startswith("EVACUATE crew Alpha 2 and crew Alpha 4 (3, 4, 7, 8)  ")
    assert drawn[1] == "  on the order of command"
    assert " ".join(line.strip() for line in drawn[2:4]) == (
        "Say: Evacuate, evacuate, evacuate. Crew Alpha 2 and crew Alpha 4: come out now. "
        "Acknowledge."
    )


def test_half_a_number_is_never_shown_as_everybody(scenes: Any) -> None:
    tens = scenes.picture((scenes.wearer(12), scenes.wearer(13)))
    drawn = opened(tens, scenes.look(), "f 1")
    assert drawn[0].startswith("EVACUATE number 1_ ")
    assert "verybody" not in "".join(drawn)


def test_reasons_are_numbered_and_whole(scenes: Any) -> None:
    drawn = opened(scenes.quiet(), scenes.look(), "4 tab 1")
    assert drawn[0] == "COME OUT, whole crew of 4 Alpha 2-2: why?    0 none"
    for words in ("1 uncontrolled loss of pressure", "6 pressure to turn at is reached"):
        assert any(words in line for line in drawn)
    assert opened(scenes.quiet(), scenes.look(), "4 tab 1 3")[:2] == [
        f"{'COME OUT crew Alpha 2 (3, 4)':<69}j = SEND IT",
        "  gauge faulty or unreadable",
    ]


def test_closing_says_who_is_open(scenes: Any) -> None:
    drawn = opened(scenes.evacuation(), scenes.look(), "tab 7")
    assert drawn[:2] == [
        "CLOSE EVACUATE everybody: why?    Tab another",
        "  2 not answered, 3 answered, not out",
    ]
    hands = Hands()
    for key in ("tab", "7"):
        hands.press(key, S, scenes.evacuation())
    assert texts(panel(scenes.quiet(), hands, scenes.look()))[0] == "THIS ORDER IS OVER"


@pytest.mark.parametrize(
    "keys", ["f", "f right", "4 f", "tab", "4 k tab", "4 tab 1", "4 tab 1 4", "tab 2", "tab 7"]
)
def test_nothing_that_is_open_is_cut_at_80(scenes: Any, keys: str) -> None:
    drawn = opened(scenes.evacuation(), scenes.look(), keys)
    assert 2 <= len(drawn) <= 5
    assert not any("…" in line for line in drawn)
    assert max(cell_len(line) for line in drawn) <= 80


def test_nothing_open_takes_no_line(scenes: Any) -> None:
    assert panel(scenes.quiet(), Hands(), scenes.look()) == []


# ---------------------------------------------------------------- standing


def test_counts_words_to_say_and_who_has_not_answered_on_top(scenes: Any) -> None:
    drawn = order_block(scenes.evacuation(), scenes.look(), 10)
    assert texts(drawn) == [
        "■ EVACUATE  received 5  acknowledged 3  by voice 1  out 1 of 6  committed 2  34 s"
        .replace("committed 2", "+2"),
        "  EVACUATE, EVACUATE, EVACUATE. EVERYBODY: COME OUT NOW. ACKNOWLEDGE.",
        "  4 Alpha 2-2   received, NO ANSWER       moving  147 bar  stairs, floor 2",
        "  6 Alpha 3-2   NOT RECEIVED              moving 72 s ago  ~201 bar (72 s)",
        "  7 Alpha 4-1   by voice                  moving  207 bar",
        "  3 Alpha 2-1   acknowledged              moving  233 bar",
        "  5 Alpha 3-1   acknowledged, coming out  moving  159 bar",
        "  left out, sent in since: 1 Alpha 1-1, 2 Alpha 1-2",
    ]  # fmt: skip
    assert drawn[0][0][1] is Role.DANGER
    (words,) = drawn[1]
    assert words[1] is Role.DANGER
    assert len(words[0]) == 80


def test_before_it_is_sent_it_says_that_the_emergency_crew_comes_out_too(scenes: Any) -> None:
    told = opened(scenes.evacuation(), scenes.look(), "f")
    assert "  With the emergency crew: Alpha 1 (1, 2)" in told
    others = opened(scenes.evacuation(), scenes.look(), "4 f")
    assert not any("emergency crew" in line for line in others)
    one = opened(scenes.evacuation(), scenes.look(), "2 f")
    assert "  With the emergency crew: Alpha 1 (2)" in one


def test_a_roll_call_after_a_total_evacuation_says_whom_it_asks(scenes: Any) -> None:
    """Nobody is under air, and the ten who were brought out are to be accounted for."""
    out = tuple(replace(w, under_air=False) for w in scenes.quiet().wearers)
    picture = replace(scenes.quiet(), wearers=out, under_air=0, to_account_for=10)
    assert opened(picture, scenes.look(), "tab 2")[0].startswith(
        "ROLL CALL EVERYBODY UNDER AIR: 0, BROUGHT OUT: 10"
    )


def test_who_has_no_line_is_counted(scenes: Any) -> None:
    assert texts(order_block(scenes.evacuation(), scenes.look(), 4))[2:] == [
        "  4 Alpha 2-2   received, NO ANSWER       moving  147 bar  stairs, floor 2",
        "  + 4 more: 1 not answered, 3 not out    d all of it",
    ]


@pytest.mark.parametrize("room", range(9))
def test_never_more_lines_than_room(scenes: Any, room: int) -> None:
    evacuation = scenes.evacuation()
    (order,) = evacuation.orders
    others = tuple(replace(order, number=n, order="come out") for n in (2, 3, 4))
    over = replace(order, number=5, is_open=False, state="all out")
    for orders in ((order,), (order, *others), (over,), (order, *others, over)):
        drawn = order_block(replace(evacuation, orders=orders), scenes.look(), room)
        assert len(drawn) <= room
        assert not room or "EVACUATE" in text(drawn[0])


def test_no_orders_no_lines(scenes: Any) -> None:
    assert order_block(scenes.quiet(), scenes.look(), 10) == []


def test_another_order_keeps_a_line_beside_those_who_have_not_answered(scenes: Any) -> None:
    evacuation = scenes.evacuation()
    (order,) = evacuation.orders
    come_out = replace(order, number=2, order="come out", scope="crew Alpha 3", everybody=False)
    drawn = texts(order_block(replace(evacuation, orders=(order, come_out)), scenes.look(), 6))
    assert len(drawn) == 6
    assert drawn[2].startswith("  4 Alpha 2-2")
    assert drawn[3].startswith("  6 Alpha 3-2")
    assert drawn[5].startswith("• COME OUT  crew Alpha 3  ")


def test_all_answered_is_said_and_the_words_stay(scenes: Any) -> None:
    evacuation = scenes.evacuation()
    (order,) = evacuation.orders
    shown = replace(order, state="all answered", lines=order.lines[2:], received=6)
    drawn = texts(order_block(replace(evacuation, orders=(shown,)), scenes.look(), 10))
    assert "ALL ANSWERED" in drawn[0]
    assert "out 1 of 6" in drawn[0]
    assert "EVACUATE, EVACUATE" in drawn[1]
    assert drawn[2].startswith("  7 Alpha 4-1   by voice")


def test_an_order_that_is_over_keeps_a_line_for_two_minutes(scenes: Any) -> None:
    quiet = scenes.quiet()
    (order,) = scenes.evacuation().orders
    over = replace(order, is_open=False, state="all out", for_ns=401 * S)
    for ago_ns, shown in ((OVER_SHOWN_NS - 1, True), (OVER_SHOWN_NS, False)):
        ended = replace(over, given_at_ns=quiet.t - 401 * S - ago_ns)
        drawn = texts(order_block(replace(quiet, orders=(ended,)), scenes.look(), 5))
        assert drawn == ["• EVACUATE  everybody  committed 2  ALL OUT after 6 min 41 s"] * shown


def test_a_roll_by_crews_and_who_is_missing(scenes: Any) -> None:
    quiet = scenes.quiet()
    here = {"unanswered": False, "waits": False, "received_ns": S}
    lines = (
        scenes.order_line(quiet.wearers[4], received_ns=S),
        scenes.order_line(quiet.wearers[2], voice_ns=4 * S, **here),
        scenes.order_line(quiet.wearers[3], acknowledged_ns=3 * S, **here),
        scenes.order_line(quiet.wearers[5], voice_ns=4 * S, **here),
    )
    roll = scenes.order_view(lines, order="roll call", say="Roll call. Everybody: answer.")
    drawn = texts(order_block(replace(quiet, orders=(roll,)), scenes.look(), 5))
    assert drawn == [
        "• ROLL CALL  received 4  acknowledged 1  by voice 2  answered 3 of 4  34 s",
        "  Alpha 3 one of two, Alpha 2 two of two",
        "  5 Alpha 3-1   received, NO ANSWER       moving  159 bar",
    ]


def test_a_roll_with_more_crews_than_fit_counts_them(scenes: Any) -> None:
    crowd = scenes.many(40)
    roll = scenes.order_view(tuple(scenes.order_line(w) for w in crowd.wearers), order="roll call")
    line = texts(order_block(replace(crowd, orders=(roll,)), scenes.look(), 3))[1]
    assert line.startswith("  Alpha 1 none of two, Alpha 2 none of two")
    assert line.endswith(" more")
    assert "…" not in line


def test_a_last_word_of_motion_is_not_shown_as_live(scenes: Any) -> None:
    for motion, words in (
        ("still", "still 72 s ago"),
        ("alarm", "motion alarm 72 s ago"),
        ("unknown", "motion unknown"),
    ):
        evacuation = scenes.evacuation()
        (order,) = evacuation.orders
        lost = replace(order.lines[1], motion=motion)
        shown = replace(evacuation, orders=(replace(order, lines=(lost,)),))
        assert words in texts(order_block(shown, scenes.look(120), 4))[2]


def test_without_telemetry_only_voice_reaches(scenes: Any) -> None:
    evacuation = scenes.evacuation()
    (order,) = evacuation.orders
    silent = scenes.order_line(scenes.wearer(4, None, pack=None))
    shown = replace(evacuation, orders=(replace(order, lines=(silent,)),))
    line = texts(order_block(shown, scenes.look(), 4))[2]
    assert line == "  4 Alpha 2-2   VOICE ONLY                air unknown"


@pytest.mark.parametrize("width", [40, 60, 80, 120])
def test_lines_fit(scenes: Any, width: int) -> None:
    """Twelve of each, after 9 min 59 s, which is the longest age in words."""
    evacuation = scenes.evacuation()
    (order,) = evacuation.orders
    most = replace(
        order, of=12, received=11, acknowledged=10, by_voice=12, out=10, committed=12,
        for_ns=599 * S,
    )  # fmt: skip
    for changes in ({}, {"state": "all answered", "received": 0, "acknowledged": 0}):
        picture = replace(evacuation, orders=(replace(most, **changes),))
        for line in order_block(picture, scenes.look(width), 12):
            assert cell_len(text(line)) <= max(width, 80)


# ---------------------------------------------------------------- room


def test_the_list_keeps_a_line_for_everybody_abnormal(scenes: Any) -> None:
    """Heading, five abnormal or with a mate in danger, the rest: seven of thirteen lines."""
    trouble = scenes.trouble()
    assert room_for(trouble, 24, 0, 13, asked=False) == 6
    assert room_for(trouble, 24, 0, 9, asked=False) == 4
    assert room_for(trouble, 24, 0, 9, asked=True) == 2
    # (24 - 6) / 3 = 6, and three that alarms leave over
    assert room_for(scenes.quiet(), 24, 3, 20, asked=False) == 9
