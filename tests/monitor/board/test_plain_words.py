"""What the plain board says: one sentence an event."""

from dataclasses import replace
from typing import Any

from monitor.board import plain_words
from monitor.incident.picture import AirFrom, LinkView, Phase, Priority, Signal, UnjoinedView


def test_first_comes_the_caution_then_what_stands(scenes: Any) -> None:
    said = plain_words.first_sentences(scenes.trouble())
    assert "not a certified safety device" in said[0]
    assert said[2] == "Kiln Lane, entry A, EXERCISE."
    assert "OPEN: packs are not authenticated." in said
    assert said[-1] == ("EXERCISE. Under air 8, out 3, signals 7 of 8, 3 alarms, 2 not taken.")


def test_a_real_incident_and_an_unnamed_door(scenes: Any) -> None:
    said = plain_words.first_sentences(replace(scenes.quiet(), use="real", entry_point=""))
    assert "Kiln Lane, entry not named, REAL." in said
    assert not any("OPEN" in sentence for sentence in said)
    assert said[-1].startswith("Under air 8")


def test_an_alarm(scenes: Any) -> None:
    alarm = scenes.trouble().alarms[0]
    assert plain_words.alarm_sentence(alarm) == (
        "DANGER 3, MOTION ALARM: 4 Alpha 2-2, last at stairs, floor 2, 147 bar, for 34 s. "
        "call the crew; emergency crew; tell command. Not taken."
    )


def test_the_first_alarms_are_said_in_the_unit_in_force(scenes: Any) -> None:
    """147 bar x 14.5038 psi/bar = 2132.06 psi (NIST SP 811)."""
    said = plain_words.first_sentences(replace(scenes.trouble(), pressure_unit="psi"))
    assert any("MOTION ALARM" in sentence and "2132 psi" in sentence for sentence in said)


def test_an_estimate_is_called_one(scenes: Any) -> None:
    lost = scenes.trouble().alarms[2]
    assert "estimated 201 bar" in plain_words.alarm_sentence(lost)
    wearer = scenes.trouble().wearers[5]
    assert plain_words.wearer_sentence(wearer) == (
        "6 Alpha 3-2: NO SIGNAL for 27 s, estimated 201 bar, read 1 min 12 s ago, no signal."
    )


def test_voice_and_unknown_air(scenes: Any) -> None:
    spoken = scenes.wearer(1, air=scenes.air(140, AirFrom.VOICE, 5), signal=Signal.BY_VOICE)
    assert "by voice 140 bar" in plain_words.wearer_sentence(spoken)
    assert "air unknown" in plain_words.wearer_sentence(scenes.wearer(1, None))


def test_notices_have_no_level_and_wait_for_nobody(scenes: Any) -> None:
    notice = scenes.alarm(9, scenes.wearer(1), "pack battery low", priority=Priority.NOTICE)
    sentence = plain_words.alarm_sentence(notice)
    assert sentence.startswith("9, pack battery low")
    assert "Not taken" not in sentence


def test_nothing_new_nothing_said(scenes: Any) -> None:
    quiet = scenes.quiet()
    assert plain_words.sentences(quiet, replace(quiet, t=quiet.t + scenes.S)) == []


def test_a_new_alarm_then_taken_then_over_then_gone(scenes: Any) -> None:
    quiet, trouble = scenes.quiet(), scenes.trouble()
    said = plain_words.sentences(quiet, trouble)
    assert said[0].startswith("DANGER 3, MOTION ALARM")
    taken = replace(trouble, alarms=(replace(trouble.alarms[0], acknowledged=True),))
    over = replace(taken, alarms=(replace(taken.alarms[0], latched=True),))
    before = replace(trouble, alarms=trouble.alarms[:1])
    assert plain_words.sentences(before, taken) == ["Alarm 3, MOTION ALARM, taken."]
    assert plain_words.sentences(taken, over) == [
        "Alarm 3, MOTION ALARM, is over and waits for its reset."
    ]
    assert plain_words.sentences(over, replace(over, alarms=())) == [
        "Alarm 3, MOTION ALARM, 4 Alpha 2-2, has gone."
    ]


def test_an_alarm_that_becomes_more_urgent_is_said_again(scenes: Any) -> None:
    trouble = scenes.trouble()
    worse = replace(trouble.alarms[2], priority=Priority.DANGER)
    said = plain_words.sentences(trouble, replace(trouble, alarms=(*trouble.alarms[:2], worse)))
    assert said[0].startswith("DANGER 5, NO SIGNAL")


def test_wearers_links_packs_holder_and_close(scenes: Any) -> None:
    quiet = scenes.quiet()
    out = replace(quiet.wearers[0], phase=Phase.OUT, state="out", under_air=False)
    new = replace(
        quiet,
        wearers=(out, *quiet.wearers[1:]),
        links=(LinkView(1, "udp 0.0.0.0:41900", up=False, detail=""),),
        unjoined=(UnjoinedView(4799, 203.0, 0, Signal.HEARD),),
        holder="S. Moss",
        closed=True,
    )
    said = plain_words.sentences(quiet, new)
    assert said[0].startswith("1 Alpha 1-1: out for")
    assert said[1:] == [
        "Link udp 0.0.0.0:41900 is DOWN.",
        "Pack 4799 is heard and joined to nobody.",
        "S. Moss has the board.",
        "The incident is closed.",
    ]
    assert "Nobody has the board." in plain_words.sentences(quiet, replace(quiet, holder=""))
