from typing import TYPE_CHECKING

import pytest

from monitor.incident import events, facts
from monitor.incident.picture import LinkView, Priority

if TYPE_CHECKING:
    from tests.monitor.incident.conftest import Story

S = 1_000_000_000
OPENED_WALL = 1_700_000_000 * S


def test_wall_time_is_the_opening_and_incident_time(story: "Story") -> None:
    assert story.picture(t=5 * S).wall_ns == OPENED_WALL + 5 * S


def test_a_clock_step_moves_the_wall_time_only(story: "Story") -> None:
    story.do(5 * S, events.ClockStep(by_ns=-3600 * S, wall_ns=OPENED_WALL - 3595 * S))
    picture = story.picture(t=7 * S)
    assert (picture.t, picture.wall_ns) == (7 * S, OPENED_WALL - 3593 * S)


def test_after_a_restart_the_wall_time_is_that_of_the_end_of_the_break(story: "Story") -> None:
    wall = OPENED_WALL + 400 * S
    story.do(5 * S, events.Resumed(down_ns=60 * S, known_by="boot clock", wall_ns=wall))
    assert story.picture(t=65 * S).wall_ns == wall
    assert story.alarms() == []


def test_missing_time_found_leaves_the_wall_clock_where_it_is(story: "Story") -> None:
    story.do(10 * S, events.TimeMoved(by_ns=30 * S, known_by="pack uptime"))
    # The next instant of incident time is 30 s later, and the wall clock has not moved.
    assert story.picture(t=40 * S).wall_ns == OPENED_WALL + 10 * S


def test_an_unknown_break_is_a_latched_danger(story: "Story") -> None:
    story.do(5 * S, events.Resumed(down_ns=0, known_by="unknown", wall_ns=OPENED_WALL))
    alarm = story.alarm("time_unknown")
    assert (alarm.priority, alarm.latched) == (Priority.DANGER, True)
    assert alarm.to_do == "Ask every crew for gauge readings."


def test_links_are_shown_by_number(story: "Story") -> None:
    story.do(1 * S, events.LinkState(link=2, name="serial", up=True))
    story.do(1 * S, events.LinkState(link=1, name="udp 41900", up=True, detail="4 MiB"))
    assert story.picture().links == (
        LinkView(link=1, name="udp 41900", up=True, detail="4 MiB"),
        LinkView(link=2, name="serial", up=True, detail=""),
    )
    for number in range(3, facts.LINKS_MAX + 2):
        story.do(2 * S, events.LinkState(link=number, name="more", up=True))
    assert len(story.picture().links) == facts.LINKS_MAX


def test_refused_frames_are_counted_by_reason(story: "Story") -> None:
    story.do(1 * S, events.Refused(link=1, counts={"CHECKSUM": 3, "SHORT": 1}))
    story.do(2 * S, events.Refused(link=1, counts={"CHECKSUM": 2}))
    assert story.picture().refused == (("CHECKSUM", 5), ("SHORT", 1))
    assert story.alarms() == []
    many = {f"REASON_{n}": 1 for n in range(facts.REASONS_MAX + 5)}
    story.do(3 * S, events.Refused(link=1, counts=many))
    assert len(story.picture().refused) == facts.REASONS_MAX


@pytest.mark.parametrize("reason", sorted(facts.FOREIGN_REASONS))
def test_foreign_frames_are_a_caution_until_a_quiet_minute(story: "Story", reason: str) -> None:
    story.do(1 * S, events.Refused(link=1, counts={reason: 1}))
    assert story.alarm("foreign_frames").priority is Priority.CAUTION
    story.take("foreign_frames")
    story.do(31 * S, events.Refused(link=1, counts={reason: 1}))
    assert story.alarms(t=91 * S - 1) == ["foreign_frames"]
    assert story.alarms(t=91 * S) == []


def test_the_holder_of_the_board(story: "Story") -> None:
    assert story.picture().holder == ""
    story.do(1 * S, events.Holder(board="b1", by="R. Harrow"))
    assert story.picture().holder == "R. Harrow"


