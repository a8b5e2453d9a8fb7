"""The shortcut of ``hear``: a frame that says nothing new is taken without a review.

Whatever a review would have found must have been found by another one before. So a history is
folded twice, once with a review of pack and wearer after each frame, and the pictures are held
against one another. Found so: a wearer heard again, whose untaken NO SIGNAL went into a group that
was of others only, and came out of it with the next frame that was looked at.
"""

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.incident import acts, events, facts
from monitor.incident.conditions import review_contact
from monitor.incident.events import Done, Event, Heard, is_act
from monitor.incident.firing import fire_until
from monitor.incident.hearing import hear
from monitor.incident.picture import Picture
from monitor.incident.procedure import Procedure
from monitor.incident.situation import Situation
from monitor.incident.viewing import picture_of
from protocol.packets import Motion
from tests.depth import examples

if TYPE_CHECKING:
    from tests.monitor.incident.conftest import Story

S = 1_000_000_000
WEARERS = (1, 2, 3, 4, 5)
RULES = Procedure(
    name="trial",
    title="Trial rules",
    low_air_fraction=0.35,
    silence_limit_s=90,
    pre_alarm_silence_s=15,
    gas_temperature_c=30,
    projection_rate_l_min=100,
    spoken_reading_valid_s=600,
    standby=0,
    lone_entrant_allowed=True,
)


def pictures(story: list[Event], *, thorough: bool) -> Iterator[Picture]:
    """One after each event; ``thorough``: with a review of its pack after each frame."""
    first = story[0]
    assert isinstance(first, Done)
    assert isinstance(first.what, events.Opened)
    s = Situation(first.what, first.t)
    for event in story[1:]:
        if isinstance(event, Done):
            facts.not_listening(s, event.what, event.t)
        fire_until(s, event.t - 1)
        s.now = max(s.now, event.t)
        if isinstance(event, Heard):
            hear(s, event)
            if thorough:
                review_contact(s, s.contacts[event.packet.identity])
        elif is_act(event.what):
            acts.act_on(s, event.what)
        else:
            facts.take_fact(s, event.what)
        yield picture_of(s)


def report(draw: Any, story: "Story", wearer: int, t: int) -> None:
    """Mostly the same again, air going down by the clock."""
    story.hear(
        t,
        100 + wearer,
        battery_percent=draw(st.sampled_from([90] * 8 + [89, 20])),
        motion=draw(st.sampled_from([Motion.MOVING] * 12 + [Motion.PRE_ALARM, Motion.ALARM])),
        low_air=draw(st.sampled_from([False] * 12 + [True])),
        pressure_dbar=max(0, 2900 - t // S) if draw(st.integers(0, 20)) else None,
    )


def deed(draw: Any, story: "Story", t: int) -> None:
    """Something by the officer, or of the base."""
    wearers = (draw(st.sampled_from(WEARERS)),)
    kind = draw(st.sampled_from(["take", "take", "read", "out", "in", "off", "link"]))
    if kind == "take":
        alarms = (draw(st.integers(1, 12)),)
        story.act(t, events.Acknowledge, alarms=alarms)
    elif kind == "read":
        bar = draw(st.integers(100, 290))
        story.act(t, events.SpokenReading, wearers=wearers, pressure_bar=bar)
    elif kind == "link":
        story.do(t, events.LinkState(link=1, name="udp", up=draw(st.booleans())))
    else:
        act = {"out": events.ComeOut, "in": events.Enter, "off": events.OffAir}[kind]
        story.act(t, act, wearers=wearers)


@st.composite
def histories(draw: Any, make: "type[Story]") -> list[Event]:
    """Some minutes of five packs, each heard or not in spells, and what is done meanwhile."""
    story = make(RULES)
    story.enter(*WEARERS)
    t = 0
    for _ in range(draw(st.integers(1, 4))):
        heard = draw(st.lists(st.sampled_from(WEARERS), unique=True))
        for _ in range(draw(st.integers(1, 24))):
            t += 5
            for wearer in heard:
                report(draw, story, wearer, t * S + wearer)
        for _ in range(draw(st.integers(0, 2))):
            deed(draw, story, t * S + draw(st.integers(6, 9)))
    return story.events


@pytest.fixture(scope="session")
def any_history(new_story: "type[Story]") -> Any:
    return histories(new_story)


@settings(max_examples=examples(10), deadline=None)
@given(st.data())
def test_a_frame_taken_by_the_shortcut_would_have_changed_nothing(
    any_history: Any, data: Any
) -> None:
    story = data.draw(any_history)
    both = zip(pictures(story, thorough=False), pictures(story, thorough=True), strict=True)
    for short, thorough in both:
        assert short == thorough


def test_an_untaken_line_stays_when_others_fall_silent_together(story: "Story") -> None:
    """Wearer 1 silent and heard again, not taken; 2 to 4 silent as a group; then news of 1."""
    story.enter(1, 2, 3, 4)
    for t in range(5, 200, 5):
        if t not in range(15, 130):
            story.hear(t * S, 101)
        for pack in (102, 103, 104):
            if t < 140:
                story.hear(t * S, pack)
    # 130 s: heard again; 135 s: the others for the last time; at most 90 s of silence are allowed.
    for t in range(200, 240, 5):
        story.hear(t * S, 101)
    assert "several_silent" in story.alarms()
    waits = [a.state for a in story.picture().alarms if a.kind == "no_signal" and a.wearers == (1,)]
    assert waits == ["returned, unacknowledged"]
    story.hear(240 * S, 101, battery_percent=89)
    now = [a.state for a in story.picture().alarms if a.kind == "no_signal" and a.wearers == (1,)]
    assert now == waits
