"""What the plain board says: one sentence an event."""

from dataclasses import replace
from datetime import UTC
from itertools import pairwise
from typing import Any

from monitor.board.plain import words as plain_words
from monitor.incident.picture import AirFrom, LinkView, Phase, Priority, Signal, UnjoinedView


def test_first_comes_the_caution_then_what_stands(scenes: Any) -> None:
    said = plain_words.first_sentences(scenes.trouble())
    assert "not a certified safety device" in said[0]
    assert said[2] == "Kiln Lane, entry A, EXERCISE."
    assert "OPEN: packs are not authenticated." in said
    assert said[-1] == (
        "EXERCISE. Under air 8, out 3, signals 7 of 8, 3 alarms, 2 not taken, emergency crew NONE."
    )


def test_a_real_incident_and_an_unnamed_door(scenes: Any) -> None:
    said = plain_words.first_sentences(replace(scenes.quiet(), use="real", entry_point=""))
    assert "Kiln Lane, entry not named, REAL." in said
    assert not any("OPEN" in sentence for sentence in said)
    assert said[-1].startswith("Under air 8")


def test_an_alarm(scenes: Any) -> None:
    alarm = scenes.trouble().alarms[0]
    assert plain_words.alarm_sentence(alarm, scenes.trouble()) == (
        "DANGER 3, MOTION ALARM: 4 Alpha 2-2, last at stairs, floor 2, 147 bar, for 34 s. "
        "call the crew; emergency crew; tell command. Not taken."
    )


def test_pressure_is_said_in_the_unit_of_the_wearers_gauge(scenes: Any) -> None:
    """147 bar x 14.5038 psi/bar = 2132.06 psi (NIST SP 811)."""
    trouble = scenes.trouble()
    psi = replace(trouble.wearers[3], unit="psi")
    said = plain_words.first_sentences(
        replace(trouble, wearers=(*trouble.wearers[:3], psi, *trouble.wearers[4:]))
    )
    assert "2132 psi" in plain_words.wearer_sentence(psi)
    assert any("MOTION ALARM" in sentence and "2132 psi" in sentence for sentence in said)


def test_an_estimate_is_called_one(scenes: Any) -> None:
    lost = scenes.trouble().alarms[2]
    assert "estimated 201 bar" in plain_words.alarm_sentence(lost, scenes.trouble())
    wearer = scenes.trouble().wearers[5]
    assert plain_words.wearer_sentence(wearer) == (
        "6 Alpha 3-2: NO SIGNAL for 27 s, estimated 201 bar, read 1 min 12 s ago, "
        "turn-back in about 8 min (forecast), no signal."
    )


def test_voice_and_unknown_air(scenes: Any) -> None:
    spoken = scenes.wearer(1, air=scenes.air(140, AirFrom.VOICE, 5), signal=Signal.BY_VOICE)
    assert "by voice 140 bar" in plain_words.wearer_sentence(spoken)
    assert "air unknown" in plain_words.wearer_sentence(scenes.wearer(1, None))


def test_notices_have_no_level_and_wait_for_nobody(scenes: Any) -> None:
    notice = scenes.alarm(9, scenes.wearer(1), "pack battery low", priority=Priority.NOTICE)
    sentence = plain_words.alarm_sentence(notice, scenes.quiet())
    assert sentence.startswith("9, pack battery low")
    assert "Not taken" not in sentence


def test_nothing_new_nothing_said(scenes: Any) -> None:
    quiet = scenes.quiet()
    assert plain_words.sentences(quiet, replace(quiet, t=quiet.t + scenes.S)) == []


def test_put_aside_then_back_or_gone(scenes: Any) -> None:
    trouble = scenes.trouble()
    lost = replace(trouble, alarms=trouble.alarms[2:])
    aside = replace(lost, alarms=(), put_aside=(scenes.put_aside(5, "NO SIGNAL", "6 Alpha 3-2"),))
    sentence = "Alarm 5, NO SIGNAL, 6 Alpha 3-2, is put aside for 10 min by R. Harrow: crew told."
    assert plain_words.sentences(lost, aside) == [sentence]
    assert sentence in plain_words.first_sentences(aside)
    assert plain_words.summary(aside).endswith(
        "0 alarms, 0 not taken, 1 put aside, emergency crew NONE."
    )
    assert plain_words.sentences(aside, aside) == []
    (back,) = plain_words.sentences(aside, lost)
    assert back.startswith("CAUTION 5, NO SIGNAL: 6 Alpha 3-2")
    gone = replace(aside, put_aside=())
    assert plain_words.sentences(aside, gone) == ["Alarm 5, NO SIGNAL, 6 Alpha 3-2, has gone."]


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


def test_how_alarms_are_heard(scenes: Any) -> None:
    quiet = scenes.quiet()
    assert "Sound on." in plain_words.first_sentences(quiet)
    assert "Sound on." not in plain_words.first_sentences(replace(quiet, closed=True))
    failing = replace(quiet, sound="failing")
    assert plain_words.sentences(quiet, failing) == ["NO SOUND: boards ring their bell."]
    hushed = [
        replace(quiet, sounding=replace(quiet.sounding, silenced_ns=ns))
        for ns in (0, 60_000_000_000, 59_000_000_000, 60_000_000_000, 0)
    ]
    said = [plain_words.sentences(old, new) for old, new in pairwise(hushed)]
    silenced = ["Sound is silenced for 1 min 0 s."]
    assert said == [silenced, [], silenced, ["Sound is no longer silenced."]]


