"""A pack that nobody on the board has: in use, or only switched on, tried out, cooling, bled."""

from typing import TYPE_CHECKING

import pytest

from monitor.incident import events
from monitor.incident.picture import Priority
from protocol.packets import Kind, Motion

if TYPE_CHECKING:
    from tests.monitor.incident.conftest import Story

S = 1_000_000_000
MIN = 60 * S
PACK = 150


def fall(story: "Story", bar_a_minute: float, minutes: float, start_bar: float = 250) -> None:
    """Reports every 5 s of a gauge that falls at this rate, in whole bar as packs tell."""
    begin = story.now
    for n in range(int(minutes * 12) + 1):
        bar = max(0.0, start_bar - bar_a_minute * n / 12)
        story.hear(begin + n * 5 * S, PACK, pressure_dbar=int(bar) * 10)


# 50 L/min out of 6.8 L are 7.4 bar a minute; 100 L/min out of 4 L are 25.
@pytest.mark.parametrize("bar_a_minute", [3, 7.4, 15, 25])
def test_somebody_breathes_from_it(story: "Story", bar_a_minute: float) -> None:
    fall(story, bar_a_minute, 5)
    alarm = story.alarm("in_use")
    assert (alarm.priority, alarm.subject, alarm.wearers) == (Priority.CAUTION, "pack 150", ())
    assert alarm.detail == "its air is used"
    # 2 bar to begin with and 5 to measure, at the rounding of whole bar.
    assert alarm.raised_at_ns <= (9 / bar_a_minute) * MIN + 10 * S
    assert story.alarms() == ["in_use"]


# 1.65 bar/K near 300 bar: from a warm cab into the cold, 25 K in half an hour.
@pytest.mark.parametrize(("bar_a_minute", "minutes"), [(0, 10), (25 * 1.65 / 30, 30)])
def test_a_set_that_lies_there_or_cools_is_not_in_use(
    story: "Story", bar_a_minute: float, minutes: float
) -> None:
    fall(story, bar_a_minute, minutes)
    assert story.alarms() == []


# The line alone is bled within seconds; a whole cylinder within a few minutes.
@pytest.mark.parametrize("bar_a_minute", [6_000, 250, 60])
def test_a_set_that_is_bled_or_whose_warning_is_tried_is_not(
    story: "Story", bar_a_minute: float
) -> None:
    fall(story, bar_a_minute, 5)
    assert story.alarms() == []


def test_the_last_of_a_bled_set_is_not(story: "Story") -> None:
    """A bottle runs out slower and slower: each report a fifth less than the one before."""
    bar = 200.0
    for n in range(40):
        story.hear(n * 5 * S, PACK, pressure_dbar=int(bar) * 10)
        bar *= 0.8
    assert story.alarms() == []


def test_a_flicker_and_a_refill_begin_anew(story: "Story") -> None:
    for n in range(200):
        story.hear(n * 5 * S, PACK, pressure_dbar=2500 + 10 * (n % 2))
    assert story.alarms() == []
    story.hear(1_100 * S, PACK, pressure_dbar=2960)
    story.hear(1_105 * S, PACK, pressure_dbar=2950)
    assert story.alarms() == []
    fall(story, 7.4, 5, start_bar=295)
    assert story.alarms() == ["in_use"]


def test_a_pack_that_tells_no_pressure_says_nothing(story: "Story") -> None:
    for n in range(100):
        story.hear(n * 5 * S, PACK, pressure_dbar=None)
    assert story.alarms() == []


@pytest.mark.parametrize("motion", [Motion.PRE_ALARM, Motion.ALARM])
def test_a_motion_warning_that_goes_on(story: "Story", motion: Motion) -> None:
    story.hear(10 * S, PACK, motion=motion)
    assert story.alarms(t=40 * S - 1) == []
    assert story.alarms(t=40 * S) == ["in_use"]
    assert story.alarm("in_use").detail == "its motion warning goes on"
    # It does not come and go with the sensor.
    story.hear(50 * S, PACK)
    assert story.alarms() == ["in_use"]


def test_a_motion_warning_that_is_tried_says_nothing(story: "Story") -> None:
    story.hear(10 * S, PACK, motion=Motion.PRE_ALARM)
    story.hear(20 * S, PACK, motion=Motion.ALARM)
    story.hear(39 * S, PACK)
    assert story.alarms(t=5 * MIN) == []


def test_a_distress_is_its_own_alarm_and_no_second_line(story: "Story") -> None:
    story.hear(10 * S, PACK, distress=True)
    assert story.alarms(t=5 * MIN) == ["distress"]


