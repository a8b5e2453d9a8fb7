"""A wearer alone, and nobody standing by: a minute after, and gone as soon as it is put right."""

from typing import TYPE_CHECKING, Any

import pytest

from monitor.incident import events
from monitor.incident.picture import Priority

if TYPE_CHECKING:
    from tests.monitor.incident.conftest import Story

S = 1_000_000_000
MIN = 60 * S


@pytest.fixture
def at_door(new_story: "type[Story]") -> Any:
    """Wearers on air at the door, without packs, by crew; two must be in together."""

    def make(*crews: str, **rules: Any) -> "Story":
        opened = new_story().incident.opened
        assert opened is not None
        usual = {"lone_entrant_allowed": False, "least_crew": 2, "standby": 0}
        usual["spoken_reading_valid_s"] = 3600
        usual["projection_rate_l_min"] = 1  # nobody's air is asked about here
        story = new_story(opened.procedure.model_copy(update=usual | rules))
        for number, crew in enumerate(crews, 1):
            story.list_and_join(number, None, crew=crew)
            story.connect(number)
        return story

    return make


def enter(story: "Story", t: int, *wearers: int) -> None:
    assert story.act(t, events.Enter, wearers=wearers) is None


# ---------------------------------------------------------------- alone


def test_alone_for_a_minute(at_door: Any) -> None:
    story = at_door("Alpha 1", "Alpha 1")
    enter(story, 10 * S, 1)
    assert story.alarms(t=70 * S - 1) == []
    alarm = story.alarm("alone", t=70 * S)
    assert (alarm.priority, alarm.subject) == (Priority.CAUTION, "1 Alpha 1")
    assert alarm.detail == "1 of the crew inside, least 2"
    assert story.line().state == "ALONE"
    enter(story, 80 * S, 2)
    assert story.alarms() == []


def test_a_crew_noted_one_by_one_is_not_alone(at_door: Any) -> None:
    story = at_door("Alpha 1", "Alpha 1")
    enter(story, 10 * S, 1)
    enter(story, 70 * S, 2)
    assert story.alarms(t=10 * MIN) == []
    story.act(10 * MIN, events.ComeOut, wearers=(2,))
    story.act(11 * MIN, events.ComeOut, wearers=(1,))
    assert story.alarms(t=20 * MIN) == []


def test_the_mate_came_out_first(at_door: Any) -> None:
    story = at_door("Alpha 1", "Alpha 1")
    enter(story, 10 * S, 1, 2)
    story.act(5 * MIN, events.ComeOut, wearers=(2,))
    assert story.alarms(t=6 * MIN - 1) == []
    assert story.alarms(t=6 * MIN) == ["alone"]
    story.act(7 * MIN, events.ComeOut, wearers=(1,))
    assert story.alarms() == []


def test_without_a_crew_everybody_is_alone(at_door: Any) -> None:
    story = at_door("", "")
    enter(story, 0, 1, 2)
    assert story.alarms(t=MIN) == ["alone", "alone"]
    story.act(2 * MIN, events.SetCrew, wearer=1, crew="Alpha 1")
    assert story.alarms() == ["alone", "alone"]
    story.act(3 * MIN, events.SetCrew, wearer=2, crew="Alpha 1")
    assert story.alarms() == []


def test_a_mate_taken_into_another_crew_leaves_one_alone(at_door: Any) -> None:
    story = at_door("Alpha 1", "Alpha 1", "Alpha 2", "Alpha 2")
    enter(story, 0, 1, 2, 3, 4)
    story.act(MIN, events.SetCrew, wearer=2, crew="Alpha 2")
    assert story.alarms(t=2 * MIN - 1) == []
    assert story.alarm("alone", t=2 * MIN).wearers == (1,)


def test_three_are_the_least_crew_of_some(at_door: Any) -> None:
    story = at_door("Alpha 1", "Alpha 1", "Alpha 1", least_crew=3)
    enter(story, 0, 1, 2)
    assert story.alarms(t=MIN) == ["alone"], "one line for the crew"
    assert story.picture().alarms[0].detail == "2 of the crew inside, least 3"
    enter(story, 2 * MIN, 3)
    assert story.alarms() == []


def test_where_the_procedure_lets_one_go_in_alone(at_door: Any) -> None:
    story = at_door("Alpha 1", lone_entrant_allowed=True)
    enter(story, 0, 1)
    assert story.alarms(t=10 * MIN) == []


# ---------------------------------------------------------------- standing by


def test_nobody_stands_by(at_door: Any) -> None:
    story = at_door("Alpha 1", "Alpha 1", standby=2)
    assert story.alarms(t=MIN) == []
    enter(story, MIN, 1, 2)
    assert story.alarms(t=2 * MIN - 1) == []
    alarm = story.alarm("no_standby", t=2 * MIN)
    assert (alarm.priority, alarm.subject, alarm.detail) == (
        Priority.CAUTION,
        "0 of 2",
        "2 inside",
    )
    assert [w.state for w in story.picture().wearers] == ["no telemetry", "no telemetry"]
    story.list_and_join(3, None, crew="Alpha 2")
    assert story.alarm("no_standby").subject == "1 of 2"
    story.list_and_join(4, None, crew="Alpha 2")
    assert story.alarms() == []


def test_a_crew_at_the_door_stands_by_until_it_goes_in(at_door: Any) -> None:
    story = at_door("Alpha 1", "Alpha 1", "Alpha 2", "Alpha 2", standby=2)
    enter(story, 0, 1, 2)
    assert story.alarms(t=5 * MIN) == []
    enter(story, 5 * MIN, 3, 4)
    assert story.alarms(t=6 * MIN) == ["no_standby"]
    for wearer in (1, 2, 3, 4):
        story.act(7 * MIN, events.ComeOut, wearers=(wearer,))
    assert story.alarms() == []


def test_half_of_a_crew_that_is_in_does_not_stand_by(at_door: Any) -> None:
    story = at_door("Alpha 1", "Alpha 1", "Alpha 1", standby=1)
    enter(story, 0, 1, 2)
    assert story.alarms(t=MIN) == ["no_standby"]
    story.act(2 * MIN, events.SetCrew, wearer=3, crew="")
    assert story.alarms() == []


def test_who_is_off_air_or_only_listed_does_not_stand_by(at_door: Any) -> None:
    story = at_door("Alpha 1", "Alpha 1", "Alpha 2", standby=1)
    story.act(0, events.OffAir, wearers=(3,))
    story.act(0, events.ListWearer, wearer=4, name="Wearer 4")
    enter(story, 0, 1, 2)
    assert story.alarms(t=MIN) == ["no_standby"]
