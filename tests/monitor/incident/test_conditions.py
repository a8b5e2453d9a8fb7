"""Each alarm of a pack and its wearer: raised, in and out of scope, cleared, latched."""

from typing import TYPE_CHECKING, Any

import pytest

from monitor.incident import events
from monitor.incident.picture import AirFrom, Priority, Signal
from monitor.incident.rows import Standing
from protocol.packets import Apparatus, Equipment, Kind, Motion

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
    story.hear(3 * S, motion=motion)
    assert story.alarms() == []
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
    entered.hear(26 * S)
    assert entered.alarms() == []
    assert entered.line().pre_alarms == 1
    assert entered.incident.take_announcements() == ()


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
    assert "pre_alarm" not in entered.alarms()


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
    assert entered.alarms(t=20 * S + 56 * S) == ["still_then_silent", "no_signal", "no_signal"]
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
    assert entered.alarms() == ["pack_off"]
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
    assert entered.line(2).state in {"crew alarm", "NO SIGNAL"}


def test_outside_the_hazard_it_is_nothing(story: "Story") -> None:
    story.list_and_join(1, 101)
    story.connect(1)
    story.hear(1 * S, motion=Motion.PRE_ALARM)
    assert story.alarms(t=20 * S) == []


# ---------------------------------------------------------------- low air


def low_at(story: "Story", t: int, dbar: int, *, low_air: bool = False) -> list[str]:
    story.hear(t, pressure_dbar=dbar, low_air=low_air)
    return story.alarms()


def test_low_air_at_the_value_and_not_above(entered: "Story") -> None:
    # 35 % of 300 bar = 105 bar.
    assert low_at(entered, 20 * S, 1051) == []
    assert low_at(entered, 25 * S, 1050) == ["low_air"]
    assert entered.alarm("low_air").detail == "105 bar, low at 105 bar"
    assert entered.line().state == "LOW AIR"


def test_low_air_does_not_chatter_and_a_new_cylinder_ends_it(entered: "Story") -> None:
    low_at(entered, 20 * S, 1050)
    assert low_at(entered, 25 * S, 1052) == ["low_air"]
    assert low_at(entered, 26 * S, 1048) == ["low_air"]
    assert len(entered.incident.take_announcements()) == 1
    entered.take("low_air")
    assert low_at(entered, 30 * S, 1249) == ["low_air"]
    # It is over; that the gauge rose is told instead.
    assert low_at(entered, 35 * S, 1250) == ["gauge"]
    assert "low_air" in low_at(entered, 40 * S, 1049)


def test_it_stays_when_the_pack_is_taken_from_the_wearer(entered: "Story") -> None:
    entered.hear(15 * S, pressure_dbar=900)
    entered.act(16 * S, events.JoinPack, wearer=1, pack=None)
    # No reading is left, so nothing says that the air is better.
    assert entered.line().state == "LOW AIR"
    assert not entered.alarm("low_air").acknowledged
    cylinder = Equipment(Apparatus.OPEN_CIRCUIT, 3000, 680, None)
    entered.hear(17 * S, 150, equipment=cylinder, pressure_dbar=2900)
    entered.act(17 * S, events.JoinPack, wearer=1, pack=150)
    assert entered.line().state != "LOW AIR"


def test_the_packs_own_flag_is_enough(entered: "Story") -> None:
    assert low_at(entered, 20 * S, 1500, low_air=True) == ["low_air"]
    assert entered.alarm("low_air").detail == "150 bar, low at 105 bar, the pack's own warning"


def test_off_air_ends_it(entered: "Story") -> None:
    low_at(entered, 20 * S, 900)
    entered.take("low_air")
    entered.act(30 * S, events.ComeOut, wearers=(1,))
    assert entered.alarms() == ["low_air"]
    entered.act(40 * S, events.OffAir, wearers=(1,))
    assert entered.alarms() == []


