"""A new user types an incident open in a real terminal, and the board comes up."""

import os
import pty
import signal
import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest

from monitor.follower import Follower
from monitor.incident.events import Opened
from tests.functional.conftest import (
    OPENING,
    OUTBY,
    Home,
    Screen,
    folded,
    kill,
    wait_gone,
    wait_recording,
    wait_shown,
)
from tests.functional.patience import PATIENCE_S, wait_until

SHEET = "OPENING AN INCIDENT"
STATE = Path(".local", "state", "outby", "last-opening.json")


def answer(screen: Screen, question: str, keys: str = "", shown: str = "") -> None:
    """Wait for the question, type the answer, see it, go on."""
    wait_shown(screen, f"KEYS WRITE  {question}: ")
    if keys:
        screen.press("-l", keys)
        wait_shown(screen, f"{shown or keys}_")
    screen.press("Enter")


def opened(journal: Path) -> Opened:
    with Follower(journal) as follower:
        while follower.poll() and follower.catching_up:
            pass
        assert follower.incident.opened is not None
        return follower.incident.opened


def the_journal(home: Home) -> Path:
    wait_until(home.journals, "a journal was made")
    (journal,) = home.journals()
    return journal


@pytest.mark.parametrize(("columns", "rows"), [(80, 24), (120, 40)])
def test_a_new_user_types_it_through_and_the_board_comes_up(
    screen: Screen, home: Home, port: int, columns: int, rows: int
) -> None:
    screen.open(columns, rows, "watch")
    text = wait_shown(screen, SHEET, "not a certified safety device", "procedure: none chosen")
    assert max(map(len, text.splitlines())) <= columns
    answer(screen, "incident", "Kiln Lane")
    answer(screen, "place", "Brick works")
    answer(screen, "entry point", "A")
    answer(screen, "operation", "Kiln works")
    answer(screen, "officer", "R. Harrow")
    answer(screen, "exercise or real", "1", "exercise")
    wait_shown(screen, "KEYS WRITE  procedure: ", "3 plain")
    screen.press("3")
    wait_shown(screen, "Plain procedure, 35 % low air", "50 L/min", "half of the usable air")
    screen.press("Enter")
    answer(screen, "stage")
    answer(screen, "roster", "1", "kiln-lane")
    answer(screen, "links", f"udp:127.0.0.1:{port}")
    answer(screen, "key file")
    wait_shown(screen, f"udp 127.0.0.1:{port}: opens")
    answer(screen, "clock checked", "1", "yes")
    wait_shown(screen, "KILN LANE", "EXERCISE", "1 Alpha 1-1", "q leave")
    journal = the_journal(home)
    wait_recording(journal)
    fact = opened(journal)
    assert (fact.place, fact.entry_point, fact.officer) == ("Brick works", "A", "R. Harrow")
    assert fact.operation == "Kiln works"
    assert (fact.use, fact.procedure.name, fact.clock_checked) == ("exercise", "plain", True)
    assert '"procedure":"plain"' in (home.folder / STATE).read_text()


def test_what_was_said_stands_there_and_the_last_procedure_is_offered(
    screens: Callable[[], Screen], home: Home, port: int
) -> None:
    path = home.folder / STATE
    path.parent.mkdir(parents=True)
    path.write_text('{"procedure":"uk-guidance"}')
    screen = screens()
    screen.open(
        80, 24, "watch", "--name", "Kiln Lane", "--officer", "R. Harrow", "--real",
        "--link", f"udp:127.0.0.1:{port}",
    )  # fmt: skip
    wait_shown(screen, SHEET, "Kiln Lane_", "R. Harrow", "real")
    for question in (
        "incident",
        "place",
        "entry point",
        "operation",
        "officer",
        "exercise or real",
    ):
        answer(screen, question)
    wait_shown(screen, "1 uk-guidance", "1 is the one used last", "procedure: none chosen")
    # Nothing is chosen by going on.
    screen.press("Enter")
    wait_shown(screen, "procedure: an answer is needed")
    screen.press("1")
    wait_shown(screen, "In the manner of UK national guidance", "40 L/min")
    screen.press("Escape")
    wait_shown(screen, "LEAVE? Nothing is opened.")
    screen.press("Escape")
    wait_shown(screen, "nothing was opened", "ended with 0")
    assert home.journals() == []


