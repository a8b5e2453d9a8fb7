"""Turning back: the marks of a crew, when it must, when it is late."""

from typing import TYPE_CHECKING

import pytest

from monitor.incident import events
from monitor.incident.air import gas
from monitor.incident.air.start import StartFrom
from monitor.incident.picture import AirFrom, Priority
from protocol.packets import Kind
from tests.monitor.incident.falling import (
    DOUBLE,
    EQUIPMENT,
    HALF,
    S,
    enter_at,
    fall,
    fall_both,
    story_of,
    told,
)

if TYPE_CHECKING:
    from tests.monitor.incident.conftest import Story


def test_the_trainers_example_turns_at_half_of_the_usable_air(new_story: "type[Story]") -> None:
    """(280 - 60) / 2 + 60 = 170 bar (a UK trainers' worked example)."""
    rules = HALF.model_copy(update={"turn_back_reserve_bar": 60.0})
    story = story_of(new_story, rules)
    story.list_and_join()
    story.hear(0, kind=Kind.SIGN_ON, pressure_dbar=2800)
    story.connect(pressure_bar=280)
    story.act(1 * S, events.Enter, wearers=(1,))
    assert story.line().air.turn_bar == pytest.approx(170)
    fall(story, 300, 170.1)
    assert "turn_back" not in story.alarms()
    told(story, 305 * S, 170)
    assert story.alarm("turn_back").priority is Priority.CAUTION
    assert story.line().state == "TURN-BACK DUE"


def test_double_air_for_the_way_back_once_the_objective_is_reached(
    new_story: "type[Story]",
) -> None:
    """300 to 262 bar on the way in: 55 + 2 x 38 = 131 bar (FwDV 7 7.2, from memory)."""
    story = story_of(new_story, DOUBLE)
    enter_at(story, 300)
    # On the way in: the deepest point from which it can be kept, (55 + 2 x 300) / 3 = 218.3.
    assert story.line().air.turn_bar == pytest.approx(218.33, abs=0.01)
    fall(story, 240, 262)
    story.act(240 * S, events.ReachObjective, wearers=(1,))
    assert story.line().air.turn_bar == pytest.approx(131)
    assert story.line().objective_ns == 0
    # Sent on from 200 bar: 76 bar are to be kept for what was walked, and the way in goes on.
    fall(story, 600, 200)
    story.act(600 * S, events.NewObjective, wearers=(1,), location="loft")
    assert story.line().air.turn_bar == pytest.approx((55 + 2 * (38 + 200)) / 3)
    assert story.line().location == "loft"
    assert story.line().objective_ns is None


def test_the_worst_of_a_crew_turns_it_in_one_alarm(new_story: "type[Story]") -> None:
    """Bar rule alone 131, 143, 109 bar; whoever has the least margin turns the crew."""
    story = story_of(new_story, DOUBLE)
    enter_at(story, 300, 290)
    fall_both(story, 240, 262, 246)
    story.act(240 * S, events.ReachObjective, wearers=(1, 2))
    assert story.line(1).air.turn_bar == pytest.approx(131)
    assert story.line(2).air.turn_bar == pytest.approx(143)
    fall_both(story, 600, 180, 143)
    alarm = story.alarm("turn_back")
    assert alarm.wearers == (1, 2)
    assert alarm.subject == "Alpha 1"
    assert alarm.detail == "Alpha 2 at 143 bar: double air for the way back"
    assert alarm.air is not None
    assert alarm.air.pressure_bar == 143
    # The other's own mark adds nothing: it is the same crew.
    fall_both(story, 700, 130, 120)
    assert story.alarms().count("turn_back") == 1


def test_not_started_back_in_time_is_a_danger(new_story: "type[Story]") -> None:
    story = story_of(new_story, HALF)
    enter_at(story, 300)
    # (300 + 55) / 2 = 177.5
    fall(story, 300, 177.5)
    story.take("turn_back")
    for t in range(305, 360, 5):
        told(story, t * S, 176)
    assert story.alarm("turn_back", t=360 * S - 1).priority is Priority.CAUTION
    late = story.alarm("turn_back", t=360 * S)
    assert late.priority is Priority.DANGER
    assert not late.acknowledged
    story.act(361 * S, events.StartBack, wearers=(1,))
    assert story.take("turn_back") is None
    assert "turn_back" not in story.alarms()
    assert story.line().back_ns == 0


