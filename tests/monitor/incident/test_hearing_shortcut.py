"""The shortcut of ``hear``: a frame that says nothing new is taken without a review.

Whatever a review would have found must have been found by another one before. So a history is
folded twice, once with a review of pack and wearer after each frame, and the pictures are held
against one another. Found so: a wearer heard again, whose untaken NO SIGNAL went into a group that
was of others only, and came out of it with the next frame that was looked at. And: an estimate
that falls from a word while its pack goes on telling, whose deadlines come sooner with each breath.
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
from protocol.packets import Apparatus, Equipment, Kind, Motion
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
USUAL = Equipment(Apparatus.OPEN_CIRCUIT, 3000, 680, None)
TELLS_LOW = Equipment(Apparatus.OPEN_CIRCUIT, 3000, 680, 550)
"""The set of the stories, which now tells its own low-air value: 55 bar."""
STEPS: dict[str, tuple[Any, dict[str, Any]]] = {
    "out": (events.ComeOut, {}),
    "in": (events.Enter, {}),
    "back": (events.StartBack, {}),
    "off": (events.OffAir, {}),
    "aside": (events.AugmentSupply, {}),
    "own": (events.AugmentSupply, {"on": False}),
}


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
        fire_until(s, event.t)
        yield picture_of(s)


def differ(story: list[Event]) -> list[int]:
    """Instants of the events after which the two pictures are not the same."""
    both = zip(pictures(story, thorough=False), pictures(story, thorough=True), strict=True)
    return [e.t for e, (short, thorough) in zip(story[1:], both, strict=True) if short != thorough]


ODD: list[dict[str, Any]] = [
    {"battery_percent": 89},
    {"battery_percent": 20},
    {"motion": Motion.PRE_ALARM},
    {"motion": Motion.ALARM},
    {"low_air": True},
    {"pressure_dbar": None},
    {"pressure_dbar": None, "low_air": True},
    {"equipment": TELLS_LOW},
]
"""What a frame may tell beside air that goes down. One of eight does."""
JUMPS = (250, -300)
"""So far a gauge may fall at once, in 0.1 bar, with as few frames."""


def report(draw: Any, story: "Story", wearer: int, t: int, dbar: int) -> int:
    """Mostly the same again; gives the pressure from which it goes on."""
    odd = draw(st.integers(0, 8 * len(ODD)))
    if odd < len(JUMPS):
        dbar = min(3000, max(0, dbar - JUMPS[odd]))
    oddity = ODD[odd // 8] if odd % 8 == 7 else {}
    story.hear(t, 100 + wearer, **{"pressure_dbar": dbar, **oddity})
    return dbar


def deed(draw: Any, story: "Story", t: int) -> None:
    """Something by the officer, or of the base."""
    wearers = (draw(st.sampled_from(WEARERS)),)
    kind = draw(st.sampled_from(["take", "take", "read", "link", "trust", "fresh", *STEPS]))
    if kind == "trust":
        story.act(t, events.TrustGauge, wearer=wearers[0], counts="voice")
    elif kind == "fresh":
        story.act(t, events.JoinPack, wearer=wearers[0], pack=100 + wearers[0], cylinder_id=f"{t}")
    elif kind == "take":
        alarms = (draw(st.integers(1, 12)),)
        story.act(t, events.Acknowledge, alarms=alarms)
    elif kind == "read":
        bar = draw(st.integers(100, 290))
        story.act(t, events.SpokenReading, wearers=wearers, pressure_bar=bar)
    elif kind == "link":
        story.do(t, events.LinkState(link=1, name="udp", up=draw(st.booleans())))
    else:
        act, fields = STEPS[kind]
        story.act(t, act, wearers=wearers, **fields)


@st.composite
def histories(draw: Any, make: "type[Story]") -> list[Event]:
    """Some minutes of five packs, each heard or not in spells, and what is done meanwhile."""
    story = make(RULES)
    story.enter(*WEARERS)
    t, dbar = 0, dict.fromkeys(WEARERS, 2900)
    for _ in range(draw(st.integers(1, 4))):
        heard = draw(st.lists(st.sampled_from(WEARERS), unique=True))
        each = {wearer: draw(st.sampled_from([5, 3, 8, 20, 40])) for wearer in heard}
        for _ in range(draw(st.integers(1, 24))):
            t += 5
            for wearer in heard:
                left = max(0, dbar[wearer] - each[wearer])
                dbar[wearer] = report(draw, story, wearer, t * S + wearer, left)
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
    assert differ(data.draw(any_history)) == []


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


def breathing(story: "Story", t: range, at_dbar: int, dbar_each: int) -> int:
    """Wearer 1 is heard each 5 s from a pressure on; gives the one told last."""
    told = [at_dbar - n * dbar_each for n in range(len(t))]
    for at, dbar in zip(t, told, strict=True):
        story.hear(at * S, 101, pressure_dbar=dbar)
    return told[-1]


def test_an_estimate_that_falls_from_a_word_goes_by_what_the_pack_has_told_since(
    new_story: "type[Story]",
) -> None:
    """A word of 200 bar against 280 of the pack: the lower governs, and falls as the pack tells.

    From 105 bar on (35 % of 300) the air counts as low. Of 6.8 L those 95 bar are at most 646 L; at
    2 bar each 5 s, 163 L/min, that is gone 238 s after the word. The estimate is no later. Without
    a look at each such frame it came 338 s after it, by the rate of before.
    """
    story = new_story(RULES.model_copy(update={"turn_back_rule": "none"}))
    story.enter(1)
    last = breathing(story, range(5, 205, 5), 2895, 5)  # 0.5 bar each 5 s
    story.act(201 * S, events.SpokenReading, wearers=(1,), pressure_bar=200)
    breathing(story, range(205, 445, 5), last - 20, 20)
    assert differ(story.events) == []
    assert story.alarm("overdue").raised_at_ns <= (201 + 238) * S


def test_a_gauge_that_falls_at_once_on_another_supply_is_in_doubt_at_the_second_reading(
    new_story: "type[Story]",
) -> None:
    """One reading far under the one before may be noise; the next, though it rests, says so too."""
    story = new_story(RULES)
    story.enter(1)
    breathing(story, range(5, 65, 5), 2895, 5)
    story.act(61 * S, events.AugmentSupply, wearers=(1,))
    breathing(story, range(65, 80, 5), 2840, 0)
    story.hear(80 * S, 101, pressure_dbar=2400)
    assert "gauge" not in story.alarms()
    story.hear(85 * S, 101, pressure_dbar=2398)
    assert "gauge" in story.alarms()
    assert differ(story.events) == []


def test_who_comes_to_breathe_faster_is_to_turn_soon_however_little_else_is_new(
    new_story: "type[Story]",
) -> None:
    """Half of the usable air above 105 bar of 290: 197.5. Two minutes at 82 L/min are 24 bar."""
    story = new_story(RULES)
    story.enter(1)
    last = breathing(story, range(5, 505, 5), 2895, 5)
    breathing(story, range(505, 800, 5), last - 10, 10)  # 1 bar each 5 s of 6.8 L: 82 L/min
    assert differ(story.events) == []


def test_a_set_that_tells_its_low_air_value_later_is_looked_at(new_story: "type[Story]") -> None:
    """At 100 bar the air is low by 35 % of 300, not by the 55 bar that the set then tells."""
    story = new_story(RULES)
    story.enter(1)
    for t in (5, 10, 15):
        story.hear(t * S, 101, pressure_dbar=1000, kind=Kind.SIGN_ON, equipment=USUAL)
    story.hear(20 * S, 101, pressure_dbar=1000, kind=Kind.SIGN_ON, equipment=TELLS_LOW)
    assert story.line().air.low_air_bar == 55
    assert differ(story.events) == []