def test_a_link_that_is_in_use_is_said_before_recording(
    screen: Screen, home: Home, port: int, journal: Path
) -> None:
    link = f"udp:127.0.0.1:{port}"
    home.start("record", str(journal), "--name", "Other", "--officer", "R. Harrow", "--exercise",
               "--procedure", "plain", "--link", link)  # fmt: skip
    wait_recording(journal)
    screen.open(80, 24, "watch", "--name", "Kiln Lane", "--exercise", "--link", link)
    wait_shown(screen, SHEET)
    screen.press("Enter")
    wait_shown(screen, f"udp 127.0.0.1:{port}: DOES NOT OPEN: the port is in use")
    screen.press("Escape", "Escape")
    wait_gone(screen, SHEET)


def test_line_by_line_on_a_plain_terminal(home: Home, port: int) -> None:
    """A pty of our own is the keyboard: somebody is there, but ``--plain`` draws nothing."""
    ours, theirs = pty.openpty()
    answers = ("Kiln Lane", "", "A", "", "R. Harrow", "exercise", "plain", "", "",
               f"udp:127.0.0.1:{port}", "", "no", "quit stop")  # fmt: skip
    try:
        os.write(ours, "\n".join(answers).encode() + b"\n")
        done = subprocess.run(
            [str(OUTBY), "watch", "--plain"], env=home.environ, stdin=theirs, text=True,
            capture_output=True, timeout=PATIENCE_S, check=False, cwd=home.folder,
        )  # fmt: skip
    finally:
        os.close(ours)
        os.close(theirs)
    assert "procedure? (the rules in force" in done.stdout
    assert "planning rate: 50 L/min" in done.stdout
    assert f"udp 127.0.0.1:{port}: opens" in done.stdout
    fact = opened(the_journal(home))
    assert (fact.name, fact.use, fact.clock_checked) == ("Kiln Lane", "exercise", False)


def test_without_anybody_at_the_keyboard_it_is_the_one_error(home: Home) -> None:
    done = subprocess.run(
        [str(OUTBY), "watch", "--name", "Kiln Lane"], env=home.environ, text=True,
        stdin=subprocess.DEVNULL, capture_output=True, timeout=PATIENCE_S, check=False,
        cwd=home.folder,
    )  # fmt: skip
    assert done.returncode == 2
    assert done.stderr == (
        "outby: a new incident needs --officer, --exercise or --real, --procedure:"
        " say it, or set it once\n"
    )


def test_after_a_loss_of_power_one_key_goes_on_with_what_it_was(
    screen: Screen, home: Home, port: int
) -> None:
    """Board and recorder die together; whoever comes back need not know any name, link or file."""
    home.run("keys", "create", "fleet.key", "--exercise")
    links = ("--link", f"udp:127.0.0.1:{port}", "--key", "fleet.key")
    first = home.start("watch", "--plain", *OPENING, *links)
    (journal,) = wait_until(home.journals, "a journal")
    wait_recording(journal)
    (recorder,) = wait_until(lambda: home.recorders(journal), "a recorder")
    for pid in (recorder, first.pid):
        kill(pid, signal.SIGKILL)
    screen.open(80, 24, "watch")
    wait_shown(screen, "INTERRUPTED", "Kiln Lane, EXERCISE", "Enter")
    screen.press("Enter")
    wait_shown(screen, "KILN LANE", "links 1/1")
    assert "OPEN: NOT AUTHENTICATED" not in screen.text()
    assert "KEYS LOST" not in screen.text()
    assert [link.name for link in folded(journal).links] == [f"udp 127.0.0.1:{port}"]
