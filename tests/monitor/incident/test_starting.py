"""The pressure at connecting: limits of its rules. Whole wears are told in ``tests/stories``."""

from typing import TYPE_CHECKING

import pytest

from monitor.incident import events
from monitor.incident.air.start import StartFrom
from monitor.incident.record.events import ChangeCylinder
from protocol.packets import Kind
from tests.monitor.incident.falling import DOUBLE, EQUIPMENT, HALF, S, enter_at, fall, told

if TYPE_CHECKING:
    from tests.monitor.incident.conftest import Story


def start(story: "Story") -> tuple[float | None, StartFrom | None]:
    air = story.line().air
    return air.start_bar, air.start_from


def at_door(story: "Story", *bars: float) -> None:
    """Checked in, with a report each 5 s from the present on."""
    if not story.picture().wearers:
        story.list_and_join()
    for n, bar in enumerate(bars):
        t = story.now + (5 * S if n else 0)
        if story.sequences:
            told(story, t, bar)
        else:
            told(story, t, bar, kind=Kind.SIGN_ON, equipment=EQUIPMENT)


def test_what_was_heard_before_agrees_within_the_tolerance(new_story: "type[Story]") -> None:
    """A cylinder that was filled warm cools at the door: 309 bar, then 300, is one reading."""
    story = new_story(HALF)
    at_door(story, 309, 309, 300)
    story.connect()
    assert start(story) == (309, StartFrom.READ)
    other = new_story(HALF)
    at_door(other, 311, 311, 300)
    other.connect()
    assert start(other) == (311, StartFrom.HEARD)


def test_of_a_start_that_was_heard_long_before_nothing_is_planned(
    new_story: "type[Story]",
) -> None:
    story = new_story(HALF)
    at_door(story, 300, 300, 250)
    story.connect()
    detail = story.incident.air_detail(1)
    assert detail is not None
    assert (detail.planned, detail.start_bar) == (None, 300)
    story.act(story.now, events.AmendStart, wearers=(1,), pressure_bar=300)
    detail = story.incident.air_detail(1)
    assert detail is not None
    assert detail.planned is not None


@pytest.mark.parametrize(("after_s", "found"), [(120, StartFrom.RAISED), (121, StartFrom.RECKONED)])
def test_a_higher_word_puts_one_right_that_is_not_older_than_two_minutes(
    new_story: "type[Story]", after_s: int, found: StartFrom
) -> None:
    story = new_story(HALF)
    story.list_and_join(1, None)
    story.act(0, events.JoinPack, wearer=1, water_volume_l=6.8, rated_bar=300)
    story.connect(pressure_bar=180)
    story.act(after_s * S, events.SpokenReading, wearers=(1,), pressure_bar=240)
    bar, start_from = start(story)
    assert bar is not None
    assert start_from is found
    assert (bar == 240) is (found is StartFrom.RAISED)


@pytest.mark.parametrize(("second_s", "found"), [(15, StartFrom.READ), (16, StartFrom.RAISED)])
def test_what_is_read_within_three_reports_of_connecting_was_read_there(
    new_story: "type[Story]", second_s: int, found: StartFrom
) -> None:
    story = new_story(HALF)
    at_door(story, 0)
    story.connect()
    told(story, 10 * S, 300)
    told(story, second_s * S, 300)
    assert start(story) == (300, found)


@pytest.mark.parametrize(("second_s", "doubt"), [(59, False), (60, True)])
def test_a_valve_opened_within_a_minute_is_no_doubt(
    new_story: "type[Story]", second_s: int, doubt: bool
) -> None:
    story = new_story(HALF)
    at_door(story, 150)
    story.connect()
    for t in range(5, 50, 5):
        told(story, t * S, 150)
    told(story, 50 * S, 300)
    told(story, second_s * S, 300)
    assert start(story) == (300, StartFrom.RAISED)
    assert ("gauge" in story.alarms()) is doubt


def test_a_rise_after_a_silence_is_reckoned_back(new_story: "type[Story]") -> None:
    """150 with the valve half open, nothing heard for 10 min: 240 then was a full one."""
    story = new_story(HALF)
    at_door(story, 150)
    story.connect()
    told(story, 600 * S, 240)
    told(story, 605 * S, 239)
    assert start(story) == (300, StartFrom.RECKONED)


def test_an_objective_noted_too_low_is_put_right_only_by_what_is_read_after(
    new_story: "type[Story]",
) -> None:
    """By double air (55 + 2 x way in): way in 300 - 240."""
    story = new_story(DOUBLE)
    enter_at(story, 300)
    fall(story, 100, 250)
    told(story, 105 * S, 200)
    told(story, 110 * S, 200)
    story.act(110 * S, events.ReachObjective, wearers=(1,))
    assert story.line().air.turn_bar == pytest.approx(55 + 2 * 100)
    told(story, 115 * S, 240)
    assert story.line().air.turn_bar == pytest.approx(55 + 2 * 100)
    told(story, 120 * S, 240)
    assert story.line().air.turn_bar == pytest.approx(55 + 2 * 60)


def test_gas_that_warms_at_the_objective_shortens_no_way(new_story: "type[Story]") -> None:
    story = new_story(DOUBLE)
    enter_at(story, 300)
    fall(story, 100, 250)
    story.act(100 * S, events.ReachObjective, wearers=(1,))
    for t, bar in ((105, 252), (110, 255), (115, 258), (120, 260), (125, 260)):
        told(story, t * S, bar)
    assert story.line().air.turn_bar == pytest.approx(55 + 2 * 50)


def test_a_fresh_cylinder_keeps_what_was_walked(new_story: "type[Story]") -> None:
    """On the way in from 300 to 200, a fresh one of 290: (55 + 2 x (100 + 290)) / 3 = 278.3."""
    story = new_story(DOUBLE)
    enter_at(story, 300)
    fall(story, 300, 200)
    assert story.act(301 * S, ChangeCylinder, wearer=1) is None
    told(story, 305 * S, 290)
    assert story.line().air.turn_bar == pytest.approx((55 + 2 * (100 + 290)) / 3)
    assert start(story) == (290, StartFrom.READ)


def test_nobody_on_another_supply_or_apparatus_is_counted(new_story: "type[Story]") -> None:
    story = new_story(HALF)
    story.list_and_join(1, None)
    story.act(0, events.JoinPack, wearer=1, apparatus="airline")
    story.connect()
    assert story.line(t=900 * S).air.pressure_bar is None
    other = new_story(HALF)
    other.list_and_join(1, None)
    other.connect()
    assert other.line().air.pressure_bar == 180
    other.act(1 * S, events.AugmentSupply, wearers=(1,))
    assert other.line(t=60 * S).air.pressure_bar is None
