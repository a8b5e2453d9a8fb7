"""Each alarm of a pack and its wearer: raised, in and out of scope, cleared, latched."""

from typing import TYPE_CHECKING, Any

import pytest

from monitor.incident import events
from monitor.incident.picture import Priority
from monitor.incident.rows import Standing
from protocol.packets import Kind, Motion

if TYPE_CHECKING:
    from tests.monitor.incident.conftest import Story

S = 1_000_000_000
MIN = 60 * S


@pytest.fixture
def entered(story: "Story") -> "Story":
    """Wearers 1 and 2, one crew, with packs 101 and 102, in the hazard since 10 s."""
    story.incident.advance(10 * S)
    story.enter(1, 2)
    return story


# ---------------------------------------------------------------- distress


def test_distress_alarms_in_every_phase(story: "Story") -> None:
    story.hear(1 * S, distress=True)
    assert story.alarm("distress").subject == "pack 101"
    assert story.alarm("distress").wearers == ()
    story.list_and_join(1, 101)
    alarm = story.alarm("distress")
    assert (alarm.subject, alarm.wearers, alarm.number) == ("1 Alpha 1", (1,), 1)
    assert story.line().state == "DISTRESS"
    assert story.line().priority is Priority.DANGER


def test_distress_is_latched_and_reset_with_a_reason(entered: "Story") -> None:
    entered.hear(20 * S, distress=True)
    number = entered.alarm("distress").number
    reset = {"alarm": number, "reason": "found well"}
    assert entered.act(21 * S, events.Reset, **reset) == f"Alarm {number} still holds."
    entered.hear(22 * S, distress=False)
    alarm = entered.alarm("distress")
    assert (alarm.state, alarm.latched) == ("latched, unacknowledged", True)
    assert entered.line().state == "DISTRESS"
    why = entered.act(23 * S, events.Reset, **reset)
    assert why == f"Alarm {number} has not been taken yet."
    assert entered.take("distress") is None
    assert entered.alarm("distress").state == "latched, acknowledged"
    assert entered.act(24 * S, events.Reset, **reset) is None
    assert entered.alarms() == []
    assert entered.line().state == "ok"


def test_the_first_copy_raises_and_the_others_add_nothing(entered: "Story") -> None:
    for n in range(4):
        entered.hear(20 * S + n, kind=Kind.EVENT, distress=True)
    assert len(entered.incident.take_announcements()) == 1


def test_a_distress_that_comes_late_is_still_raised_but_not_after_its_reset(
    entered: "Story",
) -> None:
    entered.hear(20 * S, sequence=10)
    entered.hear(21 * S, sequence=8, distress=True)
    assert entered.alarm("distress").state == "latched, unacknowledged"
    entered.take("distress")
    entered.act(22 * S, events.Reset, alarm=entered.alarm("distress").number, reason="a slip")
    entered.hear(23 * S, sequence=9, distress=True)
    assert entered.alarms() == []
    entered.hear(24 * S, sequence=11, distress=True)
    assert entered.alarms() == ["distress"]


def test_a_held_frame_still_warns(entered: "Story") -> None:
    entered.hear(20 * S, standing=Standing.HELD, distress=True, motion=Motion.ALARM)
    assert sorted(entered.alarms()) == ["distress", "motion_alarm"]
    assert entered.line().air.reading_age_ns == 10 * S


def test_a_held_receipt_says_nothing(entered: "Story") -> None:
    entered.hear_receipt(20 * S, sequence=3)
    entered.events[-1].standing = Standing.HELD  # type: ignore[union-attr]
    entered.incident.apply(entered.events[-1])
    assert entered.alarms() == []


# ---------------------------------------------------------------- motion


