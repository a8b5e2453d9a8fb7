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
    wait_until,
)

EVERYBODY_S = 30.0
"""The first crews sign on within seconds; a beacon comes each five."""


def wait_live(screen: Screen, home: Home) -> str:
    """Wait until the first six packs are proven live; give the screen."""
    (journal,) = wait_until(home.journals, "a journal", 10.0)
    wait_recording(journal)
    wait_until(lambda: folded(journal).signals_heard >= 6, "six signals", EVERYBODY_S)
    return wait_until(
        lambda: text if "signals 6/6" in (text := screen.text()) else "",
        lambda: f"six signals on the screen:\n{screen.text()}",
    )


def test_the_drill_is_alive_soon_and_leaves_nothing_behind(screen: Screen, home: Home) -> None:
    screen.open(80, 24, "drill")
    text = wait_live(screen, home)
    assert "EXERCISE" in text
    assert "NOT AUTHENTICATED" not in text
    screen.press("q")
    wait_until(lambda: "stop recording too" in screen.text(), "the question")
    screen.press("2")
    wait_until(lambda: f"ended with {int(Exit.OK)}" in screen.text(), "the end")
    wait_until(lambda: not processes(str(home.incidents)), "nothing left over")


def test_the_drill_goes_on_when_its_terminal_dies(
    screen: Screen, screens: Callable[[], Screen], home: Home
) -> None:
    screen.open(120, 40, "drill")
    wait_live(screen, home)
    kill(screen.pid(), signal.SIGKILL)
    again = screens()
    again.open(80, 24, "watch")
    wait_until(lambda: "signals 6/6" in again.text(), again.text)


def test_the_plain_board_says_it_in_lines(home: Home) -> None:
    """Chosen by itself where there is no terminal."""
    board = home.start("drill")
    wait_until(lambda: "Alpha 1-1: ok" in home.log_of(board), lambda: home.log_of(board), 30.0)
    said = home.log_of(board)
    assert said.index("not a certified safety device") < said.index("Alpha 1-1")
    assert "EXERCISE" in said
    assert "\x1b" not in said