def test_a_link_that_fails_and_comes_back(story: "Story") -> None:
    story.do(1 * S, events.LinkState(link=1, name="serial", up=False, detail="pulled"))
    assert story.alarm("receiver_down").subject == "serial"
    story.take("receiver_down")
    story.do(9 * S, events.LinkState(link=1, name="serial", up=True))
    assert story.alarms() == []


@pytest.mark.parametrize("state", ["full", "failing", "gone"])
def test_a_disk_that_loses_the_record_is_a_danger(story: "Story", state: str) -> None:
    story.do(10 * S, events.DiskState.model_validate({"state": state, "detail": "why"}))
    alarm = story.alarm("disk")
    assert (alarm.priority, alarm.subject, alarm.detail) == (Priority.DANGER, "base", "why")
    assert story.picture().disk == state
    story.take("disk")
    story.do(20 * S, events.DiskState(state="ok"))
    assert story.alarms() == []
    assert story.picture().disk == "ok"


@pytest.mark.parametrize("state", ["behind", "low"])
def test_a_disk_that_may_lose_it_is_a_caution_until_it_does(story: "Story", state: str) -> None:
    story.do(10 * S, events.DiskState.model_validate({"state": state}))
    assert story.alarm("disk").priority is Priority.CAUTION
    story.take("disk")
    story.do(20 * S, events.DiskState(state="full"))
    assert story.alarm("disk").priority is Priority.DANGER
    assert not story.alarm("disk").acknowledged


def link(number: int = 1, **changes: object) -> events.LinkState:
    return events.LinkState.model_validate(
        {"link": number, "name": f"udp {number}", "up": True} | changes
    )


def test_packets_lost_unread_are_a_caution_until_a_quiet_minute(story: "Story") -> None:
    """The count is since the link was opened: one that stays, or begins anew, is no news."""
    story.do(1 * S, link())
    assert story.alarms() == []
    story.do(10 * S, link(lost=7))
    assert story.alarm("packets_lost").priority is Priority.CAUTION
    assert story.alarm("packets_lost").detail == "udp 1: 7"
    story.take("packets_lost")
    story.do(40 * S, link(lost=9))
    story.do(50 * S, link(lost=9))
    story.do(60 * S, link(lost=0))
    assert story.alarms(t=100 * S - 1) == ["packets_lost"]
    assert story.alarms(t=100 * S) == []


def setup(*links: str, **changes: object) -> events.Setup:
    return events.Setup.model_validate({"links": links} | changes)


def test_keys_that_are_lost_are_a_danger_until_they_are_there_again(story: "Story") -> None:
    story.do(1 * S, setup("udp:1"))
    assert story.alarms() == []
    story.do(2 * S, setup("udp:1", key_fault="not readable"))
    alarm = story.alarm("keys_lost")
    assert (alarm.priority, alarm.detail) == (Priority.DANGER, "not readable")
    story.take("keys_lost")
    story.do(3 * S, setup("udp:1"))
    assert story.alarms() == []


def test_a_link_that_a_new_recorder_cannot_have_is_a_danger_of_two_as_well(story: "Story") -> None:
    """One that fails while recording goes on is a caution, as long as another is left."""
    for number in (1, 2):
        story.do(1 * S, link(number))
    story.do(2 * S, link(2, up=False))
    assert story.alarm("receiver_down").priority is Priority.CAUTION
    story.do(3 * S, link(2))
    story.do(4 * S, events.Resumed(down_ns=S, known_by="boot clock", wall_ns=OPENED_WALL + 5 * S))
    story.do(6 * S, link(1))
    story.do(6 * S + 1, link(2, up=False))
    assert story.alarm("receiver_down").priority is Priority.DANGER


def test_links_that_recording_goes_on_without_are_of_no_account(story: "Story") -> None:
    for number in (1, 2):
        story.do(1 * S, link(number))
    story.do(2 * S, link(2, up=False))
    story.do(3 * S, setup("udp:1"))
    assert [view.name for view in story.picture(t=4 * S).links] == ["udp 1"]
    assert story.alarm("receiver_down").state == "returned, unacknowledged"
