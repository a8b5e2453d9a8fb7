"""The board in a real terminal: what stands on it, and what happens when something dies."""

import re
import signal
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from monitor.errors import Exit
from tests.depth import DEPTH
from tests.functional import long_journal
from tests.functional.conftest import (
    OPENING,
    Home,
    Screen,
    folded,
    kill,
    prove,
    wait_gone,
    wait_recording,
    wait_screen,
    wait_shown,
    wait_taken,
)
from tests.functional.packs import Packs
from tests.functional.patience import wait_until

STOPPED = "DISPLAY STOPPED"
LONG = 40_000 * DEPTH
"""Frames: twenty wearers at one a second for over half an hour; by ``make search`` for hours."""
SOON_S = 2.0
"""The promise, where nothing else keeps the machine busy."""
FOLDS = 3
"""On a slow machine: so many times what folding the journal costs there and then."""


def watch(journal: Path, port: int) -> tuple[str, ...]:
    return ("watch", str(journal), "--link", f"udp:127.0.0.1:{port}", *OPENING)


def row_of(number: int) -> re.Pattern[str]:
    """A wearer's line: the number ends in column 18, the call sign follows."""
    return re.compile(rf"^.{{15}}{number:>3} Alpha ", re.MULTILINE)


@pytest.fixture
def opened(screen: Screen, journal: Path, port: int) -> Screen:
    """A board that has opened an incident and shows it."""
    screen.open(80, 24, *watch(journal, port))
    wait_shown(screen, "KILN LANE")
    wait_recording(journal)
    return screen


@pytest.mark.parametrize(("columns", "rows"), [(80, 24), (120, 40)])
def test_the_board_fills_its_screen(
    screen: Screen, journal: Path, port: int, packs: Packs, columns: int, rows: int
) -> None:
    screen.open(columns, rows, *watch(journal, port))
    wait_recording(journal)
    prove(packs, 101)
    packs.send(101, pressure_bar=217)
    text = wait_screen(
        screen,
        lambda t: (
            all(row_of(number).search(t) for number in range(1, 9))
            and "EXERCISE" in t.splitlines()[0]
            and "217" in t
            and "q leave" in t.splitlines()[rows - 1]
        ),
        "the header, eight wearers, the reading, and the keys in the last line",
    )
    assert max(map(len, text.splitlines())) <= columns


def test_no_color_leaves_words_and_signs(
    screen: Screen, journal: Path, port: int, packs: Packs
) -> None:
    screen.open(80, 24, *watch(journal, port), NO_COLOR="1")
    wait_recording(journal)
    prove(packs, 101)
    packs.send(101, distress=True)
    wait_screen(screen, lambda t: t.count("DISTRESS") == 2, "the alarm and its wearer's line")
    colours = re.findall(r"\x1b\[[0-9;]*?(?:3[0-7]|4[0-7]|38|48|9[0-7])[;m]", screen.styled())
    assert colours == []


def test_an_alarm_is_taken_with_one_key(
    opened: Screen, home: Home, journal: Path, packs: Packs
) -> None:
    prove(packs, 101)
    packs.send(101, distress=True)
    with home.promised(1.0):
        wait_shown(opened, "DISTRESS")
    time.sleep(0.8)
    with home.promised(2.0):
        opened.press("Space")
        wait_until(
            lambda: [a for a in folded(journal).alarms if a.kind == "distress" and a.acknowledged],
            "taken in the journal",
        )


@pytest.fixture
def both_report(packs: Packs) -> Iterator[Callable[[], None]]:
    """Proves two packs, which report from then on: without a late reading a gauge is asked for."""
    over = threading.Event()

    def report() -> None:
        while not over.wait(0.5):
            for identity in (101, 102):
                packs.send(identity)

    thread = threading.Thread(target=report)

    def begin() -> None:
        prove(packs, 101)
        prove(packs, 102)
        thread.start()

    yield begin
    over.set()
    if thread.is_alive():
        thread.join()


def heard_and_shown(screen: Screen, packs: Packs) -> bool:
    packs.send(101, pressure_bar=217)
    return "217" in screen.text()


