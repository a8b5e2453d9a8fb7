"""A board rings where the recorder does not sound; the rhythm is the ladder's own test."""

from dataclasses import replace
from typing import Any

import pytest

from monitor.board.session.bell import Bell
from monitor.incident.picture import Picture, Sounding

S = 1_000_000_000


def rung(picture: Picture, until_s: int, *, stopped: bool = False) -> list[int]:
    """Seconds at which it rings, asked once a second."""
    bell = Bell()
    return [at for at in range(until_s) if bell.rings(picture, at * S, stopped=stopped)]


@pytest.mark.parametrize("sound", ["bell", "missing", "failing", ""])
def test_it_rings_for_what_waits_as_often_as_the_recorder_would(scenes: Any, sound: str) -> None:
    # A danger each 10.25 s, seen once a second: at 0, 11, 22 s.
    assert rung(replace(scenes.trouble(), sound=sound), 30) == [0, 11, 22]
    assert rung(replace(scenes.quiet(), sound=sound), 30) == []


@pytest.mark.parametrize("sound", ["player", "off"])
def test_it_does_not_ring_where_the_recorder_sounds_or_silence_is_wanted(
    scenes: Any, sound: str
) -> None:
    assert rung(replace(scenes.trouble(), sound=sound), 30) == []


def test_it_does_not_ring_while_sound_is_silenced(scenes: Any) -> None:
    waits = Sounding(danger_ns=0, silenced_ns=9 * S)
    assert rung(replace(scenes.trouble(), sound="bell", sounding=waits), 30) == []


@pytest.mark.parametrize(("sound", "rings"), [("player", [0, 26]), ("bell", [0, 26]), ("off", [])])
def test_a_display_that_has_stopped_rings_whoever_sounded_before(
    scenes: Any, sound: str, rings: list[int]
) -> None:
    assert rung(replace(scenes.quiet(), sound=sound), 30, stopped=True) == rings
