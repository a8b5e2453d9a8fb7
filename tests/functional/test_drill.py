"""The whole thing as ``make demo`` starts it: packs, recorder and board, and nothing left over."""

import signal
from collections.abc import Callable

from monitor.errors import Exit
from tests.functional.conftest import (
    Home,
    Screen,
    folded,
    kill,
    processes,
    wait_recording,
    wait_shown,
    wait_until,
)

EVERYBODY_S = 30.0
"""The first crews sign on within seconds; a beacon comes each five."""


def wait_live(screen: Screen, home: Home) -> str:
    """Wait until the first six packs are proven live; give the screen."""
    (journal,) = wait_until(home.journals, "a journal", 10.0)
    wait_recording(journal)
    wait_until(lambda: folded(journal).signals_heard >= 6, "six signals", EVERYBODY_S)
    return wait_shown(screen, "EXERCISE", "signals 6/6", "roll call ", "q leave")


def test_the_drill_is_alive_soon_and_leaves_nothing_behind(screen: Screen, home: Home) -> None:
    screen.open(80, 24, "drill")
    text = wait_live(screen, home)
    assert "NOT AUTHENTICATED" not in text
    screen.press("q")
    wait_shown(screen, "stop recording too")
    screen.press("2")
    wait_shown(screen, f"ended with {int(Exit.OK)}")
    wait_until(lambda: not processes(str(home.incidents)), "nothing left over")
    (journal,) = home.journals()
    said = home.run("score", str(journal)).stdout
    assert "scenario Kiln Lane, seed 1" in said
    assert "injects that did not come in this run" in said


def test_the_drill_goes_on_when_its_terminal_dies(
    screen: Screen, screens: Callable[[], Screen], home: Home
) -> None:
    screen.open(120, 40, "drill")
    wait_live(screen, home)
    kill(screen.pid(), signal.SIGKILL)
    again = screens()
    again.open(80, 24, "watch")
    wait_shown(again, "signals 6/6")


def test_the_plain_board_says_it_in_lines(home: Home) -> None:
    """Chosen by itself where there is no terminal."""
    board = home.start("drill")
    wait_until(lambda: "Alpha 1-1: ok" in home.log_of(board), lambda: home.log_of(board), 30.0)
    said = home.log_of(board)
    assert said.index("not a certified safety device") < said.index("Alpha 1-1")
    assert "EXERCISE" in said
    assert "\x1b" not in said
