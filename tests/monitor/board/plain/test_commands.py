"""What is typed at the plain board."""

from dataclasses import replace
from typing import Any

import pytest

from monitor.board.acts.effects import (
    Move,
    PutAsideAlarm,
    Reading,
    ResetAlarm,
    SilenceSound,
    TakeAlarms,
    TakeBackAlarm,
    WriteAct,
)
from monitor.board.plain.commands import (
    HELP,
    TYPED_MAX,
    Leave,
    LookAt,
    RecordAgain,
    command,
    start_question,
)
from monitor.incident.picture import Priority, Signal


@pytest.mark.parametrize(
    ("typed", "step", "wearers"),
    [
        ("on 4", "connect", (4,)),
        ("in 4 5", "enter", (4, 5)),
        ("reached 4 5", "objective", (4, 5)),
        ("onward 4", "new objective", (4,)),
        ("back 4", "start back", (4,)),
        ("supply 4", "other supply", (4,)),
        ("own 4", "own supply", (4,)),
        ("OUT 4", "out", (4,)),
        ("  off   4 ", "off air", (4,)),
    ],
)
def test_steps(scenes: Any, typed: str, step: str, wearers: tuple[int, ...]) -> None:
    found = command(typed, scenes.quiet())
    assert isinstance(found, Move)
    assert (found.step, found.wearers) == (step, wearers)


@pytest.mark.parametrize("typed", ["out", "out x", "out 4 x", "out 99", "out -1", "out \uff14"])
def test_a_step_needs_wearers_of_the_board(scenes: Any, typed: str) -> None:
    assert command(typed, scenes.quiet()) == ["out: say the numbers of wearers on the board."]


def test_the_gauge_at_connecting(scenes: Any) -> None:
    quiet = scenes.quiet()
    found = command("start 4 280", quiet)
    assert isinstance(found, WriteAct)
    assert found.fields == {"what": "amend_start", "wearers": (4,), "pressure_bar": 280.0}
    assert command("start 99 280", quiet) == [
        "start: say a wearer's number, then what the gauge showed at connecting."
    ]
    assert command("start 4 full", quiet) == command("start 99 280", quiet)
    assert command("start 4 905", quiet) == ["Not taken: more than any gauge shows."]


def test_a_start_far_under_what_is_believed_is_asked_about(scenes: Any) -> None:
    quiet = scenes.quiet()
    said = command("start 4 30", quiet)
    assert isinstance(said, list)
    (asked,) = said
    assert asked.startswith("Not taken yet: 30 bar is far under the ")
    assert asked.endswith(" bar of 4. If it is so: start 4 30 sure")
    found = command("start 4 30 sure", quiet)
    assert isinstance(found, WriteAct)
    assert found.fields == {"what": "amend_start", "wearers": (4,), "pressure_bar": 30.0}


def test_it_is_asked_of_whoever_has_no_live_pack(scenes: Any) -> None:
    quiet = scenes.quiet()
    one = replace(quiet.wearers[3], signal=Signal.NONE, pack=None)
    shown = replace(quiet, wearers=(*quiet.wearers[:3], one, *quiet.wearers[4:]))
    (said,) = start_question(shown, (3, 4))
    assert said == (
        "What does the gauge of 4 Alpha 2-2 show? start 4 280; "
        "until then it counts from the least fill."
    )


def test_which_gauge_counts(scenes: Any) -> None:
    quiet = scenes.quiet()
    found = command("counts 4 voice", quiet)
    assert isinstance(found, WriteAct)
    assert found.fields == {"what": "trust_gauge", "wearer": 4, "counts": "voice"}
    assert command("counts 99 pack", quiet) == [
        "counts: say a wearer's number, then pack or voice."
    ]


def test_take_takes_one(scenes: Any) -> None:
    trouble = scenes.trouble()
    first = command("take", trouble)
    assert first == TakeAlarms((3,), "MOTION ALARM, 4 Alpha 2-2")
    assert command("take 5", trouble) == TakeAlarms((5,), "NO SIGNAL, 6 Alpha 3-2")
    assert command("take 4", trouble) == ["No such alarm waits."]  # is taken already
    assert command("take the ladder", trouble) == ["No such alarm waits."]
    assert command("take", scenes.quiet()) == ["No alarm waits."]


def test_notices_are_not_there_to_be_taken(scenes: Any) -> None:
    notice = scenes.alarm(9, scenes.wearer(1), "pack battery low", priority=Priority.NOTICE)
    picture = scenes.picture((), (notice,))
    assert command("take", picture) == ["No alarm waits."]
    assert command("take 9", picture) == ["No such alarm waits."]


@pytest.mark.parametrize(("typed", "seconds"), [("silence", 60), ("silence 120", 120)])
def test_silence(scenes: Any, typed: str, seconds: int) -> None:
    found = command(typed, scenes.quiet())
    assert found == SilenceSound(seconds, f"sound silenced for {seconds} s")


@pytest.mark.parametrize("typed", ["silence 0", "silence 121", "silence x"])
def test_silence_is_short(scenes: Any, typed: str) -> None:
    assert command(typed, scenes.quiet()) == ["silence: say 1 to 120 seconds, or nothing."]


