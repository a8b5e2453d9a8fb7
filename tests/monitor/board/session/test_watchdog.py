"""The display is stopped exactly when the horizon has stood for a second."""

from typing import Any

from monitor.board.session.revive import ALIVE, FAILED, HANGS, STARTING
from monitor.board.session.watchdog import (
    ELSEWHERE,
    NOT_ON_DISK,
    STOPPED_NS,
    Watchdog,
    banner,
    cause_of,
    laid_over,
)
from monitor.board.words.marks import Line, Role

S = 1_000_000_000


def test_stopped_at_one_second_not_before() -> None:
    dog = Watchdog(0)
    dog.saw(10, 5)
    assert not dog.stopped(5 + STOPPED_NS - 1)
    assert dog.stopped(5 + STOPPED_NS)


def test_a_horizon_that_moves_keeps_it_alive() -> None:
    dog = Watchdog(0)
    for n in range(100):
        dog.saw(n, n * S // 4)
        assert not dog.stopped(n * S // 4)


def test_the_same_horizon_seen_again_does_not() -> None:
    dog = Watchdog(0)
    for n in range(5):
        dog.saw(7, n * S // 4)
    assert dog.stopped(S)
    assert dog.stands_ns(S) == S


def test_the_banner_lies_over_the_middle_and_greys_the_rest(scenes: Any) -> None:
    look = scenes.look()
    lines: list[Line] = [((f"line {n}", Role.DANGER),) for n in range(24)]
    block = banner(scenes.quiet(), look, 12 * S, "the recorder is there")
    drawn = laid_over(lines, block)
    text = "\n".join(t for line in drawn for t, _ in line)
    for words in ("DISPLAY STOPPED", "VALUES OLD", "USE VOICE AND PAPER", "12 s ago"):
        assert words in text
    assert len(drawn) == 24
    assert drawn[0] == (("line 0", Role.OLD),)
    assert drawn[-1] == lines[-1]
    assert {role for line in block for _, role in line} == {Role.DANGER}


def test_the_banner_fits_a_small_window(scenes: Any) -> None:
    block = banner(None, scenes.look(20, 6), S, "a long cause that cannot fit at all")
    drawn = laid_over([((" ", Role.QUIET),)] * 6, block)
    assert len(drawn) == 6
    assert all(len(t) <= 20 for line in block for t, _ in line)


def test_who_is_to_blame_for_a_display_that_has_stopped() -> None:
    fault, died = "the journal cannot be read: the disk reports a fault", f"{FAILED}: no journal"
    assert cause_of("", ALIVE, not_on_disk=False) == ALIVE
    # A board that cannot read looks after the recorder all the same, and tells both.
    assert cause_of(fault, STARTING, not_on_disk=False) == f"{fault}; {STARTING}"
    assert cause_of(fault, died, not_on_disk=False) == f"{fault}; {died}; {ELSEWHERE}"
    assert cause_of("", died, not_on_disk=False) == died
    assert cause_of("", HANGS, not_on_disk=False) == f"{HANGS}; {ELSEWHERE}"
    # The recorder lives and says why nothing is new.
    assert cause_of(fault, ALIVE, not_on_disk=True) == NOT_ON_DISK


def test_a_long_cause_goes_on_in_the_next_line(scenes: Any) -> None:
    block = banner(None, scenes.look(80, 24), S, NOT_ON_DISK)
    said = " ".join(text.strip() for line in block for text, _ in line)
    assert NOT_ON_DISK in said
