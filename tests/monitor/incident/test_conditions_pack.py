"""What is an alarm of a pack: its battery, its identity, whether it is proven."""

from typing import TYPE_CHECKING

import pytest

from monitor.incident import events
from monitor.incident.picture import AirFrom, Priority, Signal
from monitor.incident.rows import Standing
from protocol.packets import Motion

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
    entered.hear(20 * S, battery_percent=15)
    assert entered.line().state == "battery low"
    assert entered.line(t=40 * S).state == "signal gap"


def test_two_packs_with_one_identity_until_enrolled_again(entered: "Story") -> None:
    entered.hear(20 * S, boot=7)
    entered.hear(21 * S, boot=3, standing=Standing.OLD, pressure_dbar=500)
    alarm = entered.alarm("same_identity")
    assert (alarm.priority, alarm.wearers, alarm.subject) == (Priority.CAUTION, (1,), "1 Alpha 1")
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


def test_a_recording_of_each_pack_costs_one_line_and_goes_after_a_minute(entered: "Story") -> None:
    for pack in (101, 102):
        entered.hear(20 * S, pack, boot=7)
    entered.hear(21 * S, 101, boot=3, standing=Standing.OLD)
    entered.hear(22 * S, 102, boot=3, standing=Standing.OLD)
    alarm = entered.alarm("same_identity")
    assert (alarm.wearers, alarm.subject) == ((1, 2), "Alpha 2, Alpha 1")
    entered.take("same_identity")
    # One more asks for attention again, but not at the pace of whoever plays them.
    entered.hear(30 * S, 150, boot=7)
    entered.hear(31 * S, 150, boot=3, standing=Standing.OLD)
    alarm = entered.alarm("same_identity")
    assert (alarm.acknowledged, alarm.subject) == (True, "Alpha 2, Alpha 1, pack 150")
    for pack, gone in ((101, 81), (102, 82), (150, 91)):
        entered.hear(gone * S - 1, pack, boot=7)
        assert "same_identity" in entered.alarms(t=gone * S - 1)
    # What had joined too soon was told a minute after the line last began to wait, at 81 s.
    alarm = entered.alarm("same_identity", t=91 * S)
    assert (alarm.state, alarm.subject) == ("returned, unacknowledged", "pack 150")
    entered.take("same_identity")
    assert "same_identity" not in entered.alarms()
    assert entered.line().signal is Signal.HEARD


def test_one_more_pack_in_doubt_after_a_minute_waits_anew(entered: "Story") -> None:
    for pack in (101, 102):
        entered.hear(20 * S, pack, boot=7)
    entered.hear(21 * S, 101, boot=3, standing=Standing.OLD_NOW)
    entered.take("same_identity")
    entered.hear(81 * S - 1, 102, boot=7)
    entered.hear(81 * S, 102, boot=3, standing=Standing.OLD_NOW)
    assert not entered.alarm("same_identity").acknowledged


def test_old_numbers_with_a_recent_beacon_are_no_recording_and_stay(entered: "Story") -> None:
    entered.hear(20 * S, boot=7)
    entered.hear(21 * S, boot=3, standing=Standing.OLD_NOW)
    entered.hear(600 * S, boot=7)
    assert "same_identity" in entered.alarms()
    assert entered.line().signal is Signal.NOT_PROVEN


def test_a_pack_whose_numbers_went_back_and_that_has_no_rival_has_lost_its_counter(
    story: "Story",
) -> None:
    story.list_and_join(1, 101)
    story.hear(5 * S, boot=3, standing=Standing.OLD_NOW)
    alarm = story.alarm("counter_lost")
    assert (alarm.priority, alarm.wearers) == (Priority.CAUTION, (1,))
    assert story.line().state == "COUNTER LOST"
    # Somebody else under that identity after all.
    story.hear(8 * S, boot=9)
    story.hear(10 * S, boot=3, standing=Standing.OLD_NOW)
    assert story.alarm("same_identity").wearers == (1,)
    assert story.alarm("counter_lost").state == "returned, unacknowledged"


def test_a_lost_counter_is_one_line_while_its_frames_come(entered: "Story") -> None:
    """Heard until 20 s; from 25 s on its numbers are old. At 51 s its silence would be NO SIGNAL.

    Until then it may be another pack. Three reports of 5 s without a frame, and 1 s, are silence.
    """
    for t in range(5, 25, 5):
        entered.hear(t * S, sequence=500 + t)
        entered.hear(t * S, 102)
    for t in range(25, 125, 5):
        entered.hear(t * S, 101, Standing.OLD_NOW, sequence=t)
        entered.hear(t * S, 102)
        lines = [a.kind for a in entered.picture().alarms if a.state == "unacknowledged"]
        assert lines == (["same_identity"] if t < 51 else ["counter_lost"]), t
    assert "no_signal" not in entered.alarms(t=136 * S - 1)
    entered.hear(130 * S, 102)
    assert "no_signal" in entered.alarms(t=136 * S)