@pytest.mark.parametrize("ends", [events.StartBack, events.NewObjective, events.ComeOut])
def test_what_ends_it(new_story: "type[Story]", ends: type) -> None:
    story = story_of(new_story, DOUBLE)
    enter_at(story, 300)
    fall(story, 240, 260)
    story.act(240 * S, events.ReachObjective, wearers=(1,))
    # 55 + 2 x 40 = 135; sent on from 135 bar, the deepest point is (55 + 2 x (40 + 135)) / 3 =
    # 135 again, so that only a crew that is told to go on in spite of it has a later one.
    fall(story, 600, 141)
    story.act(601 * S, ends, wearers=(1,))
    told(story, 602 * S, 135)
    assert ("turn_back" in story.alarms()) is (ends is events.NewObjective)


def test_a_flicker_of_the_gauge_at_the_mark_is_one_alarm(new_story: "type[Story]") -> None:
    story = story_of(new_story, HALF)
    enter_at(story, 300)
    fall(story, 295, 179)
    for step, bar in enumerate([178, 177, 178, 177, 179, 177, 181]):
        told(story, (300 + 5 * step) * S, bar)
    said = [a for a in story.incident.take_announcements() if a.kind == "turn_back"]
    assert len(said) == 1
    told(story, 340 * S, 183)
    story.take("turn_back")
    assert "turn_back" not in story.alarms()


def test_the_estimate_of_a_silent_pack_reaches_the_mark_too(new_story: "type[Story]") -> None:
    story = story_of(new_story, HALF)
    enter_at(story, 200)
    mark = story.line().air.turn_bar
    assert mark is not None
    assert mark == pytest.approx((200 + 55) / 2)
    # No history: 100 L/min from the only reading on.
    above = gas.usable_l(200, 6.8, 15) - gas.usable_l(mark, 6.8, 15)
    due = int(above / 100 * 60) * S
    assert "turn_back" not in story.alarms(t=due - 1)
    assert "turn_back" in story.alarms(t=due)
    # Heard again with more than that, it was a worse case only.
    told(story, due + 5 * S, 190)
    story.take("turn_back")
    assert "turn_back" not in story.alarms()


def test_low_air_says_it_for_the_crew_and_turn_back_is_held(new_story: "type[Story]") -> None:
    story = story_of(new_story, HALF)
    enter_at(story, 300)
    fall(story, 300, 177)
    fall(story, 600, 105)
    assert story.alarms() == ["low_air"]


def test_the_first_pressure_told_stands_for_that_at_connecting(new_story: "type[Story]") -> None:
    story = story_of(new_story, HALF)
    story.list_and_join()
    story.connect()
    story.act(1 * S, events.Enter, wearers=(1,))
    # Nobody has told anything: nine tenths of 200 bar, the least that a cylinder may be.
    assert story.line().air.turn_bar == pytest.approx((180 + 55) / 2)
    assert story.line().air.start_from is StartFrom.ASSUMED
    # The first that is told stands for it.
    story.hear(5 * S, kind=Kind.SIGN_ON, pressure_dbar=2550)
    assert story.line().air.turn_bar == pytest.approx((255 + 55) / 2)


def test_a_wearer_who_leaves_the_crew_takes_no_part(new_story: "type[Story]") -> None:
    story = story_of(new_story, HALF)
    enter_at(story, 300, 300)
    fall_both(story, 300, 200, 170)
    assert story.alarm("turn_back").wearers == (1, 2)
    story.act(301 * S, events.SetCrew, wearer=2, crew="Alpha 9")
    kinds = {(a.kind, a.crew) for a in story.picture().alarms}
    assert ("turn_back", "Alpha 9") in kinds
    story.act(302 * S, events.SetCrew, wearer=2, crew="")
    found = story.picture().alarms
    assert (2,) in [a.wearers for a in found if a.kind == "turn_back" and not a.acknowledged]


def test_who_goes_in_again_is_watched_for_turning_back_again(new_story: "type[Story]") -> None:
    """(55 + 2 x (40 + 240)) / 3 = 205 bar: the first way in, and the second from 240 on."""
    story = story_of(new_story, DOUBLE)
    enter_at(story, 300)
    fall(story, 100, 260)
    story.act(story.now, events.StartBack, wearers=(1,))
    fall(story, 200, 240)
    story.act(story.now, events.ComeOut, wearers=(1,))
    story.act(story.now, events.Enter, wearers=(1,))
    assert story.line().back_ns is None
    assert story.line().air.turn_bar == pytest.approx(205.0)
    fall(story, 300, 200)
    assert "turn_back" in story.alarms()


def test_a_lone_wearers_turn_back_goes_over_to_the_crew(new_story: "type[Story]") -> None:
    story = story_of(new_story, HALF)
    story.list_and_join(crew="")
    told(story, 0, 300, kind=Kind.SIGN_ON, equipment=EQUIPMENT)
    story.connect(1)
    story.act(0, events.Enter, wearers=(1,))
    fall(story, 300, 170)
    story.take("turn_back")
    story.act(story.now, events.SetCrew, wearer=1, crew="Alpha 9", leader=False)
    story.take("turn_back")
    story.act(story.now, events.StartBack, wearers=(1,))
    assert "turn_back" not in story.alarms()


