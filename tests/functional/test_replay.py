"""A replay in a real terminal: it runs, stands still, goes to an alarm, and acts on nothing."""

import hashlib

from monitor.errors import Exit
from shared import path
from tests.functional.conftest import Screen, wait_screen, wait_shown

GOLDEN = path("journals", "kiln-lane.journal")


def test_a_replay_runs_is_moved_and_changes_nothing(screen: Screen) -> None:
    before = hashlib.sha256(GOLDEN.read_bytes()).digest()
    screen.open(80, 24, "replay", str(GOLDEN), "--speed", "64")
    first = wait_shown(screen, " REPLAY ", "STANDS STILL", ", 0 min 0 s of", "KILN LANE")
    assert "q leave" in first.splitlines()[23]
    screen.press("PageDown")
    wait_shown(screen, "STANDS STILL", "VIEW ONLY", "NEW")
    screen.press(".")
    wait_shown(screen, "runs 64 x")
    wait_shown(screen, "AT THE END")
    screen.press("Space", "Home")
    wait_screen(screen, lambda t: ", 0 min 0 s of" in t and "NEW" not in t, "the start")
    screen.press("q")
    wait_shown(screen, f"ended with {int(Exit.OK)}")
    assert hashlib.sha256(GOLDEN.read_bytes()).digest() == before