def test_a_recording_keeps_nobodys_silence_back(entered: "Story") -> None:
    """Frames of before without a beacon of now: whoever has recorded some may play them."""
    entered.hear(20 * S, sequence=500)
    entered.hear(21 * S, 101, Standing.OLD_NOW, sequence=7)
    for t in range(22, 52, 3):
        entered.hear(t * S, 101, Standing.OLD, sequence=t)
        entered.hear(t * S, 102)
    assert "no_signal" in entered.alarms(t=51 * S)


def test_a_pack_that_starts_three_times_within_a_minute(entered: "Story") -> None:
    entered.hear(20 * S, boot=7)
    assert entered.alarms() == []
    for n in range(2):
        entered.hear(30 * S + n * 250_000_000, boot=8 + n, standing=Standing.NOT_PROVEN)
    assert entered.alarm("restarting").wearers == (1,)
    entered.take("restarting")
    assert "restarting" in entered.alarms(t=90 * S)
    assert "restarting" not in entered.alarms(t=90 * S + 250_000_000)
    # Switched off and on again by hand, twice, is nothing.
    entered.hear(200 * S, boot=10)
    entered.hear(230 * S, boot=11)
    assert "restarting" not in entered.alarms()


def test_strangers_in_distress_share_one_line(story: "Story") -> None:
    story.list_and_join(1, 101)
    for n in range(8):
        story.hear(n * S, 900 + n, standing=Standing.UNPROVEN_DISTRESS, distress=True)
    story.hear(9 * S, 101, standing=Standing.UNPROVEN_DISTRESS, distress=True)
    assert sorted(story.alarms()) == ["strangers", "unproven_distress"]
    alarm = story.alarm("strangers")
    assert (alarm.subject, alarm.wearers, alarm.priority) == ("8 packs", (), Priority.CAUTION)
    assert alarm.detail == ", ".join(f"pack {900 + n}" for n in range(8))
    # Who turns out to belong to somebody here has a line of their own.
    story.list_and_join(2, 900)
    assert story.alarm("strangers").subject == "7 packs"
    assert story.alarm("unproven_distress").wearers == (1, 2)


def test_a_motion_alarm_without_proof_warns_of_somebody_inside(story: "Story") -> None:
    """A pack that the base hears but that hears no beacons is never proven."""
    story.list_and_join(1, 101)
    story.hear(5 * S, standing=Standing.NOT_PROVEN, motion=Motion.ALARM)
    assert story.alarms() == []
    story.connect()
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
def test_a_distress_without_proof_is_a_danger_until_the_officer_ends_it(
    story: "Story", standing: Standing
) -> None:
    story.list_and_join(1, 101)
    story.hear(5 * S, standing=standing, distress=True)
    alarm = story.alarm("unproven_distress")
    assert (alarm.priority, alarm.wearers) == (Priority.DANGER, (1,))
    story.take("unproven_distress")
    story.hear(20 * S, standing=standing, distress=True)
    reset = {"alarm": alarm.number, "reason": "spoke with them"}
    assert story.act(80 * S - 1, events.Reset, **reset) == f"Alarm {alarm.number} still holds."
    alarm = story.alarm("unproven_distress", t=80 * S)
    assert (alarm.latched, alarm.priority) == (True, Priority.DANGER)
    assert story.line().state == "DISTRESS?"
    assert story.act(90 * S, events.Reset, **reset) is None
    assert "unproven_distress" not in story.alarms()


def test_two_doubts_are_forgotten_each_after_its_own_quiet_minute(story: "Story") -> None:
    story.hear(5 * S, standing=Standing.NOT_PROVEN)
    assert story.picture().unjoined[0].signal is Signal.NOT_PROVEN
    story.hear(20 * S, standing=Standing.UNPROVEN_DISTRESS, distress=True)
    story.take("strangers")
    assert story.picture(t=65 * S).unjoined[0].signal is Signal.NEVER
    assert story.alarms(t=80 * S - 1) == ["strangers"]
    assert story.alarms(t=80 * S) == []


def test_a_battery_that_is_nearly_flat_inside_is_a_caution(story: "Story") -> None:
    story.list_and_join(1, 101)
    story.hear(1 * S, battery_percent=5)
    story.connect()
    assert story.alarms() == ["battery_low"]
    story.act(2 * S, events.Enter, wearers=(1,))
    assert story.alarms() == ["battery_flat"], "one battery is one line"
    assert story.alarm("battery_flat").detail == "5 %"
    story.hear(6 * S, battery_percent=9)
    assert story.alarms() == ["battery_low"]


def test_reports_that_come_too_seldom_under_air_are_a_caution(story: "Story") -> None:
    """The packet format: at most 10 s under air. At the door a pack may save its battery."""
    story.list_and_join(1, 101)
    story.hear(1 * S, interval_s=11)
    assert story.alarms() == []
    story.connect()
    assert story.alarms() == ["slow_reports"]
    assert story.alarm("slow_reports").detail == "a report each 11 s, at most 10 s"
    story.hear(6 * S, interval_s=10)
    assert story.alarms() == []