@pytest.mark.parametrize("environ", [{}, {"NO_COLOR": "1"}], ids=["colours", "no colour"])
def test_evacuate_all_is_two_presses(
    home: Home,
    screens: Callable[[], Screen],
    journal: Path,
    port: int,
    both_report: Callable[[], None],
    environ: dict[str, str],
) -> None:
    """With the keyboard alone at 80x24: in, everybody out, answered by voice, out, all out."""
    screen, second = screens(), screens()
    screen.open(80, 24, *watch(journal, port), **environ)
    wait_recording(journal)
    second.open(80, 24, "watch", str(journal), **environ)
    both_report()
    wait_shown(screen, "checked in     2 Alpha 1-2")
    wait_shown(screen, "KILN LANE", "1 Alpha 1-1")
    wait_shown(second, "VIEW ONLY")
    # Another digit each time: the same again within 60 ms counts as a held key.
    for number, key, taken in (("1", "c", "connect"), ("2", "e", "enter")):
        screen.press(number, "k", key)
        wait_taken(screen, taken)
    wait_shown(screen, "under air 2", "emergency crew NONE")
    screen.press("f")
    wait_shown(screen, "EVACUATE EVERYBODY UNDER AIR: 2", "j = SEND IT", "come out now")
    time.sleep(0.3)
    assert folded(journal).orders == ()
    with home.promised(3.0):
        screen.press("j")
        for board in (screen, second):
            wait_shown(board, "EVACUATE, EVACUATE, EVACUATE.", "out 0 of 2")
    (order,) = folded(journal).orders
    assert (order.order, order.everybody, order.by) == ("evacuate", True, "R. Harrow")
    screen.press("1", "k", "-")
    wait_shown(screen, "by voice 2", "ALL ANSWERED")
    screen.press("2", "k", "o")
    wait_shown(screen, "ALL OUT after ")
    screen.press("d")
    wait_shown(screen, "RECEIVED   BUTTON     VOICE", "by R. Harrow")
    colours = re.findall(r"\x1b\[[0-9;]*?(?:3[0-7]|4[0-7]|38|48|9[0-7])[;m]", screen.styled())
    assert bool(colours) is not bool(environ)


def test_stray_keys_send_no_order(
    opened: Screen, journal: Path, both_report: Callable[[], None]
) -> None:
    """Enter and Space behind the key that opens, both keys at once, and all ten seconds gone."""
    both_report()
    wait_shown(opened, "checked in     2 Alpha 1-2")
    opened.press("1", "k", "c")
    wait_taken(opened, "connect")
    for keys in (("f", "Enter", "Space", "Enter"), ("f", "g", "h", "j"), ("f", "j", "j", "j")):
        opened.press(*keys)
        time.sleep(0.3)
        opened.press("Escape")
        time.sleep(0.3)  # at once behind Escape a letter is another key to a terminal
    opened.press("f")
    wait_shown(opened, "j = SEND IT")
    wait_shown(opened, "NOT SENT: the order stood open for 10 s")
    opened.press("j")
    wait_shown(opened, "no order is open")
    assert folded(journal).orders == ()


def test_all_of_one_wearer_is_two_keys_and_stays_live(opened: Screen, packs: Packs) -> None:
    prove(packs, 101)
    packs.send(101, pressure_bar=217)
    wait_shown(opened, "217")
    opened.press("1", "d")
    wait_shown(opened, "1 Alpha 1-1  ", "217 bar", "limit", "Esc the board")
    packs.send(101, pressure_bar=198)
    wait_shown(opened, "198 bar")
    opened.press("Escape")
    wait_shown(opened, "STATE")


def test_quitting_asks_and_recording_may_go_on(opened: Screen, home: Home, journal: Path) -> None:
    (recorder,) = home.recorders(journal)
    opened.press("q")
    asked = wait_shown(opened, "LEAVE THE BOARD?", "1 recording goes on")
    assert "ended with" not in asked
    opened.press("1")
    wait_shown(opened, f"ended with {int(Exit.OK)}")
    assert home.recorders(journal) == [recorder]
    wait_recording(journal)


def test_a_killed_board_leaves_recording_alone_and_a_new_one_is_complete(
    opened: Screen, screens: Callable[[], Screen], home: Home, journal: Path, packs: Packs
) -> None:
    (recorder,) = home.recorders(journal)
    kill(opened.pid(), signal.SIGKILL)
    prove(packs, 101)
    for bar in (222, 219, 217):
        packs.send(101, pressure_bar=bar)
    wait_until(lambda: folded(journal).wearers[0].air.reading_bar == 217, "recording went on")
    again = screens()
    with home.promised(3.0):
        again.open(80, 24, "watch", str(journal))
        wait_shown(again, "217")
    assert home.recorders(journal) == [recorder]


def test_a_terminal_that_dies_leaves_recording_alone(
    opened: Screen, screens: Callable[[], Screen], home: Home, journal: Path
) -> None:
    (recorder,) = home.recorders(journal)
    opened.close()
    wait_recording(journal)
    again = screens()
    again.open(80, 24, "watch", str(journal))
    wait_shown(again, "KILN LANE")
    assert home.recorders(journal) == [recorder]


