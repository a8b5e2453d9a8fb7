"""Gauge and pack that contradict each other: limits. Whole wears are told in ``tests/stories``."""

from typing import TYPE_CHECKING

import pytest

from monitor.incident import events
from monitor.incident.picture import AirFrom
from tests.monitor.incident.falling import HALF, S, enter_at, fall, told

if TYPE_CHECKING:
    from tests.monitor.incident.conftest import Story


def say(story: "Story", t: int, bar: float) -> None:
    assert story.act(t * S, events.SpokenReading, wearers=(1,), pressure_bar=bar) is None


def test_telemetry_governs_again_once_it_can_be_what_was_said(new_story: "type[Story]") -> None:
    """220 said in silence at 400 s; 231 is 11 bar over it, 230 no more than gauges differ."""
    for bar, source in ((231.0, AirFrom.VOICE), (229.0, AirFrom.TELEMETRY)):
        story = new_story(HALF)
        enter_at(story, 300)
        fall(story, 100, 299)
        say(story, 400, 220)
        told(story, 401 * S, bar)
        assert story.line().air.source is source


@pytest.mark.parametrize(("bars", "asks"), [((241, 241), True), ((241, 239, 241), False)])
def test_two_readings_running_that_are_twenty_bar_over_ask(
    new_story: "type[Story]", bars: tuple[float, ...], asks: bool
) -> None:
    story = new_story(HALF)
    enter_at(story, 300)
    fall(story, 100, 299)
    say(story, 400, 220)
    for n, bar in enumerate(bars, 1):
        told(story, (400 + n) * S, bar)
    assert ("gauge" in story.alarms()) is asks
    if asks:
        assert story.alarm("gauge").detail == "241 bar by telemetry, 220 by voice: which counts?"


def test_in_doubt_a_reading_under_the_estimate_takes_its_place(new_story: "type[Story]") -> None:
    story = new_story(HALF)
    enter_at(story, 300)
    fall(story, 100, 290)
    say(story, 100, 260)
    told(story, 105 * S, 255)
    assert story.line().air.pressure_bar == 255
    assert "gauge" in story.alarms()


def test_by_voice_alone_what_the_pack_tells_is_not_counted(new_story: "type[Story]") -> None:
    story = new_story(HALF)
    enter_at(story, 300)
    fall(story, 100, 290)
    say(story, 100, 260)
    mean = story.line().air.rate_mean_l_min
    assert story.act(101 * S, events.TrustGauge, wearer=1, counts="voice") is None
    for t in range(105, 150, 5):
        told(story, t * S, 280)
    assert story.line().air.rate_mean_l_min == mean
    assert story.line(t=200 * S).air.source is AirFrom.ESTIMATE


def test_the_officer_may_say_that_a_higher_word_counts(new_story: "type[Story]") -> None:
    story = new_story(HALF)
    enter_at(story, 250)
    say(story, 6, 280)
    assert story.line().air.pressure_bar == 250
    assert story.act(7 * S, events.TrustGauge, wearer=1, counts="voice") is None
    assert story.line().air.pressure_bar == 280
    assert story.alarm("gauge").state == "returned, unacknowledged"
