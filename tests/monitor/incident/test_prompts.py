"""Notices by the clock: gauge check due, rest not over, set left on."""

from typing import TYPE_CHECKING, Any

import pytest

from monitor.incident import events
from monitor.incident.picture import Priority
from protocol.packets import Kind, Motion

if TYPE_CHECKING:
    from tests.monitor.incident.conftest import Story

S = 1_000_000_000
MIN = 60 * S


@pytest.fixture
def story_with(new_story: "type[Story]") -> Any:
    """A story with other rules."""

    def make(**rules: Any) -> "Story":
        opened = new_story().incident.opened
        assert opened is not None
        # Nobody's air is asked about here: it hardly falls.
        update = {"projection_rate_l_min": 1, **rules}
        return new_story(opened.procedure.model_copy(update=update))

    return make


def wear(story: "Story", t: int, until: int) -> None:
    """Wearer 1, without telemetry, on air and off again."""
    assert story.act(t, events.Connect, wearers=(1,)) is None
    assert story.act(until, events.OffAir, wearers=(1,)) is None


# ---------------------------------------------------------------- thirds


def test_a_crew_is_told_at_one_third_and_two_thirds_by_its_leader(story_with: Any) -> None:
    """FwDV 7, 7.4: after one third and after two thirds of the expected time.

    6.8 L at 300 bar, by the table at 40 L/min: 51 min, less 6 min: 45, so at 15 and 30 min. By real
    gas it is less: (1,720 L at 30 C) / 40 = 43.0 min, less 6: 37 min, thirds after 12 min 20 s and
    24 min 40 s, to 5 s (contents from the equation of state of air, 0.2 %).
    """
    story = story_with(
        prompts="thirds", planning_rate_l_min=40, margin_min=6, low_air_bar=10.0,
        low_air_fraction=None, gauge_check_s=None, spoken_reading_valid_s=3600,
    )  # fmt: skip
    for wearer in (1, 2):
        story.list_and_join(wearer, None)
        cylinder = {"water_volume_l": 6.8, "rated_bar": 300}
        story.act(0, events.JoinPack, wearer=wearer, **cylinder)
    story.act(0, events.SetCrew, wearer=2, crew="Alpha 1", leader=True)
    story.connect(1, 2, pressure_bar=300)
    assert "thirds" not in story.alarms(t=12 * MIN + 10 * S)
    alarm = story.alarm("thirds", t=12 * MIN + 30 * S)
    assert (alarm.wearers, alarm.priority) == ((2,), Priority.NOTICE)
    assert alarm.detail == "due 12 min after connecting"
    story.act(13 * MIN, events.SpokenReading, wearers=(1,), pressure_bar=240)
    assert "thirds" not in story.alarms(t=24 * MIN + 30 * S)
    assert story.alarms(t=24 * MIN + 50 * S).count("thirds") == 1
    story.act(25 * MIN, events.SpokenReading, wearers=(2,), pressure_bar=170)
    assert "thirds" not in story.alarms(t=40 * MIN)


# ---------------------------------------------------------------- gauge check


def test_a_gauge_check_is_due_before_there_is_no_word(story_with: Any) -> None:
    story = story_with(gauge_check_s=300, spoken_reading_valid_s=600)
    story.list_and_join(1, None)
    story.connect()
    assert story.alarms(t=5 * MIN - 1) == []
    alarm = story.alarm("gauge_due", t=5 * MIN)
    assert (alarm.priority, alarm.acknowledged) == (Priority.NOTICE, True)
    assert alarm.detail == "last word 300 s ago, limit 600 s"
    assert story.alarms(t=10 * MIN) == ["no_word"]
    story.act(11 * MIN, events.SpokenReading, wearers=(1,), pressure_bar=150)
    story.take("no_word")
    assert story.alarms(t=16 * MIN - 1) == []
    assert story.alarms(t=16 * MIN) == ["gauge_due"]
    assert story.incident.take_announcements()[0].kind == "no_word"


@pytest.mark.parametrize("check_s", [None, 600])
def test_no_check_where_the_procedure_wants_none_or_no_word_comes_first(
    story_with: Any, check_s: float | None
) -> None:
    story = story_with(gauge_check_s=check_s, spoken_reading_valid_s=600)
    story.list_and_join(1, None)
    story.connect()
    assert story.alarms(t=10 * MIN - 1) == []
    assert story.alarms(t=10 * MIN) == ["no_word"]


def test_with_telemetry_the_reading_is_there(story_with: Any) -> None:
    story = story_with(gauge_check_s=300, spoken_reading_valid_s=600)
    story.enter(1)
    for n in range(80):
        story.hear(n * 5 * S, pressure_dbar=2900 - 10 * n)
    assert story.alarms() == []
    story.hear(400 * S, kind=Kind.SIGN_OFF, pressure_dbar=2100)
    assert sorted(story.alarms()) == ["gauge_due", "pack_off"]


# ---------------------------------------------------------------- rest