def test_a_stopped_board_holds_nothing_up_and_catches_up(
    opened: Screen, home: Home, journal: Path, packs: Packs
) -> None:
    board = opened.pid()
    prove(packs, 101)
    kill(board, signal.SIGSTOP)
    for number in range(300):
        packs.send(101, pressure_bar=250 - number // 10)
    wait_until(lambda: folded(journal).wearers[0].air.reading_bar == 221, "recording went on")
    with home.promised(3.0):
        kill(board, signal.SIGCONT)
        wait_shown(opened, "221")


def test_a_stopped_recorder_is_said_within_a_second(
    opened: Screen, home: Home, journal: Path
) -> None:
    """The horizon moves at least each 0.25 s; once it has stood for 1 s the screen says so."""
    (recorder,) = home.recorders(journal)
    with home.promised(2.0):
        kill(recorder, signal.SIGSTOP)
        wait_shown(opened, STOPPED)
    time.sleep(2)
    assert home.recorders(journal) == [recorder]
    with home.promised(2.0):
        kill(recorder, signal.SIGCONT)
        wait_gone(opened, STOPPED)
    wait_recording(journal)


def test_a_dead_recorder_is_started_again(
    opened: Screen, home: Home, journal: Path, packs: Packs
) -> None:
    prove(packs, 101)
    packs.send(101, pressure_bar=222)
    wait_shown(opened, "222")
    (recorder,) = home.recorders(journal)
    with home.promised(2.0):
        kill(recorder, signal.SIGKILL)
        wait_shown(opened, STOPPED)
    with home.promised(5.0):
        wait_gone(opened, STOPPED)
    (another,) = home.recorders(journal)
    assert another != recorder
    with home.promised(3.0):
        # The new recorder may not listen yet, and its beacon is another.
        wait_until(lambda: heard_and_shown(opened, packs), "217 on the board")


def test_recording_stopped_on_purpose_waits_for_a_key(
    opened: Screen, screens: Callable[[], Screen], home: Home, journal: Path, port: int
) -> None:
    second = screens()
    second.open(80, 24, "watch", str(journal), "--link", f"udp:127.0.0.1:{port}")
    wait_shown(second, "KILN LANE", "VIEW ONLY")
    opened.press("q")
    wait_shown(opened, "LEAVE THE BOARD?", "2 stop recording too")
    opened.press("2")
    wait_shown(opened, f"ended with {int(Exit.OK)}")
    wait_shown(second, STOPPED, "stopped on purpose: w starts it again")
    time.sleep(2)  # longer than a dead recorder would be left
    assert home.recorders(journal) == []
    second.press("w")
    wait_gone(second, STOPPED)
    wait_recording(journal)


def test_a_second_board_only_looks(
    opened: Screen, screens: Callable[[], Screen], journal: Path, packs: Packs
) -> None:
    second = screens()
    second.open(80, 24, "watch", str(journal))
    wait_shown(second, "KILN LANE")
    prove(packs, 101)
    packs.send(101, distress=True)
    wait_shown(second, "DISTRESS")
    time.sleep(0.8)
    second.press("Space")
    time.sleep(1)
    assert not [
        alarm for alarm in folded(journal).alarms if alarm.kind == "distress" and alarm.acknowledged
    ]
    opened.press("Space")
    wait_until(
        lambda: [a for a in folded(journal).alarms if a.kind == "distress" and a.acknowledged],
        "taken by the first",
    )


def test_a_resized_terminal_keeps_the_board_whole(opened: Screen, packs: Packs) -> None:
    prove(packs, 101)
    opened.resize(120, 40)
    packs.send(101, pressure_bar=217)
    wait_shown(opened, "217")
    opened.resize(80, 24)
    wait_screen(
        opened,
        lambda t: (
            max(map(len, t.splitlines()), default=0) <= 80
            and all(word in t for word in ("EXERCISE", "217", "q leave"))
            and "ON AIR" not in t
        ),
        "whole at 80 columns",
    )


# ---------------------------------------------------------------- a long incident


@pytest.fixture(scope="module")
def long_one(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("long") / "long.journal"
    long_journal.make(path, LONG)
    return path


@pytest.fixture
def long(long_one: Path, journal: Path) -> Path:
    """A copy that the test may go on with."""
    for part in long_one.parent.glob("long.journal*"):
        name = journal.name + part.name.removeprefix(long_one.name)
        journal.with_name(name).write_bytes(part.read_bytes())
    return journal


def soon_s(journal: Path) -> float:
    """What is promised of a long journal here."""
    start = time.process_time()
    folded(journal)
    return max(SOON_S, FOLDS * (time.process_time() - start))


@pytest.mark.xdist_group("long")
def test_a_long_incident_is_complete_soon_after_its_recorder_died(
    screen: Screen, home: Home, long: Path, port: int
) -> None:
    """Everything is back within 2 s of the restart, which comes 1 s after the death."""
    screen.open(120, 60, "watch", str(long), "--link", f"udp:127.0.0.1:{port}")
    wait_shown(screen, long_journal.LAST_PLACE)
    wait_recording(long)
    allowed_s = soon_s(long)
    (recorder,) = home.recorders(long)
    kill(recorder, signal.SIGKILL)
    wait_until(lambda: set(home.recorders(long)) - {recorder}, "another recorder")
    with home.promised(allowed_s):
        wait_gone(screen, STOPPED)
    assert len(folded(long).wearers) == long_journal.WEARERS
    wait_shown(screen, long_journal.LAST_PLACE)


@pytest.mark.xdist_group("long")
def test_a_new_board_on_a_long_incident_is_complete_soon(
    home: Home, screen: Screen, long: Path, port: int
) -> None:
    home.start("record", str(long), "--link", f"udp:127.0.0.1:{port}")
    wait_recording(long)
    allowed_s = soon_s(long)
    with home.promised(allowed_s):
        screen.open(120, 60, "watch", str(long))
        wait_shown(screen, long_journal.LAST_PLACE)
