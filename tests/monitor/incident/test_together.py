"""Doubts that share a line: when it waits anew, and for whom it stands."""

import itertools
from typing import TYPE_CHECKING

import pytest

from monitor.incident import events
from monitor.incident.picture import Priority
from monitor.incident.rows import Standing
from monitor.incident.together import AGAIN_MOST_NS, AGAIN_NS
from protocol.packets import Motion

if TYPE_CHECKING:
    from tests.monitor.incident.conftest import Story

S = 1_000_000_000
OPEN, OLD, OLD_NOW, FIRST = (
    Standing.UNPROVEN_DISTRESS, Standing.OLD, Standing.OLD_NOW, Standing.NOT_PROVEN,
)  # fmt: skip
KIND = "unproven_distress"


@pytest.fixture
def manned(story: "Story") -> "Story":
    """Three on the board, of whom nothing was heard yet."""
    for number in (1, 2, 3):
        story.list_and_join(number, 100 + number)
    return story


def call(story: "Story", t: int, pack: int = 101, standing: Standing = OLD) -> None:
    story.hear(t, pack, standing, distress=True)


def press(story: "Story", t: int, pack: int = 101, standing: Standing = OLD) -> None:
    """The button let go, and pressed again."""
    story.hear(t, pack, standing)
    call(story, t, pack, standing)


def waits(story: "Story", t: int) -> bool:
    return not story.alarm(KIND, t).acknowledged


@pytest.mark.parametrize("weak", [OPEN, OLD])
@pytest.mark.parametrize("strong", [FIRST, OLD_NOW])
def test_a_call_that_no_recording_can_have_waits_anew_at_once(
    manned: "Story", weak: Standing, strong: Standing
) -> None:
    call(manned, 10 * S, standing=weak)
    manned.take(KIND)
    call(manned, 15 * S, standing=weak)
    assert not waits(manned, 15 * S)
    call(manned, 16 * S, standing=strong)
    assert waits(manned, 16 * S)
    manned.take(KIND)
    # That it goes on is known.
    for t in range(20, 200, 5):
        call(manned, t * S, standing=strong)
        assert not waits(manned, t * S)


@pytest.mark.parametrize("standing", [OLD, OLD_NOW, FIRST])
def test_a_second_press_waits_anew_a_minute_after_the_line_last_did(
    manned: "Story", standing: Standing
) -> None:
    call(manned, 10 * S, standing=standing)
    manned.take(KIND)
    press(manned, 30 * S, standing=standing)
    assert not waits(manned, 70 * S - 1)
    assert waits(manned, 70 * S)
    manned.take(KIND)
    press(manned, 200 * S, standing=standing)
    assert waits(manned, 200 * S)


def test_one_recorded_frame_asks_once_however_often_it_is_played(manned: "Story") -> None:
    for n in range(3_600):
        manned.hear((10 + n) * S, standing=OLD, sequence=7, distress=True)
        if n == 0:
            number = manned.alarm(KIND).number
            manned.take(KIND)
    alarm = manned.alarm(KIND)
    assert (alarm.number, alarm.acknowledged, alarm.latched) == (number, True, True)
    manned.act(manned.now, events.Reset, alarm=number, reason="spoke with them")
    manned.hear(manned.now, standing=OLD, sequence=7, distress=True)
    assert KIND not in manned.alarms()


def test_a_long_recording_asks_ever_less_often(manned: "Story") -> None:
    """Another press every 5 s. Taken each time, it waits anew after 1, 2, 4, 8, 16, 16 min."""
    asked = []
    for t in range(10, 10 + 3_600, 5):
        press(manned, t * S)
        if waits(manned, t * S):
            asked.append(t - 10)
            manned.take(KIND)
    waited = [60, 120, 240, 480, 960, 960]
    assert waited[0] == AGAIN_NS // S
    assert waited[-1] == AGAIN_MOST_NS // S
    assert asked == [sum(waited[:n]) for n in range(7)]


def test_nobodys_first_call_waits_for_more_than_ten_seconds(manned: "Story") -> None:
    """Whatever was played of somebody else before."""
    for t in range(10, 10 + 1_000):
        press(manned, t * S)
        if waits(manned, t * S):
            manned.take(KIND)
    # 1, 3, 7 and 15 min after the first: the line last began to wait at 910 s.
    call(manned, 1_010 * S, 102, OLD)
    assert waits(manned, 1_010 * S)
    manned.take(KIND)
    call(manned, 1_011 * S, 103, OLD)
    assert not waits(manned, 1_020 * S - 1)
    assert waits(manned, 1_020 * S)


