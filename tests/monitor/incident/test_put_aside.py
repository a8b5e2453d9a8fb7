"""Putting an alarm aside for a time: what may be, how it ends, where it is seen."""

from typing import TYPE_CHECKING, Any

import pytest
from pydantic import ValidationError

from monitor.incident import events
from monitor.incident.picture import Priority, PutAsideView
from protocol.packets import Motion

if TYPE_CHECKING:
    from tests.monitor.incident.conftest import Story

S = 1_000_000_000
MIN = 60 * S
LOST = 31 * S
"""Six reports at 5 s and a second."""


@pytest.fixture
def lost(story: "Story") -> "Story":
    """Wearer 1 in the hazard and out of signal since 31 s; alarm 1."""
    story.enter(1)
    assert story.alarms(t=LOST) == ["no_signal"]
    story.incident.take_announcements()
    return story


def put_aside(story: "Story", t: int, minutes: int = 5, alarm: int = 1) -> str | None:
    return story.act(t, events.PutAside, alarm=alarm, minutes=minutes, reason="crew told")


def test_it_is_in_view_with_who_and_why_and_until_when(lost: "Story") -> None:
    assert lost.alarm("no_signal").aside_minutes_max == 30
    assert put_aside(lost, 50 * S) is None
    picture = lost.picture(t=60 * S)
    assert picture.alarms == ()
    assert picture.put_aside == (
        PutAsideView(
            number=1,
            word="NO SIGNAL",
            subject="1 Alpha 1",
            wearers=(1,),
            holds=True,
            until_ns=350 * S,
            left_ns=290 * S,
            by="R. Harrow",
            reason="crew told",
        ),
    )
    # The row still says what the link is: what was not heard is never "ok".
    assert lost.line().state == "no signal"


def test_it_comes_back_at_its_exact_time(lost: "Story") -> None:
    put_aside(lost, 50 * S)
    assert lost.alarms(t=350 * S - 1) == []
    assert lost.alarms(t=350 * S) == ["no_signal"]
    alarm = lost.alarm("no_signal")
    assert (alarm.number, alarm.acknowledged) == (1, False)
    (said,) = lost.incident.take_announcements()
    assert (said.kind, said.t) == ("no_signal", 350 * S)
    assert lost.picture().put_aside == ()


def test_what_has_gone_meanwhile_does_not_come_back(lost: "Story") -> None:
    put_aside(lost, 50 * S)
    lost.hear(100 * S)
    (view,) = lost.picture().put_aside
    assert not view.holds
    lost.hear(340 * S)
    assert lost.alarms(t=350 * S) == []
    assert lost.picture().put_aside == ()


def test_the_officer_takes_it_back(lost: "Story") -> None:
    put_aside(lost, 50 * S)
    assert lost.act(60 * S, events.TakeBack, alarm=1) is None
    assert not lost.alarm("no_signal").acknowledged
    put_aside(lost, 70 * S, minutes=10)
    # The first time set is not the one that counts.
    assert lost.alarms(t=350 * S) == []
    assert lost.alarms(t=670 * S) != []


def test_the_longest_time() -> None:
    who = {"id": "act-000001", "by": "R. Harrow", "alarm": 1, "reason": "crew told"}
    for minutes in (1, 30):
        assert events.PutAside.model_validate({**who, "minutes": minutes}).minutes == minutes
    for wrong in ({"minutes": 0}, {"minutes": 31}, {"minutes": 5, "reason": ""}):
        with pytest.raises(ValidationError):
            events.PutAside.model_validate({**who, **wrong})


def test_low_air_by_estimate_ends_it(lost: "Story") -> None:
    """29.0 MPa of 6.8 L at 100 L/min reach 105 bar in about 11 min (1250 L)."""
    put_aside(lost, 50 * S, minutes=30)
    while not lost.alarms() and lost.now < 30 * MIN:
        lost.incident.advance(lost.now + S)
    assert 10 * MIN < lost.now < 14 * MIN
    alarm = lost.alarm("no_signal")
    assert (alarm.priority, alarm.acknowledged) == (Priority.DANGER, False)
    assert lost.picture().put_aside == ()
    assert put_aside(lost, lost.now) == "A danger is never put aside."


@pytest.mark.parametrize("ends", ["off air", "other pack"])
def test_it_is_about_this_wear_and_this_pack(lost: "Story", ends: str) -> None:
    put_aside(lost, 50 * S, minutes=30)
    if ends == "off air":
        lost.act(60 * S, events.ComeOut, wearers=(1,))
        lost.act(61 * S, events.OffAir, wearers=(1,))
        assert lost.alarms() == []
    else:
        lost.act(60 * S, events.JoinPack, wearer=1, pack=150)
        assert "no_signal" in lost.alarms(t=60 * S + LOST)
    assert lost.picture().put_aside == ()


def test_three_silent_together_are_a_danger_though_one_is_put_aside(lost: "Story") -> None:
    put_aside(lost, 50 * S, minutes=30)
    lost.list_and_join(2, 102)
    lost.list_and_join(3, 103)
    lost.list_and_join(4, 104)
    for pack in (102, 103, 104):
        lost.hear(60 * S, pack)
    lost.connect(2, 3, 4)
    # Shared by four the limit is longer: 12 x 5 s + 1 s.
    assert "several_silent" in lost.alarms(t=60 * S + 61 * S)
    assert lost.incident.take_refusals() == ()


@pytest.mark.parametrize(
    ("fields", "kind"),
    [
        ({"distress": True}, "distress"),
        ({"low_air": True}, "low_air"),
        ({"pressure_dbar": 500}, "low_air"),
    ],
)
def test_a_danger_is_never_put_aside(story: "Story", fields: dict[str, Any], kind: str) -> None:
    story.enter(1)
    story.hear(5 * S, **fields)
    assert story.alarms() == [kind]
    assert story.alarm(kind).aside_minutes_max == 0
    assert put_aside(story, 6 * S) == "A danger is never put aside."
    assert story.alarms() == [kind]


def test_nor_is_what_warns_of_a_motion_alarm(story: "Story") -> None:
    story.enter(1)
    story.hear(5 * S, motion=Motion.PRE_ALARM)
    assert put_aside(story, 6 * S) == "Motion pre-alarm is never put aside."


def test_other_reasons_to_refuse(lost: "Story") -> None:
    assert put_aside(lost, 50 * S, alarm=9) == "There is no alarm 9 any more."
    assert lost.act(50 * S, events.TakeBack, alarm=1) == "Alarm 1 is not put aside."
    assert lost.act(50 * S, events.TakeBack, alarm=9) == "Alarm 9 is not put aside."
    why = lost.act(50 * S, events.PutAside, alarm=1, minutes=5, reason="told", seen_ns=30 * S)
    assert why == "Alarm 1 came again after what was on the screen."
    assert put_aside(lost, 50 * S) is None
    assert put_aside(lost, 51 * S) == "Alarm 1 is put aside already."