def test_all_of_a_wearer_in_sentences(scenes: Any) -> None:
    """The forecast of the scene is 147.04 bar less 0.19, 0.14 and 0.1 bar a second.

    After 6, 13 and 20 min that is 78, 96, 111; 0, 37, 69; 0, 0, 27.
    """
    picture = scenes.trouble()
    said = plain_words.all_of_wearer(picture.wearers[3], scenes.detail(), picture, UTC)
    assert said == [
        (
            "4 Alpha 2-2: MOTION ALARM for 34 s, 147 bar, read 1 s ago, "
            "turn-back in 0 min (forecast), signal."
        ),
        (
            "Signal: silent 2 s, limit 46 s, frames 290 taken, 10 lost (4 %), 0 late, -71 dBm, "
            "motion moving, 0 pre-alarms, battery 80 %, last place stairs, floor 2 (14:19)."
        ),
        "Turn back at 143 bar.",
        "Rate 47 L/min, mean 51 L/min.",
        "14:15 gone in.",
        "14:24 204 bar by voice.",
        "14:25 objective reached at 199 bar.",
        "14:31 MOTION ALARM.",
        "No reading from 14:22 to 14:25.",
        (
            "Forecast for 14:38: at least 78 bar in nine cases of ten, 96 in one of two, "
            "111 in one of ten."
        ),
        (
            "Forecast for 14:45: at least 0 bar in nine cases of ten, 37 in one of two, "
            "69 in one of ten."
        ),
        (
            "Forecast for 14:52: at least 0 bar in nine cases of ten, 0 in one of two, "
            "27 in one of ten."
        ),
        "Turn-back: 143 bar, double air for the way back; No 3 has the least margin.",
        "Low air: 105 bar, 35 % of 300 bar.",
        "Next: 0 min, to turn-back by forecast: one in ten wearers would be earlier.",
        "Median: 1 min, to turn-back: every second wearer would be earlier.",
        "Rate: 47 L/min, over the last minute; 51 L/min since connecting.",
        "Table: 14:39, low air: 295 bar x 6.8 L at 50 L/min, less the margin.",
        "Real gas: 14:38, low air: 1,880 L usable at 50 L/min.",
    ]


def test_all_of_a_wearer_off_air(scenes: Any) -> None:
    off = scenes.wearer(1, None, under_air=False)
    off = replace(off, air=replace(off.air, turn_bar=None))
    said = plain_words.all_of_wearer(off, None, scenes.picture((off,)), UTC)
    assert len(said) == 2


def test_what_to_do_ends_with_one_full_stop(scenes: Any) -> None:
    trouble = scenes.trouble()
    alarm = replace(trouble.alarms[0], to_do="Call. Note the gauge reading.")
    assert plain_words.alarm_sentence(alarm, trouble).endswith(
        ". Call. Note the gauge reading. Not taken."
    )
    taken = replace(alarm, acknowledged=True)
    assert plain_words.alarm_sentence(taken, trouble).endswith(". Call. Note the gauge reading.")


def several(scenes: Any, **changes: Any) -> Any:
    """A danger about five wearers, as the fold words it."""
    people = [scenes.wearer(n) for n in range(1, 6)]
    usual = {
        "wearers": (1, 2, 3, 4, 5), "subject": "5 of 8", "crew": "", "air": None,
        "detail": "Alpha 1-1, Alpha 1-2, Alpha 2-1, Alpha 2-2, Alpha 3-1",
    }  # fmt: skip
    return scenes.alarm(9, people[0], "SEVERAL SILENT", **{**usual, **changes})


def test_of_several_it_is_said_who_they_are(scenes: Any) -> None:
    said = plain_words.alarm_sentence(several(scenes), scenes.quiet())
    assert said.startswith("DANGER 9, SEVERAL SILENT: 5 of 8, Alpha 1-1, Alpha 1-2, Alpha 2-1, ")


def test_an_alarm_that_was_taken_and_waits_anew_is_said_again(scenes: Any) -> None:
    taken = several(scenes, acknowledged=True)
    quiet = scenes.quiet()
    before = replace(quiet, alarms=(taken,))
    now = replace(quiet, alarms=(several(scenes, detail="air low by estimate, 1: Alpha 1-2"),))
    (said,) = plain_words.sentences(before, now)
    assert said.startswith("DANGER 9, SEVERAL SILENT: 5 of 8, air low by estimate, 1: Alpha 1-2, ")
    assert said.endswith("Not taken.")
    assert plain_words.sentences(now, now) == []


def test_many_who_come_to_be_the_same_at_once_are_one_sentence(scenes: Any) -> None:
    quiet = scenes.quiet()
    silent = tuple(
        replace(w, state="NO SIGNAL", state_for_ns=0) if w.wearer <= 5 else w for w in quiet.wearers
    )
    assert plain_words.sentences(quiet, replace(quiet, wearers=silent)) == [
        "Now NO SIGNAL: 1 Alpha 1-1, 2 Alpha 1-2, 3 Alpha 2-1, 4 Alpha 2-2, 5 Alpha 3-1."
    ]
    four = tuple(
        replace(w, state="NO SIGNAL", state_for_ns=0) if w.wearer <= 4 else w for w in quiet.wearers
    )
    said = plain_words.sentences(quiet, replace(quiet, wearers=four))
    assert len(said) == 4
    assert all("bar" in sentence for sentence in said), "of a few each with their air"