def test_reset_needs_a_reason(scenes: Any) -> None:
    trouble = scenes.trouble()
    over = replace(trouble, alarms=(replace(trouble.alarms[0], latched=True),))
    found = command("reset 3 Answered, is well", over)
    assert found == ResetAlarm(3, "Answered, is well", "reset alarm 3")
    assert command("reset 3", over) == ["Not understood: reset 3. Type help."]
    assert command("reset 3 x", trouble) == ["No such alarm waits for its reset."]


def test_put_aside_for_a_time_and_a_reason(scenes: Any) -> None:
    trouble = scenes.trouble()
    words = "put aside for 12 min: NO SIGNAL, 6 Alpha 3-2"
    found = command("aside 5 12 Crew told, at door", trouble)
    assert found == PutAsideAlarm(5, 12, "Crew told, at door", words)
    never = ["No such alarm that may be put aside. A danger never may."]
    assert command("aside 3 12 busy", trouble) == never
    assert command("aside 99 12 busy", trouble) == never
    for minutes in ("0", "31", "x"):
        assert command(f"aside 5 {minutes} busy", trouble) == [
            "aside: an alarm's number, minutes from 1 to 30, and why."
        ]
    brief = replace(trouble.alarms[2], aside_minutes_max=10)
    assert command("aside 5 11 busy", replace(trouble, alarms=(brief,))) == [
        "aside: an alarm's number, minutes from 1 to 10, and why."
    ]
    assert command("aside 5 12", trouble) == ["Not understood: aside 5 12. Type help."]


def test_let_it_come_back(scenes: Any) -> None:
    aside = (scenes.put_aside(5, "NO SIGNAL", "6 Alpha 3-2"),)
    picture = replace(scenes.quiet(), put_aside=aside)
    found = command("return 5", picture)
    assert found == TakeBackAlarm(5, "back again: NO SIGNAL, 6 Alpha 3-2")
    assert command("return 6", picture) == ["No such alarm is put aside."]
    assert command("alarms", picture) == [
        "Alarm 5, NO SIGNAL, 6 Alpha 3-2, is put aside for 10 min by R. Harrow: crew told."
    ]


def test_readings(scenes: Any) -> None:
    quiet = scenes.quiet()
    found = command("read 4 147", quiet)
    assert isinstance(found, Reading)
    assert (found.wearers, found.pressure_bar) == ((4,), 147.0)
    gauge = replace(quiet.wearers[3], unit="psi")
    mixed = replace(quiet, wearers=(*quiet.wearers[:3], gauge, *quiet.wearers[4:]))
    psi = command("read 4 2132", mixed)
    assert isinstance(psi, Reading)
    assert round(psi.pressure_bar) == 147
    assert command("read 4 451", quiet) == ["Not taken: more than any gauge shows."]
    assert command("read 99 147", quiet) == [
        "read: say a wearer's number, then what the gauge shows."
    ]


def test_the_lowest_of_a_crew(scenes: Any) -> None:
    quiet = scenes.quiet()
    assert command("lowest 4 170", quiet) == Reading(
        (3, 4), 170.0, "lowest 170 bar, crew of wearer 4", lowest=True
    )
    alone = scenes.picture((scenes.wearer(4),))
    assert command("lowest 4 170", alone) == Reading((4,), 170.0, "reading 170 bar, wearer 4")
    assert command("lowest 4 x", quiet) == [
        "lowest: say a wearer's number, then what the gauge shows."
    ]


def test_all_of_one_wearer(scenes: Any) -> None:
    quiet = scenes.quiet()
    assert command("wearer 4", quiet) == LookAt(quiet.wearers[3])
    assert command("wearer 99", quiet) == ["wearer: say a wearer's number."]
    assert command("wearer", quiet) == ["Not understood: wearer. Type help."]


def test_questions(scenes: Any) -> None:
    trouble = scenes.trouble()
    who = command("who", trouble)
    assert isinstance(who, list)
    assert len(who) == 9
    alarms = command("alarms", trouble)
    assert isinstance(alarms, list)
    assert len(alarms) == 3
    assert command("alarms", scenes.quiet()) == ["No alarm."]
    assert command("help", trouble) == list(HELP)
    assert max(map(len, HELP)) <= 80, "the narrowest screen breaks none of them"
    assert command("", trouble) == [who[-1]]


def test_leaving(scenes: Any) -> None:
    assert command("quit", scenes.quiet()) == Leave(stop=False)
    assert command("quit stop", scenes.quiet()) == Leave(stop=True)


def test_recording_again(scenes: Any) -> None:
    assert command("record", scenes.quiet()) == RecordAgain()
    assert command("record now", scenes.quiet()) == ["Not understood: record now. Type help."]


def test_rubbish_is_answered_in_one_safe_line(scenes: Any) -> None:
    (said,) = command("\x1b[2J" + "x" * 10_000, scenes.quiet())  # type: ignore[misc]
    assert "\x1b" not in said
    assert len(said) < TYPED_MAX + 50