def test_made_up_first_calls_of_everybody_ring_every_ten_seconds_at_most(story: "Story") -> None:
    """Each 3 s another of twenty wearers is made up to call, and what waits is taken at once."""
    for number in range(1, 21):
        story.list_and_join(number, 100 + number)
    asked = []
    for t in range(300):
        if t % 3 == 0:
            press(story, (10 + t) * S, 101 + t // 3 % 20, OPEN)
        if waits(story, (10 + t) * S):
            asked.append(t)
            story.take(KIND)
    # Twenty first calls within a minute; then further calls alone, a minute apart or more.
    assert asked[:6] == [0, 10, 20, 30, 40, 50]
    assert all(b - a >= AGAIN_NS // S for a, b in itertools.pairwise(asked[6:]))


def test_several_who_call_without_proof_are_one_line_with_names(manned: "Story") -> None:
    for pack in (101, 102, 103):
        call(manned, 10 * S, pack, FIRST)
    alarm = manned.alarm(KIND)
    assert (alarm.priority, alarm.wearers) == (Priority.DANGER, (1, 2, 3))
    assert alarm.subject == "Alpha 1, Alpha 2, Alpha 3"
    assert "frames that prove nothing" in alarm.detail, "the line names all of them"
    assert [manned.line(n).state for n in (1, 2, 3)] == ["DISTRESS?"] * 3
    # All of them stand there until it is ended, though two have been quiet for long.
    manned.take(KIND)
    for t in range(15, 300, 5):
        call(manned, t * S, 103, FIRST)
    assert manned.alarm(KIND).wearers == (1, 2, 3)


def test_a_proved_call_of_each_waits_anew_at_once(manned: "Story") -> None:
    """With no beacons going down every pack is unproven: a second wearer is no echo of the first.

    Each does so once, so that a recording of a whole fleet has an end.
    """
    for t, pack in ((10, 101), (12, 102), (14, 103)):
        call(manned, t * S, pack, FIRST)
        assert waits(manned, t * S)
        manned.take(KIND)
    for t in range(15, 40, 5):
        call(manned, t * S, 102, FIRST)
        assert not waits(manned, t * S)


def test_after_it_was_ended_a_call_is_a_new_danger(manned: "Story") -> None:
    call(manned, 10 * S)
    manned.take(KIND)
    number = manned.alarm(KIND, 70 * S).number
    manned.act(70 * S, events.Reset, alarm=number, reason="spoke with them")
    call(manned, 80 * S)
    alarm = manned.alarm(KIND)
    assert (alarm.number > number, alarm.acknowledged) == (True, False)


def test_strangers_wait_anew_ever_less_often(story: "Story") -> None:
    """Whoever makes up identities has as many as they like."""
    asked = []
    for t in range(10, 10 + 3_600, 5):
        call(story, t * S, 10_000 + t, OPEN)
        if not story.alarm("strangers").acknowledged:
            asked.append(t - 10)
            story.take("strangers")
    waited = [60, 120, 240, 480, 960, 960]
    assert asked == [sum(waited[:n]) for n in range(7)]


def test_a_second_stranger_is_told_though_the_first_was_just_taken(story: "Story") -> None:
    call(story, 10 * S, 900, OPEN)
    story.take("strangers")
    call(story, 15 * S, 901, OPEN)
    assert story.alarm("strangers", 70 * S - 1).acknowledged
    assert not story.alarm("strangers", 70 * S).acknowledged


def test_a_line_whose_last_pack_is_gone_still_says_whose_it_was(story: "Story") -> None:
    story.hear(0, 150, boot=7)
    story.hear(1 * S, 150, boot=3, standing=OLD)
    for t in range(5, 90, 5):
        story.hear(t * S, 150, boot=7)
    alarm = story.alarm("same_identity")
    assert (alarm.state, alarm.subject) == ("returned, unacknowledged", "pack 150")


def test_who_calls_after_the_line_was_taken_is_named_as_new(manned: "Story") -> None:
    call(manned, 10 * S)
    manned.take(KIND)
    call(manned, 30 * S, pack=102)
    assert waits(manned, 30 * S), "more than ten seconds after the line last began to wait"
    manned.take(KIND)
    call(manned, 35 * S, pack=103)
    alarm = manned.alarm(KIND, 35 * S)
    assert (alarm.subject, alarm.detail) == ("Alpha 3, Alpha 2, Alpha 1", "1 new: Alpha 3")
    # Once it waits, nobody is named twice: the line has all of them.
    alarm = manned.alarm(KIND, 40 * S)
    assert (alarm.acknowledged, alarm.subject) == (False, "Alpha 3, Alpha 2, Alpha 1")
    assert "Alpha" not in alarm.detail


def test_who_calls_now_is_named_first_and_has_called_for_as_long(manned: "Story") -> None:
    """Two have called long ago, and nobody has ended it: their rows do not begin anew."""
    call(manned, 10 * S, 101, OPEN)
    call(manned, 12 * S, 102, OPEN)
    manned.take(KIND)
    call(manned, 310 * S, 103, OPEN)
    alarm = manned.alarm(KIND, 311 * S)
    assert (alarm.acknowledged, alarm.subject) == (False, "Alpha 3, Alpha 2, Alpha 1")
    lasts = [manned.line(n).state_for_ns // S for n in (1, 2, 3)]
    assert lasts == [301, 299, 1]
    # Who goes on calling does not change places with the others each time.
    for t in range(315, 340, 5):
        call(manned, t * S, 101 + t // 5 % 3, OPEN)
    manned.take(KIND)
    press(manned, 350 * S, 102, OPEN)
    assert manned.alarm(KIND, 350 * S).subject == "Alpha 2, Alpha 3, Alpha 1"


def test_of_many_as_many_are_named_as_there_is_room_for(story: "Story") -> None:
    for number in range(1, 13):
        story.list_and_join(number, 100 + number)
        call(story, 10 * S, 100 + number, FIRST)
    alarm = story.alarm(KIND)
    assert alarm.subject == "Alpha 1, Alpha 2, Alpha 3, Alpha 4 + 8 more"
    eight = ", ".join(f"Alpha {n}" for n in range(1, 9))
    assert alarm.detail == f"{eight} + 4 more"


def test_a_call_that_is_then_proven_is_one_danger(manned: "Story") -> None:
    """A pack that has just started calls before it has heard a beacon, and then with its proof."""
    call(manned, S, standing=FIRST)
    assert manned.alarms(S) == [KIND]
    call(manned, 6 * S, standing=Standing.LIVE)
    assert manned.alarms(6 * S) == ["distress"]
    assert not manned.alarm("distress").acknowledged
    manned.hear(200 * S, 101)
    assert manned.alarms(200 * S) == ["distress"]


def test_who_was_only_still_without_proof_and_presses_the_button_is_one_danger(
    story: "Story",
) -> None:
    story.enter(1)
    story.hear(S, 101, FIRST, boot=2, sequence=1, motion=Motion.ALARM)
    assert KIND in story.alarms(S)
    story.hear(6 * S, 101, boot=2, sequence=2, distress=True)
    assert story.alarms(6 * S) == ["distress"]


def test_a_press_without_proof_is_not_answered_by_lying_still(story: "Story") -> None:
    story.enter(1)
    story.hear(S, 101, FIRST, boot=2, sequence=1, distress=True)
    story.hear(6 * S, 101, boot=2, sequence=2, motion=Motion.ALARM)
    assert sorted(story.alarms(6 * S)) == ["motion_alarm", KIND]


def test_others_who_call_without_proof_stay_when_one_is_proven(manned: "Story") -> None:
    call(manned, S, 101, FIRST)
    call(manned, 2 * S, 102, FIRST)
    call(manned, 6 * S, 101, Standing.LIVE)
    assert manned.alarm(KIND).wearers == (2,)
    assert manned.alarm("distress").wearers == (1,)


def test_a_call_goes_on_in_its_line_while_the_pack_starts_anew(manned: "Story") -> None:
    """The button is held, the pack restarts: until it has proved itself it says the same."""
    call(manned, S, standing=Standing.LIVE)
    manned.hear(6 * S, 101, FIRST, boot=2, sequence=1, distress=True)
    assert manned.alarms(6 * S) == ["distress"]


def test_of_two_packs_with_one_identity_the_other_may_be_who_called(story: "Story") -> None:
    story.enter(1)
    story.hear(S, 101, sequence=50)
    story.hear(2 * S, 101, OLD_NOW, sequence=7, distress=True)
    story.hear(3 * S, 101, sequence=51, distress=True)
    assert {KIND, "distress"} <= set(story.alarms(3 * S))


def test_strangers_who_prove_their_call_are_told_by_it(story: "Story") -> None:
    call(story, S, 190, OPEN)
    assert story.alarms(S) == ["strangers"]
    call(story, 6 * S, 190, Standing.LIVE)
    assert story.alarms(6 * S) == ["distress"]