@pytest.mark.parametrize(
    ("motion", "kind"), [(Motion.ALARM, "motion_alarm"), (Motion.PRE_ALARM, "pre_alarm")]
)
def test_a_warning_tried_at_the_door_does_not_alarm(
    story: "Story", motion: Motion, kind: str
) -> None:
    story.list_and_join(1, 101)
    story.hear(1 * S, motion=motion, low_air=True)
    assert story.alarms() == []
    story.hear(2 * S)
    story.connect(1)
    # Connected, though not noted in, a full alarm counts; who waits at the door stands still.
    story.hear(3 * S, motion=motion)
    assert story.alarms() == ([kind] if motion is Motion.ALARM else [])
    story.hear(4 * S)
    story.act(5 * S, events.Enter, wearers=(1,))
    story.hear(6 * S, motion=motion)
    assert story.alarms() == [kind]


def test_a_motion_alarm_is_latched_and_outlasts_silence(entered: "Story") -> None:
    entered.hear(20 * S, motion=Motion.ALARM)
    assert entered.alarm("motion_alarm").priority is Priority.DANGER
    assert "motion_alarm" in entered.alarms(t=10 * MIN)
    entered.hear(11 * MIN)
    assert entered.alarm("motion_alarm").latched


def test_a_pre_alarm_clears_itself_and_is_counted(entered: "Story") -> None:
    entered.hear(20 * S, motion=Motion.PRE_ALARM)
    alarm = entered.alarm("pre_alarm")
    assert (alarm.priority, alarm.word, alarm.acknowledged) == (
        Priority.NOTICE,
        "motion pre-alarm",
        True,
    )
    assert entered.line().state == "pre-alarm"
    entered.hear(25 * S, motion=Motion.PRE_ALARM)
    for t in range(26, 86, 10):
        entered.hear(t * S)
        assert "pre_alarm" in entered.alarms()
    assert "pre_alarm" not in entered.alarms(t=86 * S)
    assert entered.line().pre_alarms == 1
    assert "pre_alarm" not in {a.kind for a in entered.incident.take_announcements()}


def tell_pre_alarms(story: "Story", *starts: int) -> None:
    for start in starts:
        story.hear(start, motion=Motion.PRE_ALARM)
        story.hear(start + S)


def test_the_third_pre_alarm_in_ten_minutes_is_a_caution(entered: "Story") -> None:
    tell_pre_alarms(entered, 20 * S, 5 * MIN)
    entered.hear(20 * S + 10 * MIN, motion=Motion.PRE_ALARM)
    alarm = entered.alarm("pre_alarm")
    assert (alarm.priority, alarm.acknowledged) == (Priority.CAUTION, False)
    assert alarm.detail == "number 3 in this wear"
    entered.hear(21 * S + 10 * MIN)
    assert "pre_alarm" not in entered.alarms(t=81 * S + 10 * MIN)


def test_the_third_in_more_than_ten_minutes_is_not(entered: "Story") -> None:
    tell_pre_alarms(entered, 20 * S, 5 * MIN)
    entered.hear(20 * S + 10 * MIN + 1, motion=Motion.PRE_ALARM)
    assert entered.alarm("pre_alarm").priority is Priority.NOTICE


def test_a_pre_alarm_that_was_on_at_entering_counts(story: "Story") -> None:
    story.list_and_join(1, 101)
    story.connect(1)
    story.hear(1 * S, motion=Motion.PRE_ALARM)
    story.act(2 * S, events.Enter, wearers=(1,))
    assert story.line().pre_alarms == 1
    assert story.alarms() == ["pre_alarm"]


# ---------------------------------------------------------------- pre-alarm, then silence


def test_pre_alarm_then_silence_at_its_exact_instant(entered: "Story") -> None:
    # The rules of this story: 15 s.
    entered.hear(20 * S, motion=Motion.PRE_ALARM)
    assert entered.alarms(t=35 * S - 1) == ["pre_alarm"]
    assert entered.alarms(t=35 * S) == ["still_then_silent"]
    alarm = entered.alarm("still_then_silent")
    assert (alarm.raised_at_ns, alarm.priority) == (35 * S, Priority.DANGER)
    assert alarm.detail == "silent 15 s after a motion pre-alarm"
    assert entered.line(1).state == "STILL, SILENT"
    assert entered.line(2).state == "crew alarm"