def test_checked_in_again_before_the_rest_is_over(story_with: Any) -> None:
    story = story_with(least_rest_s=600, rest_after_wears=1)
    story.list_and_join(1, None)
    wear(story, 0, 5 * MIN)
    assert story.alarms(t=6 * MIN) == []
    story.act(7 * MIN, events.JoinPack, wearer=1, pack=None)
    alarm = story.alarm("rest")
    assert (alarm.priority, alarm.detail) == (Priority.NOTICE, "8 min to go")
    assert story.alarms(t=15 * MIN - 1) == ["rest"]
    assert story.alarms(t=15 * MIN) == []


def test_entering_all_the_same_is_the_officers_decision(story_with: Any) -> None:
    story = story_with(least_rest_s=600, rest_after_wears=1)
    story.list_and_join(1, None)
    wear(story, 0, MIN)
    story.act(2 * MIN, events.Connect, wearers=(1,))
    assert story.alarms() == ["rest"]
    assert story.act(3 * MIN, events.Enter, wearers=(1,)) is None
    assert story.alarms() == []


def test_two_wears_may_go_before_the_rest(story_with: Any) -> None:
    story = story_with(least_rest_s=600, rest_after_wears=2)
    story.list_and_join(1, None)
    wear(story, 0, 5 * MIN)
    story.act(6 * MIN, events.Connect, wearers=(1,))
    assert story.alarms() == []
    story.act(8 * MIN, events.OffAir, wearers=(1,))
    story.act(9 * MIN, events.Connect, wearers=(1,))
    assert story.alarms() == ["rest"]


def test_a_rest_in_between_begins_the_count_anew(story_with: Any) -> None:
    story = story_with(least_rest_s=600, rest_after_wears=2, spoken_reading_valid_s=3600)
    story.list_and_join(1, None)
    wear(story, 0, 5 * MIN)
    wear(story, 15 * MIN, 16 * MIN)
    story.act(17 * MIN, events.Connect, wearers=(1,))
    assert story.alarms() == []


def test_no_rest_in_a_procedure_that_has_none(story: "Story") -> None:
    story.list_and_join(1, None)
    wear(story, 0, MIN)
    story.act(MIN, events.Connect, wearers=(1,))
    assert story.alarms() == []


# ---------------------------------------------------------------- left on


@pytest.fixture
def off_air(story: "Story") -> "Story":
    """Wearer 1 off air since 60 s, the pack still on."""
    story.enter(1)
    story.act(30 * S, events.ComeOut, wearers=(1,))
    story.hear(30 * S)
    story.hear(55 * S)
    story.act(60 * S, events.OffAir, wearers=(1,))
    return story


def heard_until(story: "Story", t: int) -> None:
    while story.now + 5 * S <= t:
        story.hear(story.now + 5 * S)


def test_a_set_left_on(off_air: "Story") -> None:
    heard_until(off_air, 655 * S)
    assert off_air.alarms(t=660 * S - 1) == []
    assert off_air.alarm("left_on", t=660 * S).priority is Priority.NOTICE
    off_air.hear(665 * S, kind=Kind.SIGN_OFF)
    assert off_air.alarms() == []


def test_silent_it_is_not_left_on(off_air: "Story") -> None:
    """Silent beyond the link's limit, nobody knows whether it still is."""
    heard_until(off_air, 655 * S)
    limit = off_air.line().silence_limit_ns
    assert limit is not None
    assert off_air.alarms(t=655 * S + limit - 1) == ["left_on"]
    assert off_air.alarms(t=655 * S + limit) == []


def test_on_air_again_it_is_in_use(off_air: "Story") -> None:
    heard_until(off_air, 660 * S)
    off_air.act(665 * S, events.Connect, wearers=(1,))
    assert off_air.alarms() == []


# ---------------------------------------------------------------- checks are not alarms


def test_what_is_tried_at_check_in_and_bled_after_use_raises_nothing(story: "Story") -> None:
    """Both warnings tried at the door; after use the valve is shut and the line bled."""
    story.list_and_join(1, 101)
    story.hear(1 * S, kind=Kind.SIGN_ON, pressure_dbar=2900)
    story.hear(5 * S, motion=Motion.PRE_ALARM)
    story.hear(10 * S, motion=Motion.ALARM)
    story.hear(15 * S, low_air=True, pressure_dbar=400)
    story.hear(20 * S, pressure_dbar=2900)
    story.connect(pressure_bar=290)
    story.act(30 * S, events.Enter, wearers=(1,))
    story.hear(30 * S, pressure_dbar=2880)
    story.act(60 * S, events.ComeOut, wearers=(1,))
    story.hear(60 * S, pressure_dbar=2700)
    story.act(70 * S, events.OffAir, wearers=(1,))
    for n, bar in enumerate((270, 180, 90, 20, 0, 0, 0)):
        story.hear((75 + 5 * n) * S, pressure_dbar=bar * 10, low_air=bar < 100)
    story.hear(115 * S, motion=Motion.PRE_ALARM, pressure_dbar=0, low_air=True)
    story.hear(125 * S, motion=Motion.ALARM, pressure_dbar=0, low_air=True)
    story.hear(130 * S, kind=Kind.SIGN_OFF, pressure_dbar=0)
    assert story.alarms(t=20 * MIN) == []
    assert story.incident.take_announcements() == ()