# Two sets in one crew with warnings at 22 % and 33 %: each alarms at its own value (42 CFR 84.83,
# present and former text).
@pytest.mark.parametrize(("low_dbar", "above", "at"), [(660, 661, 660), (990, 991, 990)])
def test_the_cylinders_own_value_comes_first(
    story: "Story", low_dbar: int, above: int, at: int
) -> None:
    story.list_and_join(1, 101)
    own = Equipment(Apparatus.OPEN_CIRCUIT, 3000, 680, low_dbar)
    story.hear(1 * S, kind=Kind.SIGN_ON, equipment=own)
    story.connect(1)
    assert story.line().air.low_air_bar == low_dbar / 10
    assert low_at(story, 5 * S, above) == []
    assert low_at(story, 10 * S, at) == ["low_air"]


def test_the_check_in_overrides_what_the_pack_says_of_its_cylinder(story: "Story") -> None:
    story.act(0, events.ListWearer, wearer=1, name="Wearer 1")
    story.act(0, events.JoinPack, wearer=1, pack=101, water_volume_l=9, rated_bar=200)
    own = Equipment(Apparatus.OPEN_CIRCUIT, 3000, 680, None)
    story.hear(1 * S, kind=Kind.SIGN_ON, equipment=own, pressure_dbar=2000)
    story.connect(1)
    air = story.line().air
    assert (air.rated_bar, air.low_air_bar, air.fraction) == (200, 70, 1)
    # 9 L at 200 bar gauge and 30 C, between 1664 (20 C) and 1567 (40 C) litres usable.
    assert air.contents_l is not None
    assert 1567 < air.contents_l < 1708


def test_an_unknown_cylinder_alarms_by_its_flag_only(story: "Story") -> None:
    story.list_and_join(1, 101)
    story.hear(1 * S)
    story.connect(1)
    assert low_at(story, 5 * S, 100) == []
    assert low_at(story, 10 * S, 90, low_air=True) == ["low_air"]
    assert low_at(story, 15 * S, 90, low_air=False) == ["low_air"]
    assert story.alarm("low_air").state == "returned, unacknowledged"


def test_a_reading_told_no_more_is_kept_with_its_age(entered: "Story") -> None:
    entered.hear(20 * S, pressure_dbar=None)
    air = entered.line(t=21 * S).air
    assert (air.reading_bar, air.reading_age_ns) == (290, 11 * S)


# ---------------------------------------------------------------- spoken readings


def test_the_lower_of_voice_and_telemetry_governs_until_telemetry_agrees(entered: "Story") -> None:
    entered.act(11 * S, events.SpokenReading, wearers=(1,), pressure_bar=200)
    assert (entered.line().air.source, entered.line().air.pressure_bar) == (AirFrom.VOICE, 200)
    entered.hear(15 * S, pressure_dbar=2890)
    assert entered.line().air.reading_bar == 200
    # Agrees within 10 bar.
    entered.hear(20 * S, pressure_dbar=2100)
    assert (entered.line().air.source, entered.line().air.pressure_bar) == (
        AirFrom.TELEMETRY,
        210,
    )


def test_a_higher_word_within_the_tolerance_counts_as_the_lower_figure(entered: "Story") -> None:
    entered.act(20 * S, events.SpokenReading, wearers=(1,), pressure_bar=300)
    air = entered.line().air
    assert (air.source, air.pressure_bar, air.reading_age_ns) == (AirFrom.VOICE, 290, 0)


def test_a_pack_that_tells_no_pressure_settles_nothing(story: "Story") -> None:
    story.list_and_join(1, 101)
    story.hear(1 * S, pressure_dbar=None)
    story.connect(1)
    story.act(5 * S, events.SpokenReading, wearers=(1,), pressure_bar=200)
    story.hear(6 * S, pressure_dbar=None)
    assert story.line().air.source is AirFrom.VOICE


def test_the_gas_temperature_told_counts_and_is_the_procedures_where_untold(
    entered: "Story",
) -> None:
    # 6.8 L, 300 bar: 1658 L at 40 C, 1826 L at 15 C (computed with CoolProp).
    entered.hear(20 * S, pressure_dbar=3000, gas_temperature_c=40)
    assert entered.line().air.contents_l == pytest.approx(1658, rel=0.003)
    entered.hear(25 * S, pressure_dbar=3000, gas_temperature_c=15)
    assert entered.line().air.contents_l == pytest.approx(1826, rel=0.003)
    entered.hear(30 * S, pressure_dbar=3000, gas_temperature_c=None)
    at_30_c = entered.line().air.contents_l
    assert at_30_c is not None
    assert 1658 < at_30_c < 1826


