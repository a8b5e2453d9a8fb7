"""The whole thing as ``make demo`` starts it: packs, recorder and board, and nothing left over."""

import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from monitor.errors import Exit
from tests.functional.conftest import (
    Home,
    Screen,
    folded,
    kill,
    processes,
    wait_recording,
    wait_screen,
    wait_shown,
    wait_taken,
)
from tests.functional.patience import PATIENCE_S, wait_until
from tests.monitor import hostile_files


def wait_live(screen: Screen, home: Home) -> str:
    """Wait until the first six packs are proven live; give the screen."""
    (journal,) = wait_until(home.journals, "a journal")
    wait_recording(journal)
    wait_until(lambda: folded(journal).signals_heard >= 6, "six signals")
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
    wait_until(lambda: "Alpha 1-1: ok" in home.log_of(board), lambda: home.log_of(board))
    said = home.log_of(board)
    assert said.index("not a certified safety device") < said.index("Alpha 1-1")
    assert "EXERCISE" in said
    assert "\x1b" not in said


def test_nothing_that_lies_where_it_is_started_is_run(home: Home) -> None:
    """Packs, recorder, keeper: a ``monitor.py`` or ``json.py`` in the folder stops none."""
    hostile_files.lay(home.folder)
    board = home.start("drill", PYTHONUSERBASE=str(home.folder))
    (journal,) = wait_until(home.journals, lambda: home.log_of(board))
    wait_recording(journal)
    lines = [Path(f"/proc/{pid}/cmdline").read_bytes() for pid in home.at_home()]
    for words in (b"\0monitor.cli\0packs\0", b"\0monitor.cli\0record\0", b"\0monitor.keeping\0"):
        assert [line for line in lines if words in line], lines
    assert hostile_files.run_by_mistake(home.folder) == ""


def test_an_instructor_lets_something_go_wrong_and_the_score_knows_it(
    home: Home, screen: Screen
) -> None:
    """Within tmux the drill opens the instructor's screen in a window of its own."""
    screen.open(80, 24, "drill", "--instructor")
    wait_shown(screen, "KILN LANE", "checked in")

    def window(*argv: str) -> str:
        return subprocess.run(
            ["tmux", "-L", screen.name, *argv], capture_output=True, text=True, check=True,
            timeout=PATIENCE_S,
        ).stdout  # fmt: skip

    def there(words: str) -> str:
        return wait_until(
            lambda: text if words in (text := window("capture-pane", "-p", "-t", ":1")) else "",
            f"{words!r} on the instructor's screen",
        )

    there("INSTRUCTOR")
    there("Alpha 1-1")
    # Once the first crews are on air, so that the drill's script has done its first acts.
    wait_shown(screen, "under air 6")
    for key in ("4", "Enter", "3", "2"):
        window("send-keys", "-t", ":1", key)
        time.sleep(0.1)
    there("by hand 1: distress button of 4")
    wait_shown(screen, "DISTRESS", "4 Alpha 2-2")
    time.sleep(1)
    window("send-keys", "-t", ":0", "Space")
    wait_taken(screen, "DISTRESS")
    window("send-keys", "-t", ":1", ".")
    wait_shown(screen, "EXERCISE PAUSED")
    there("EXERCISE PAUSED")
    before = screen.text().splitlines()[0]
    time.sleep(2.5)
    assert screen.text().splitlines()[0] == before
    window("send-keys", "-t", ":1", ".")
    wait_screen(screen, lambda t: "PAUSED" not in t, "it goes on")
    for key in ("Enter", "1", "1"):
        window("send-keys", "-t", ":1", key)
        time.sleep(0.1)
    there("ticked: called")
    window("send-keys", "-t", ":0", "q")
    wait_shown(screen, "LEAVE THE BOARD?")
    window("send-keys", "-t", ":0", "2")
    wait_shown(screen, "ended with 0")
    (journal,) = home.journals()
    scored = home.run("score", str(journal), "--width", "160")
    assert scored.returncode == 0, scored.stderr
    told = scored.stdout
    assert "by hand 1: distress button of 4" in told
    assert "called" in told
    line = next(x for x in told.splitlines() if "by hand 1" in x)
    assert "shown" in line
    assert "NOT SHOWN" not in line
    key = str(journal.with_suffix(".key"))
    assert home.run("verify", str(journal), "--key", key).returncode == 0


DOORS = """
import sys
from pathlib import Path
from monitor.cli.drill_doors import Everything
with Everything(Path(sys.argv[1])) as all_of_it:
    all_of_it._run(("sleep", "300"))
    print(all_of_it._processes[0].pid, flush=True)
    sys.stdin.read()
"""


@pytest.mark.parametrize("number", [signal.SIGHUP, signal.SIGTERM])
def test_a_terminal_that_is_closed_ends_all_doors(tmp_path: Path, number: signal.Signals) -> None:
    with subprocess.Popen(
        [sys.executable, "-c", DOORS, str(tmp_path)],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
    ) as run:  # fmt: skip
        assert run.stdout is not None
        child = Path("/proc") / run.stdout.readline().strip()
        assert child.exists()
        run.send_signal(number)
        assert run.wait(PATIENCE_S) == 128 + number
        assert not child.exists()
