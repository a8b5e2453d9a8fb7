"""Crews whose gauges fall as a test says: what the tests of air and of turning back share."""

from typing import TYPE_CHECKING, Any

from monitor.incident import events
from monitor.incident.procedure import Procedure
from protocol.packets import Apparatus, Equipment, Kind

if TYPE_CHECKING:
    from tests.monitor.incident.conftest import Story

S = 1_000_000_000
EQUIPMENT = Equipment(Apparatus.OPEN_CIRCUIT, 3000, 680, None)
DOUBLE = Procedure(
    name="double",
    title="Double air for the way back",
    low_air_fraction=0.35,
    silence_limit_s=90,
    pre_alarm_silence_s=15,
    gas_temperature_c=15,
    projection_rate_l_min=100,
    spoken_reading_valid_s=600,
    turn_back_rule="double",
    turn_back_reserve_bar=55,
    withdrawal_start_s=60,
    lone_entrant_allowed=True,
    standby=0,
)
HALF = DOUBLE.model_copy(update={"name": "half", "turn_back_rule": "half"})


def story_of(new_story: "type[Story]", rules: Procedure) -> "Story":
    return new_story(rules)


def told(story: "Story", t: int, bar: float, wearer: int = 1, **fields: Any) -> None:
    story.hear(t, 100 + wearer, pressure_dbar=round(bar * 10), **fields)


def enter_at(story: "Story", *bars: float) -> None:
    """Connected and entered, wearers 1, 2, ... with these on their gauges; one crew."""
    wearers = tuple(range(1, len(bars) + 1))
    for wearer, bar in zip(wearers, bars, strict=True):
        story.list_and_join(wearer, 100 + wearer)
        told(story, story.now, bar, wearer, kind=Kind.SIGN_ON, equipment=EQUIPMENT)
    story.connect(*wearers)
    story.act(story.now, events.Enter, wearers=wearers)


def fall(story: "Story", to_s: int, to_bar: float, wearer: int = 1) -> None:
    """A report each 5 s, evenly down to this, from the present reading."""
    start_s = story.now // S
    start = story.line(wearer).air.pressure_bar
    assert start is not None
    for t in range(start_s + 5, to_s + 1, 5):
        told(story, t * S, start + (to_bar - start) * (t - start_s) / (to_s - start_s), wearer)


def fall_both(story: "Story", to_s: int, *to_bars: float) -> None:
    """The same for wearers 1 and 2."""
    start_s = story.now // S
    starts = [story.line(n).air.pressure_bar or 0.0 for n in (1, 2)]
    for t in range(start_s + 5, to_s + 1, 5):
        for wearer, (start, to_bar) in enumerate(zip(starts, to_bars, strict=True), start=1):
            told(story, t * S, start + (to_bar - start) * (t - start_s) / (to_s - start_s), wearer)