def test_a_word_far_above_telemetry_does_not_raise_the_air(entered: "Story") -> None:
    entered.hear(15 * S, pressure_dbar=1500)
    entered.act(16 * S, events.SpokenReading, wearers=(1,), pressure_bar=161)
    air = entered.line().air
    assert (air.source, air.pressure_bar) == (AirFrom.TELEMETRY, 150)


def test_low_air_by_voice(story: "Story") -> None:
    story.act(0, events.ListWearer, wearer=1, name="Wearer 1")
    story.act(0, events.JoinPack, wearer=1, pack=None, water_volume_l=6.8, rated_bar=300)
    story.connect(1, pressure_bar=290)
    assert story.line().air.source is AirFrom.ENTRY
    story.act(5 * MIN, events.SpokenReading, wearers=(1,), pressure_bar=105, location="stairs")
    assert story.alarms() == ["low_air"]
    assert story.line().location == "stairs"


def test_a_spoken_reading_falls_as_an_estimate_and_then_is_a_danger(story: "Story") -> None:
    story.act(0, events.ListWearer, wearer=1, name="Wearer 1")
    story.act(0, events.JoinPack, wearer=1, pack=None, water_volume_l=6.8, rated_bar=300)
    story.connect(1, pressure_bar=290)
    assert story.line(t=16 * S).air.source is AirFrom.ESTIMATE
    assert story.alarm("no_word", t=10 * MIN).priority is Priority.CAUTION
    assert story.alarm("no_word", t=20 * MIN).priority is Priority.DANGER


# ---------------------------------------------------------------- battery, identity, proof


def test_battery_low_is_a_notice(entered: "Story") -> None:
    entered.hear(20 * S, battery_percent=21)
    assert entered.alarms() == []
    entered.hear(25 * S, battery_percent=20)
    alarm = entered.alarm("battery_low")
    assert (alarm.priority, alarm.word, alarm.detail) == (
        Priority.NOTICE,
        "pack battery low",
        "20 %",
    )
    entered.hear(30 * S, battery_percent=None)
    assert entered.alarms() == []


def test_a_notice_never_hides_the_link(entered: "Story") -> None:
    entered.hear(20 * S, battery_percent=5)
    assert entered.line().state == "battery low"
    assert entered.line(t=40 * S).state == "signal gap"


def test_two_packs_with_one_identity_until_enrolled_again(entered: "Story") -> None:
    entered.hear(20 * S, boot=7)
    entered.hear(21 * S, boot=3, standing=Standing.OLD, pressure_dbar=500)
    alarm = entered.alarm("same_identity")
    assert alarm.priority is Priority.DANGER
    assert entered.line().air.reading_bar == 290
    entered.take("same_identity")
    assert entered.act(25 * S, events.EnrolAgain, pack=101) is None
    assert entered.alarms() == []
    entered.hear(26 * S, boot=3, sequence=1, pressure_dbar=500)
    assert entered.line().air.reading_bar == 50


def test_what_one_of_two_packs_says_is_not_shown_as_live(entered: "Story") -> None:
    entered.hear(20 * S, boot=7)
    entered.hear(21 * S, boot=3, standing=Standing.OLD, pressure_dbar=500)
    entered.hear(22 * S, boot=7, sequence=9)
    line = entered.line()
    assert line.signal is Signal.NOT_PROVEN
    assert line.air.source is AirFrom.ESTIMATE
    entered.act(23 * S, events.EnrolAgain, pack=101)
    entered.hear(24 * S, boot=7, sequence=10)
    assert entered.line().signal is Signal.HEARD
    assert entered.line().air.source is AirFrom.TELEMETRY