def test_joined_it_goes_by_itself(story: "Story") -> None:
    fall(story, 7.4, 5)
    story.list_and_join(1, PACK)
    assert story.alarms() == []


def test_signed_off_its_line_stays_until_taken_and_the_next_use_is_a_new_one(
    story: "Story",
) -> None:
    fall(story, 7.4, 5)
    story.hear(story.now + S, PACK, kind=Kind.SIGN_OFF)
    (over,) = story.picture().alarms
    assert (over.kind, over.state) == ("in_use", "returned, unacknowledged")
    story.act(story.now, events.Acknowledge, alarms=(over.number,))
    assert story.alarms() == []
    story.hear(story.now + MIN, PACK, kind=Kind.SIGN_ON, boot=2, pressure_dbar=1500)
    assert story.alarms(t=story.now + 5 * MIN) == []


def test_given_back_it_is_measured_from_there(story: "Story") -> None:
    story.list_and_join(1, PACK)
    fall(story, 7.4, 5)
    assert story.alarms() == ["not_on_air"]
    story.act(story.now, events.JoinPack, wearer=1, pack=None)
    story.hear(story.now + 5 * S, PACK, pressure_dbar=2000)
    assert story.alarms() == []
    fall(story, 7.4, 5, start_bar=200)
    assert story.alarms() == ["in_use"]


def test_a_pack_shows_itself_by_starting_or_by_its_button(story: "Story") -> None:
    """For ten seconds; a report that says nothing new, or a sign-on again, does not."""
    story.hear(0, 101)
    story.hear(20 * S, 102)
    assert {u.pack: u.lit for u in story.picture().unjoined} == {101: False, 102: True}
    assert not any(u.lit for u in story.picture(30 * S + 1).unjoined)
    story.hear(40 * S, 101, kind=Kind.EVENT, coming_out=True)
    story.hear(45 * S, 101, coming_out=True)
    story.hear(46 * S, 102, kind=Kind.SIGN_ON)
    assert {u.pack: u.lit for u in story.picture(50 * S).unjoined} == {101: True, 102: False}
    assert not any(u.lit for u in story.picture(50 * S + 1).unjoined)


def test_somebody_checked_in_breathes_and_nobody_has_noted_that_they_connected(
    story: "Story",
) -> None:
    story.list_and_join(1, PACK)
    fall(story, 7.4, 5, start_bar=295)
    alarm = story.alarm("not_on_air")
    assert (alarm.priority, alarm.wearers) == (Priority.CAUTION, (1,))
    # 2 bar to begin with and 5 to measure, at the rounding of whole bar.
    assert alarm.raised_at_ns <= (9 / 7.4) * MIN + 10 * S
    story.act(story.now + S, events.Connect, wearers=(1,))
    assert "not_on_air" not in story.alarms()


def test_what_was_used_before_they_were_checked_in_is_not_theirs(story: "Story") -> None:
    fall(story, 7.4, 5, start_bar=299)
    story.list_and_join(1, PACK)
    assert "not_on_air" not in story.alarms()


def test_who_waits_at_the_door_may_stand_still_and_try_their_warnings(story: "Story") -> None:
    story.list_and_join(1, PACK)
    story.hear(story.now + S, PACK, motion=Motion.PRE_ALARM, pressure_dbar=2900)
    story.hear(story.now + 5 * S, PACK, motion=Motion.ALARM, pressure_dbar=2900)
    assert story.alarms(t=story.now + 2 * MIN) == []
    fall(story, 250, 1, start_bar=290)
    assert "not_on_air" not in story.alarms()


def test_connecting_counts_from_when_breathing_was_heard(story: "Story") -> None:
    """9 bar a minute from the start on: two bar of it show within 20 s; noted after 3 minutes."""
    story.list_and_join(1, PACK)
    fall(story, 9, 3, start_bar=295)
    story.act(story.now + S, events.Connect, wearers=(1,))
    assert (story.line().wear_ns or 0) >= 3 * MIN - 20 * S


@pytest.mark.parametrize(("later_s", "counted"), [(100, True), (160, False)])
def test_breathing_that_has_ended_is_nobodys(story: "Story", later_s: int, counted: bool) -> None:
    """5 bar at the slowest, 2 bar a minute, would have shown within 150 s of the last 5."""
    story.list_and_join(1, PACK)
    fall(story, 10, 1.5, start_bar=295)
    story.hear(story.now + 5 * S, PACK, pressure_dbar=2790)
    last = story.now
    story.act(last + later_s * S, events.Connect, wearers=(1,))
    assert ((story.line().wear_ns or 0) > 0) is counted