def test_a_frame_at_that_instant_is_in_time_and_one_after_is_not(entered: "Story") -> None:
    entered.hear(20 * S, motion=Motion.PRE_ALARM)
    entered.hear(35 * S, motion=Motion.PRE_ALARM)
    assert entered.alarms() == ["pre_alarm"]
    entered.hear(50 * S + 1)
    alarm = entered.alarm("still_then_silent")
    assert (alarm.raised_at_ns, alarm.state) == (50 * S, "latched, unacknowledged")


def test_it_stays_an_alarm_when_the_signal_is_lost_too(entered: "Story") -> None:
    entered.hear(20 * S, motion=Motion.PRE_ALARM)
    # Two share the link rule: 11 x 5 s + 1 s.
    assert entered.alarms(t=20 * S + 56 * S) == ["still_then_silent", "crew_silent"]
    assert entered.line().state == "STILL, SILENT"


def test_a_stall_of_the_recorder_is_not_that_silence(entered: "Story") -> None:
    entered.hear(20 * S, motion=Motion.PRE_ALARM)
    entered.do(21 * S, events.Stall(from_ns=21 * S, to_ns=30 * S))
    assert entered.alarms(t=44 * S - 1) == ["pre_alarm"]
    assert entered.alarms(t=44 * S) == ["still_then_silent"]


def test_signed_off_in_pre_alarm_is_a_pack_off_and_not_a_silence(entered: "Story") -> None:
    entered.hear(20 * S, kind=Kind.SIGN_OFF, motion=Motion.PRE_ALARM)
    entered.hear(30 * S, 102)
    assert entered.alarms(t=36 * S) == ["pack_off", "pre_alarm"]


def test_a_pack_that_starts_anew_in_a_pre_alarm_has_only_forgotten_it(entered: "Story") -> None:
    """A sensor that has just started has not watched long enough to say that anybody moves."""
    entered.hear(20 * S, motion=Motion.PRE_ALARM)
    entered.hear(30 * S, kind=Kind.SIGN_ON, boot=2)
    alarm = entered.alarm("still_then_silent")
    assert (alarm.priority, alarm.state) == (Priority.DANGER, "latched, unacknowledged")
    assert alarm.detail == "heard again after a motion pre-alarm"
    assert entered.line().state == "STILL, SILENT"
    entered.hear(35 * S, boot=2, sequence=9)
    assert "still_then_silent" in entered.alarms(t=40 * S)


def test_it_is_not_told_twice_if_the_new_start_goes_on_in_alarm(entered: "Story") -> None:
    entered.hear(20 * S, motion=Motion.PRE_ALARM)
    entered.hear(22 * S, boot=2, motion=Motion.PRE_ALARM)
    assert entered.alarms() == ["pre_alarm"]
    entered.hear(24 * S, boot=3, motion=Motion.ALARM)
    assert entered.alarms() == ["motion_alarm"]


def test_a_new_start_after_signing_off_is_not_that(entered: "Story") -> None:
    entered.hear(20 * S, kind=Kind.SIGN_OFF, motion=Motion.PRE_ALARM)
    entered.hear(25 * S, kind=Kind.SIGN_ON, boot=2)
    # The danger of the pack that went off has been told, and waits for its key.
    assert entered.alarms() == ["pack_off", "pre_alarm"]
    assert not entered.alarm("pack_off").acknowledged


