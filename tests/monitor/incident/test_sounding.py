"""What is to be heard, at the exact instant; and the silence that an officer asks for."""

from typing import TYPE_CHECKING

import pytest

from monitor.incident import events
from monitor.incident.picture import Priority, Sounding

if TYPE_CHECKING:
    from tests.monitor.incident.conftest import Story

S = 1_000_000_000
QUIET = Sounding()


@pytest.fixture
def inside(story: "Story") -> "Story":
    """Two wearers inside, heard at 0 s."""
    story.enter(1, 2)
    return story


def test_nothing_waits_in_a_quiet_incident(inside: "Story") -> None:
    assert inside.incident.sounding() == QUIET
    assert inside.picture().sounding == QUIET


def test_a_danger_is_heard_until_it_is_taken(inside: "Story") -> None:
    inside.hear(4 * S, 101, distress=True)
    assert inside.incident.sounding() == Sounding(danger_ns=4 * S)
    inside.take("distress")
    assert inside.incident.sounding() == QUIET


def test_the_newest_counts(inside: "Story") -> None:
    inside.hear(4 * S, 101, distress=True)
    inside.hear(6 * S, 102, distress=True)
    assert inside.incident.sounding().danger_ns == 6 * S


def test_after_30_s_it_insists(inside: "Story") -> None:
    inside.hear(4 * S, 101, distress=True)
    assert inside.picture(t=34 * S - 1).sounding == Sounding(danger_ns=4 * S)
    assert inside.picture(t=34 * S).sounding == Sounding(danger_ns=34 * S, insistent=True)
    assert inside.picture(t=64 * S).sounding.danger_ns == 64 * S


def test_a_caution_is_heard_and_a_notice_is_not(inside: "Story") -> None:
    inside.do(4 * S, events.LinkState(link=1, name="serial", up=True))
    inside.do(4 * S, events.LinkState(link=2, name="udp", up=True))
    inside.do(5 * S, events.LinkState(link=1, name="serial", up=False))
    inside.hear(6 * S, 101, battery_percent=15)
    assert inside.alarms() == ["receiver_down", "battery_low"]
    assert inside.incident.sounding() == Sounding(caution_ns=5 * S)


def test_one_that_is_over_waits_quietly(inside: "Story") -> None:
    inside.do(5 * S, events.DiskState(state="low"))
    inside.do(6 * S, events.DiskState(state="ok"))
    assert inside.alarms() == ["disk"]
    assert inside.incident.sounding() == QUIET


def test_a_closed_incident_is_quiet(inside: "Story") -> None:
    inside.hear(4 * S, 101, distress=True)
    inside.act(5 * S, events.Close, override="trial over")
    assert inside.incident.sounding() == QUIET


# ---------------------------------------------------------------- silence


def test_silence_ends_by_itself(inside: "Story") -> None:
    inside.hear(4 * S, 101, distress=True)
    assert inside.act(10 * S, events.Silence) is None
    assert inside.incident.sounding().silenced_ns == 60 * S
    inside.hear(40 * S, 102)  # the mate is heard: a crew that is silent would end it
    assert inside.picture(t=70 * S - 1).sounding.silenced_ns == 1
    assert inside.picture(t=70 * S).sounding.silenced_ns == 0


@pytest.mark.parametrize(("seconds", "refused"), [(120, False), (121, True), (86_400, True)])
def test_it_is_never_for_long(inside: "Story", seconds: int, *, refused: bool) -> None:
    why = inside.act(1 * S, events.Silence, seconds=seconds)
    assert (why is not None) is refused
    assert (inside.incident.sounding().silenced_ns == 0) is refused


def test_a_new_danger_ends_it_at_once(inside: "Story") -> None:
    inside.act(4 * S, events.Silence)
    inside.hear(9 * S, 101, distress=True)
    assert inside.incident.sounding() == Sounding(danger_ns=9 * S)


def test_a_danger_that_only_insists_does_not_end_it(inside: "Story") -> None:
    inside.hear(4 * S, 101, distress=True)
    inside.act(5 * S, events.Silence)
    assert inside.picture(t=34 * S).sounding == Sounding(34 * S, None, True, 31 * S)


def test_a_caution_does_not_end_it_until_it_becomes_a_danger(inside: "Story") -> None:
    inside.act(4 * S, events.Silence)
    inside.do(5 * S, events.DiskState(state="low"))
    assert inside.incident.sounding().silenced_ns == 59 * S
    inside.do(6 * S, events.DiskState(state="full"))
    assert inside.incident.sounding() == Sounding(danger_ns=6 * S)


# ---------------------------------------------------------------- sound and boards as conditions


@pytest.mark.parametrize("state", ["missing", "failing"])
def test_no_player_is_a_caution_until_one_plays(story: "Story", state: str) -> None:
    fact = events.SoundState.model_validate({"state": state, "detail": "aplay hung"})
    story.do(1 * S, fact)
    alarm = story.alarm("sound")
    assert (alarm.priority, alarm.subject, alarm.detail) == (Priority.CAUTION, "base", "aplay hung")
    assert story.picture().sound == state
    story.take("sound")
    story.do(2 * S, events.SoundState(state="player", detail="aplay"))
    assert story.alarms() == []


@pytest.mark.parametrize("state", ["player", "bell", "off"])
def test_a_way_that_was_asked_for_is_no_alarm(story: "Story", state: str) -> None:
    story.do(1 * S, events.SoundState.model_validate({"state": state}))
    assert (story.alarms(), story.picture().sound) == ([], state)


def test_a_journal_that_says_nothing_of_sound_shows_nothing_of_it(story: "Story") -> None:
    assert story.picture().sound == ""


def test_nobody_at_a_board_is_a_danger_only_while_somebody_is_under_air(story: "Story") -> None:
    story.do(1 * S, events.BoardsAlive(alive=False))
    assert story.alarms() == []
    story.list_and_join()
    story.connect()
    alarm = story.alarm("no_board")
    assert (alarm.priority, alarm.subject) == (Priority.DANGER, "base")
    story.act(2 * S, events.OffAir, wearers=(1,))
    assert "no_board" not in story.alarms()


def test_it_goes_by_itself_when_a_board_draws_again(inside: "Story") -> None:
    inside.do(1 * S, events.BoardsAlive(alive=False))
    assert inside.alarms() == ["no_board"]
    inside.do(2 * S, events.BoardsAlive(alive=True))
    assert inside.alarms() == []
