"""The keys of the instructor's screen."""

from typing import Any

import pytest

from monitor.instructor.keys import InstructorKeys
from monitor.instructor.trouble import Hand
from simulators.instructions import Stand

NUMBERS = (1, 2, 12, 120)
HANDS = (Hand("11", "called", None), Hand("14", "bookmark", None), Hand("31", "x", Stand()))


def press(keys: InstructorKeys, names: str) -> Any:
    done: Any = None
    for name in names.split():
        done = keys.press(name, NUMBERS, HANDS)
    return done


@pytest.mark.parametrize(
    ("typed", "chosen"), [("1", 1), ("1 2", 12), ("1 2 0", 120), ("2 1", 1), ("1 2 0 1", 1)]
)
def test_a_number_chooses_a_wearer(typed: str, chosen: int) -> None:
    keys = InstructorKeys()
    press(keys, typed)
    assert keys.chosen == chosen


def test_a_number_that_nobody_has() -> None:
    assert press(InstructorKeys(), "7") == "no wearer has number 7"


def test_up_and_down_go_round() -> None:
    keys = InstructorKeys()
    press(keys, "down")
    assert keys.chosen == 1
    press(keys, "up")
    assert keys.chosen == 120
    press(keys, "down")
    assert keys.chosen == 1
    assert InstructorKeys().press("up", (), HANDS) is None


def test_two_digits_after_enter_do_it() -> None:
    keys = InstructorKeys()
    assert press(keys, "enter 3 1") == Stand()
    assert not keys.open
    assert press(keys, "enter 1 4") == "bookmark"
    assert press(keys, "enter 1 1") == "called: first the number of a wearer"
    assert press(keys, "enter 9") == "nothing has number 9"
    press(keys, "enter escape")
    assert not keys.open


@pytest.mark.parametrize("key", ["q", "ctrl+c", "ctrl+z"])
def test_leaving_needs_no_question(key: str) -> None:
    assert press(InstructorKeys(), key) == "quit"


def test_a_full_stop_stands_still_and_other_keys_do_nothing() -> None:
    assert press(InstructorKeys(), "full_stop") == "stand"
    assert press(InstructorKeys(), "b") == "theme"
    assert press(InstructorKeys(), "f5 x é") is None