@pytest.mark.parametrize("how", ["silence", "new start", "sign-off"])
@pytest.mark.parametrize("kind", ["motion alarm", "distress"])
def test_a_latched_alarm_outlasts_whatever_the_pack_does_next(
    entered: "Story", how: str, kind: str
) -> None:
    fields = {"distress": True} if kind == "distress" else {"motion": Motion.ALARM}
    entered.hear(20 * S, **fields)
    if how == "new start":
        entered.hear(25 * S, kind=Kind.SIGN_ON, boot=2)
    elif how == "sign-off":
        entered.hear(25 * S, kind=Kind.SIGN_OFF)
    assert kind.replace(" ", "_") in entered.alarms(t=10 * MIN)
    assert entered.line().state != "ok"
    assert entered.line(2).state in {"crew alarm", "NO SIGNAL", "CREW SILENT"}


def test_outside_the_hazard_it_is_nothing(story: "Story") -> None:
    story.list_and_join(1, 101)
    story.hear(1 * S, motion=Motion.PRE_ALARM)
    assert story.alarms(t=20 * S) == []


def test_still_then_silent_counts_from_connecting_on(story: "Story") -> None:
    """Nobody may have noted them in. The rules of this story: 15 s of silence."""
    story.list_and_join(1, 101)
    story.connect(1)
    story.hear(1 * S, motion=Motion.PRE_ALARM)
    assert story.alarms(t=16 * S - 1) == []
    assert story.alarms(t=16 * S) == ["still_then_silent"]


# ---------------------------------------------------------------- the crew


def test_a_mate_of_somebody_in_danger_is_never_ok(entered: "Story") -> None:
    entered.hear(20 * S, 102)
    assert [w.state for w in entered.picture(t=21 * S).wearers] == ["ok", "ok"]
    entered.hear(22 * S, motion=Motion.ALARM)
    line = entered.line(2, t=30 * S)
    assert (line.state, line.state_for_ns, line.priority) == ("crew alarm", 8 * S, None)
    assert entered.alarm("motion_alarm").mates == ((2, "Alpha 2", 290.0),)


@pytest.mark.parametrize(
    ("fields", "kind"),
    [
        ({"distress": True}, "distress"),
        ({"motion": Motion.ALARM}, "motion_alarm"),
        ({"low_air": True}, "low_air"),
        ({"pressure_dbar": 900}, "low_air"),
        ({"kind": Kind.SIGN_OFF}, "pack_off"),
    ],
)
@pytest.mark.parametrize("phase", ["entered", "out"])
def test_whatever_the_danger_its_mate_is_never_ok(
    entered: "Story", fields: dict[str, Any], kind: str, phase: str
) -> None:
    entered.hear(20 * S, boot=2)
    entered.hear(20 * S, 102)
    if phase == "out":
        entered.act(21 * S, events.ComeOut, wearers=(2,))
    entered.hear(22 * S, **({"boot": 2} | fields))
    assert kind in entered.alarms()
    entered.take(kind)
    assert (entered.line(2).state, entered.line(2).crew_alarm) == ("crew alarm", True)


def test_a_mates_own_caution_comes_before_the_crews_danger(entered: "Story") -> None:
    entered.hear(50 * S, motion=Motion.ALARM)
    assert entered.line(2, t=66 * S).state == "NO SIGNAL"


def test_another_crew_stays_as_it_was(entered: "Story") -> None:
    entered.list_and_join(3, 103, crew="Alpha 2")
    entered.hear(21 * S, 103)
    entered.connect(3)
    entered.hear(22 * S, distress=True)
    assert entered.line(3).state == "ok"


# ---------------------------------------------------------------- waiting


def test_a_danger_that_waits_is_announced_again_every_thirty_seconds(entered: "Story") -> None:
    entered.hear(20 * S, distress=True)
    entered.incident.take_announcements()
    assert not entered.alarm("distress", t=50 * S - 1).insistent
    assert entered.alarm("distress", t=50 * S).insistent
    (said,) = entered.incident.take_announcements()
    assert (said.kind, said.t, said.again) == ("distress", 50 * S, True)
    entered.hear(55 * S, 102)
    entered.incident.advance(79 * S)
    entered.take("distress")
    entered.incident.advance(90 * S)
    assert [s.kind for s in entered.incident.take_announcements() if s.again] == []
