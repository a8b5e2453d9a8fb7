"""Who is meant by a choice, and what they are called."""

from dataclasses import replace
from typing import Any

import pytest

from monitor.board.words import choosing


def test_a_wearer_by_number(scenes: Any) -> None:
    quiet = scenes.quiet()
    found = choosing.wearer_of(quiet, 4)
    assert found is not None
    assert found.call_sign == "Alpha 2-2"
    assert choosing.wearer_of(quiet, 9) is None


def test_digits_that_may_become_a_number(scenes: Any) -> None:
    tens = scenes.picture((scenes.wearer(21),))
    assert choosing.may_become(tens, "2")
    assert not choosing.may_become(tens, "1")
    assert not choosing.may_become(tens, "02")


def test_crews(scenes: Any) -> None:
    quiet = scenes.quiet()
    at_the_door = replace(quiet.wearers[2], under_air=False)
    picture = replace(quiet, wearers=(*quiet.wearers[:2], at_the_door, *quiet.wearers[3:]))
    assert choosing.crew_of(picture, 4) == (3, 4)
    assert choosing.crew_under_air(picture, picture.wearers[3]) == (4,)
    assert choosing.crews_of(picture, (4, 8)) == (4, 7, 8)
    alone = scenes.picture((scenes.wearer(1, crew=""), scenes.wearer(2, crew="")))
    assert choosing.crew_of(alone, 1) == (1,)
    assert choosing.crew_under_air(alone, alone.wearers[1]) == (2,)
    assert choosing.crew_of(alone, 9) == (9,)


@pytest.mark.parametrize(
    ("wearers", "words"),
    [
        ((4,), "4 Alpha 2-2"),
        ((3, 4), "Alpha 2 (3, 4)"),
        ((3, 4, 7), "3, 4, 7"),
    ],
)
def test_names(scenes: Any, wearers: tuple[int, ...], words: str) -> None:
    assert choosing.names(scenes.quiet(), wearers) == words


def test_several_without_a_crew_are_their_numbers(scenes: Any) -> None:
    alone = scenes.picture((scenes.wearer(1, crew=""), scenes.wearer(2, crew="")))
    assert choosing.names(alone, (1, 2)) == "1, 2"


@pytest.mark.parametrize(
    ("wearers", "words"),
    [
        ((4,), "Alpha 2-2"),
        ((3, 4), "crew Alpha 2"),
        ((3, 4, 7), "crew Alpha 2 and Alpha 4-1"),
        ((1, 2, 3, 4, 8), "crew Alpha 1, crew Alpha 2 and Alpha 4-2"),
    ],
)
def test_the_scope_of_an_order_is_spoken(scenes: Any, wearers: tuple[int, ...], words: str) -> None:
    assert choosing.scope_words(scenes.quiet(), wearers) == words


def test_a_crew_is_whole_if_all_of_it_under_air_is_meant(scenes: Any) -> None:
    quiet = scenes.quiet()
    out = replace(quiet.wearers[0], under_air=False)
    three = replace(quiet.wearers[2], crew="Alpha 1")
    picture = replace(quiet, wearers=(out, quiet.wearers[1], three, *quiet.wearers[3:]))
    assert choosing.scope_words(picture, (2, 3)) == "crew Alpha 1"
    # One who stands at the door is not of the crew that is inside.
    assert choosing.scope_words(picture, (1, 2, 3)) == "Alpha 1-1 and crew Alpha 1"


def test_a_scope_stays_short_and_safe(scenes: Any) -> None:
    crowd = scenes.many(60)
    everyone = tuple(w.wearer for w in crowd.wearers)
    assert choosing.scope_words(crowd, everyone) == "60 wearers"
    rude = scenes.picture((scenes.wearer(1, call_sign="A\x1b[2J", crew=""),))
    assert "\x1b" not in choosing.scope_words(rude, (1,))