def test_a_start_that_nobody_told_is_reckoned_high(new_story: "type[Story]") -> None:
    """Connected at 0 s, first reading after 5 min: 100 L/min are 500 L more, up to a full one."""
    story = story_of(new_story, HALF)
    story.list_and_join()
    story.connect()
    story.act(1 * S, events.Enter, wearers=(1,))
    told(story, 300 * S, 200, kind=Kind.SIGN_ON, equipment=EQUIPMENT)
    start = gas.gauge_bar(gas.usable_l(200, 6.8, 15) + 500, 6.8, 15)
    assert 270 < start < 300
    assert story.line().air.turn_bar == pytest.approx((start + 55) / 2)
    detail = story.incident.air_detail(1)
    assert detail is not None
    assert (detail.plan, detail.planned) == ((), None)
    (rule,) = [rule for rule in detail.rules if rule.label == "turn-back"]
    assert "reckoned back from a later reading, high" in rule.words
    # Never more than a full one holds.
    other = story_of(new_story, HALF)
    other.list_and_join()
    other.connect()
    other.act(1 * S, events.Enter, wearers=(1,))
    told(other, 1200 * S, 250, kind=Kind.SIGN_ON, equipment=EQUIPMENT)
    assert other.line().air.turn_bar == pytest.approx((300 + 55) / 2)


def test_a_mark_at_half_is_not_moved_by_what_a_mate_breathes(new_story: "type[Story]") -> None:
    story = story_of(new_story, HALF)
    enter_at(story, 300, 120)
    before = story.line(2).air.turn_bar
    assert before == pytest.approx((120 + 55) / 2)
    fall_both(story, 300, 200, 100)
    assert story.line(2).air.turn_bar == before


def test_the_mark_of_a_silent_mate_is_watched_as_the_crew_moves_it(
    new_story: "type[Story]",
) -> None:
    """What wearer 1 breathes on the way in moves the mark of wearer 2, who is silent by then."""
    story = story_of(new_story, DOUBLE)
    enter_at(story, 300, 300)
    fall_both(story, 120, 270, 290)
    story.act(120 * S, events.ReachObjective, wearers=(2,))
    fall(story, 300, 200)
    story.act(300 * S, events.StartBack, wearers=(1,))
    story.take("turn_back")
    assert "turn_back" not in story.alarms()
    for t in range(300, 900):
        if t % 5 == 0:
            told(story, t * S, 200 - t / 100)
        air = story.line(2, t=t * S).air
        assert air.pressure_bar is not None
        assert air.turn_bar is not None
        if air.pressure_bar <= air.turn_bar:
            assert air.source is AirFrom.ESTIMATE
            assert "turn_back" in story.alarms()
            return
    raise AssertionError("never down to the mark")


def test_what_comes_next_goes_by_the_mark_that_is_shown(new_story: "type[Story]") -> None:
    """From connecting on, and until the way back has begun: never the later of two marks."""
    story = story_of(new_story, HALF)
    story.list_and_join()
    told(story, 0, 300, kind=Kind.SIGN_ON, equipment=EQUIPMENT)
    story.connect()

    def target() -> str | None:
        mark = story.line().air.next
        return mark.target if mark else None

    assert target() == "turn"
    story.act(1 * S, events.Enter, wearers=(1,))
    assert target() == "turn"
    story.act(2 * S, events.StartBack, wearers=(1,))
    assert target() == "low"
    story.act(3 * S, events.NewObjective, wearers=(1,))
    assert target() == "turn"
    story.act(4 * S, events.ComeOut, wearers=(1,))
    assert target() == "low"


def test_who_turns_the_crew_is_named_as_it_is_now(new_story: "type[Story]") -> None:
    """Both from 290 bar, none down to a mark: first 1 breathes hard and 2 little, then 2 hard."""
    story = story_of(new_story, HALF)
    story.enter(1, 2)
    named = []
    for t in range(5, 585, 5):
        hard, little = min(t, 300), max(0, t - 300)
        story.hear(t * S, 101, pressure_dbar=2900 - 2 * hard - little // 2)
        story.hear(t * S + 1, 102, pressure_dbar=2900 - hard - 3 * little // 2)
        if t in {300, 580}:
            detail = story.incident.air_detail(1)
            assert detail is not None
            named += [rule.words for rule in detail.rules if "least margin" in rule.words]
    first, then = named
    assert "Alpha 1 has the least margin" in first
    assert "Alpha 2 has the least margin" in then