def test_a_motion_alarm_without_proof_warns_of_somebody_inside(story: "Story") -> None:
    """A pack that the base hears but that hears no beacons is never proven."""
    story.list_and_join(1, 101)
    story.connect()
    story.hear(5 * S, standing=Standing.NOT_PROVEN, motion=Motion.ALARM)
    assert story.alarms() == []
    story.act(6 * S, events.Enter, wearers=(1,))
    story.hear(10 * S, standing=Standing.NOT_PROVEN, motion=Motion.ALARM)
    assert story.alarm("unproven_distress").wearers == (1,)
    # One that nobody wears, and that says no distress, may lie on a shelf.
    story.hear(11 * S, 150, standing=Standing.NOT_PROVEN, motion=Motion.ALARM)
    assert story.alarms().count("unproven_distress") == 1


def test_frames_without_proof_alarm_after_thirty_seconds(story: "Story") -> None:
    story.list_and_join(1, 101)
    for n in range(6):
        story.hear(n * 5 * S, standing=Standing.NOT_PROVEN)
    assert story.line().signal is Signal.NOT_PROVEN
    assert story.alarms(t=30 * S) == []
    story.hear(30 * S, standing=Standing.NOT_PROVEN)
    assert story.alarms() == ["not_proven"]
    assert story.line().air.source is AirFrom.NOWHERE
    story.hear(31 * S)
    assert story.alarm("not_proven").state == "returned, unacknowledged"
    assert story.line().signal is Signal.HEARD


def test_frames_without_proof_that_stop_are_forgotten_after_a_minute(story: "Story") -> None:
    for n in range(8):
        story.hear(n * 5 * S, standing=Standing.NOT_PROVEN)
    story.incident.advance(36 * S)
    story.take("not_proven")
    assert story.alarms(t=95 * S - 1) == ["not_proven"]
    assert story.alarms(t=95 * S) == []
    # A new run has its own thirty seconds.
    story.hear(100 * S, standing=Standing.NOT_PROVEN)
    story.hear(130 * S - 1, standing=Standing.NOT_PROVEN)
    assert story.alarms() == []
    story.hear(130 * S, standing=Standing.NOT_PROVEN)
    assert story.alarms() == ["not_proven"]


def test_a_single_frame_without_proof_is_forgotten(story: "Story") -> None:
    story.hear(0, standing=Standing.NOT_PROVEN)
    for t in (30, 59, 60, 61, 200):
        assert story.alarms(t=t * S) == []


def test_an_echo_ends_the_run(story: "Story") -> None:
    story.hear(0, standing=Standing.NOT_PROVEN)
    story.hear(20 * S, standing=Standing.LIVE)
    story.hear(40 * S, standing=Standing.NOT_PROVEN)
    assert story.alarms() == []


@pytest.mark.parametrize(
    "standing", [Standing.UNPROVEN_DISTRESS, Standing.NOT_PROVEN, Standing.OLD]
)
def test_a_distress_without_proof_is_a_caution_until_a_quiet_minute(
    story: "Story", standing: Standing
) -> None:
    story.list_and_join(1, 101)
    story.hear(5 * S, standing=standing, distress=True)
    alarm = story.alarm("unproven_distress")
    assert (alarm.priority, alarm.wearers) == (Priority.CAUTION, (1,))
    story.take("unproven_distress")
    story.hear(20 * S, standing=standing, distress=True)
    assert "unproven_distress" in story.alarms(t=80 * S - 1)
    assert "unproven_distress" not in story.alarms(t=80 * S)


def test_two_doubts_are_forgotten_each_after_its_own_quiet_minute(story: "Story") -> None:
    story.hear(5 * S, standing=Standing.NOT_PROVEN)
    assert story.picture().unjoined[0].signal is Signal.NOT_PROVEN
    story.hear(20 * S, standing=Standing.UNPROVEN_DISTRESS, distress=True)
    story.take("unproven_distress")
    assert story.picture(t=65 * S).unjoined[0].signal is Signal.NEVER
    assert story.alarms(t=80 * S - 1) == ["unproven_distress"]
    assert story.alarms(t=80 * S) == []


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
        ({"boot": 1, "standing": Standing.OLD}, "same_identity"),
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
