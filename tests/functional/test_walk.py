"""A whole incident at the keyboard, from an empty board to closing it, in a real terminal.

Two crews with telemetry and one without; everything is checked in, sent in, told, brought out and
handed over by keys alone, and then looked for in the journal.
"""

import json
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest

from monitor.incident.decoding import event_of
from monitor.incident.events import Act, Done, is_act
from monitor.journal.reader import JournalReader
from tests.functional.conftest import (
    Home,
    Screen,
    prove,
    wait_recording,
    wait_screen,
    wait_shown,
    wait_taken,
)
from tests.functional.packs import Packs

FINGER_S = 0.07
"""Between two keys: the same digit faster than 60 ms counts as a key that is held."""
ROSTER = """\
title = "Walk"
"""
PEOPLE = (
    ("A. Quoin", "Alpha 1", True), ("B. Corbel", "Alpha 1", False),
    ("C. Marl", "Alpha 2", True), ("D. Hod", "Alpha 2", False),
    ("E. Clamp", "Beta 1", True), ("F. Header", "Beta 1", False),
)  # fmt: skip
PACKS = (201, 202, 203, 204)


def roster(home: Home) -> Path:
    """Everybody's names and crews; no packs: those are joined at the door."""
    lines = [ROSTER]
    for number, (name, crew, leads) in enumerate(PEOPLE, 1):
        sign = f"{crew.split()[0]} {number}"
        lines += ["[[people]]", f'name = "{name}"', f'call_sign = "{sign}"', f'crew = "{crew}"',
                  f"leader = {str(leads).lower()}", ""]  # fmt: skip
    path = home.folder / "walk.toml"
    path.write_text("\n".join(lines), "utf-8")
    return path


def _asked(shown: str) -> str:
    """The line of a sheet that says what its keys write; empty where no sheet is open."""
    return next((line for line in shown.splitlines() if line.startswith("KEYS WRITE")), "")


@dataclass
class Walk:
    """Keys pressed at a board, with the packs going on meanwhile."""

    screen: Screen
    packs: Packs
    bar: float = 290

    def keys(self, keys: str) -> None:
        """Press these, by the terminal's names, with blanks between."""
        for pack in PACKS:
            self.packs.send(pack, pressure_bar=self.bar)
        for key in keys.split():
            self.screen.press(key)
            time.sleep(FINGER_S)

    def text(self, words: str) -> None:
        """Type words, then Enter, and wait until the sheet asks for something else.

        To a board that stood still two keys may have come at once: it takes an Enter right after
        another for one that is held. Whoever sees the next question has had the last one answered.
        """
        asked = _asked(self.screen.text())
        time.sleep(FINGER_S)
        self.screen.press(*("Space" if c == " " else c for c in words), "Enter")
        wait_screen(self.screen, lambda t: _asked(t) != asked, f"another question than {asked!r}")

    def taken(self, words: str) -> None:
        """Wait until this act is in the journal, as the screen says."""
        wait_taken(self.screen, words)

    def sheet(self, digits: str, title: str) -> None:
        """Open a sheet by Enter and two digits."""
        self.more(digits)
        wait_shown(self.screen, title, "KEYS WRITE")

    def more(self, digits: str) -> None:
        """Enter and two digits, each pressed once the screen shows the one before."""
        self.keys("Enter")
        wait_shown(self.screen, "two digits  _")
        self.keys(digits[0])
        wait_shown(self.screen, f"two digits  {digits[0]}_")
        self.keys(digits[1])

    def do(self, digits: str, title: str, *answers: str, taken: str) -> None:
        """Fill in a sheet; an empty answer is Enter alone."""
        self.sheet(digits, title)
        for answer in answers:
            self.text(answer)
        self.taken(taken)


@pytest.fixture
def walk(home: Home, screen: Screen, journal: Path, port: int, packs: Packs) -> Walk:
    screen.open(
        80, 24, "watch", str(journal), "--link", f"udp:127.0.0.1:{port}",
        "--name", "Kiln Lane", "--officer", "R. Harrow", "--entry-point", "A", "--place", "works",
        "--stage", "1", "--exercise", "--procedure", "plain", "--roster", str(roster(home)),
    )  # fmt: skip
    wait_shown(screen, "KILN LANE", "EXERCISE")
    wait_recording(journal)
    for pack in PACKS:
        prove(packs, pack)
    return Walk(screen, packs)


def check_in(walk: Walk) -> None:
    walk.more("61")
    shown = wait_shown(walk.screen, "pack 201", "pack 204", "not here yet: 1 Alpha 1")
    assert "nobody's" in shown
    walk.keys("Escape")
    wait_screen(walk.screen, lambda t: "CHECK-IN" not in t, "the board again")
    walk.sheet("11", "CHECK-IN")
    for number, pack in enumerate(PACKS, 1):
        walk.text(str(pack))
        walk.text(str(number))
        walk.taken(f"{number} Alpha {number} has pack {pack}")
    for number in (5, 6):
        walk.text("none")
        walk.text(f"Beta {number}")
        walk.text("6.8/300")
        walk.taken(f"{number} Beta {number} without telemetry")
    walk.keys("Escape")
    wait_screen(walk.screen, lambda t: "CHECK-IN" not in t, "the board again")
    walk.do("14", "CHECK BY HAND", "5", "2", "1", "", taken="warnings passed: 5 Beta 5")


def send_in(walk: Walk) -> None:
    walk.do("15", "TASK AND BRIEF", "crew 1", "1", "left hand wall", "1",
            taken="search: Alpha 1 (1, 2)")  # fmt: skip
    walk.keys("1 k c")
    walk.taken("connect: Alpha 1 (1, 2)")
    walk.keys("1 k e")
    walk.taken("enter: Alpha 1 (1, 2)")
    walk.do("16", "A STEP IN FULL", "crew 3", "1", "0", "290",
            taken="connected to air: Alpha 2 (3, 4)")  # fmt: skip
    walk.do("16", "A STEP IN FULL", "crew 3", "2", "", "drying loft", "search", "stairs",
            "line", taken="gone in: Alpha 2 (3, 4)")  # fmt: skip
    walk.do("16", "A STEP IN FULL", "crew 5", "1", "", "280",
            taken="connected to air: Beta 1 (5, 6)")  # fmt: skip
    walk.keys("5 k e")
    walk.taken("enter: Beta 1 (5, 6)")


def inside(walk: Walk) -> None:
    walk.bar = 250
    walk.do("21", "PLACE", "crew 1", "kiln hall", taken="Alpha 1 (1, 2) at kiln hall")
    walk.keys("5 g k 2 4 0")
    walk.taken("lowest 240 bar")
    walk.keys("1 k i")
    walk.taken("objective reached: Alpha 1 (1, 2)")
    walk.do("22", "AREA SEARCHED", "kiln hall", "1", "1, 2", taken="kiln hall: searched")
    walk.do("23", "NOTE", "door two is jammed", taken="note: door two is jammed")
    walk.do("24", "RELIEF", "Alpha 2", "Beta 1", "30", taken="Alpha 2: relief in 30 min")
    walk.do("26", "MOVED", "6", "board B", taken="6 Beta 6: moved to board B")
    walk.do("26", "MOVED", "6", "1", taken="6 Beta 6: on this board")
    walk.keys("3")
    walk.do("31", "EMERGENCY MESSAGE of 3 Alpha 3", "hose line", "1",
            taken="emergency message to command: 3 Alpha 3")  # fmt: skip
    walk.do("32", "REAL EMERGENCY", "1", "roof came down", taken="REAL EMERGENCY")
    wait_screen(walk.screen, lambda t: " REAL " in t.splitlines()[0], "REAL in the first line")


def come_out(walk: Walk) -> None:
    walk.keys("3 k u")
    walk.taken("started back: Alpha 2 (3, 4)")
    walk.do("25", "OUT AT ANOTHER DOOR", "crew 3", "north gate", "",
            taken="out at north gate: Alpha 2 (3, 4)")  # fmt: skip
    for first, crew in ((1, "Alpha 1 (1, 2)"), (5, "Beta 1 (5, 6)")):
        walk.keys(f"{first} k o")
        walk.taken(f"out: {crew}")
    for first, crew in ((1, "Alpha 1 (1, 2)"), (3, "Alpha 2 (3, 4)"), (5, "Beta 1 (5, 6)")):
        walk.keys(f"{first} k x")
        walk.taken(f"off air: {crew}")
    walk.do("41", "AFTER USE", "1", "4", taken="cylinder off: 1 Alpha 1")
    walk.do("42", "FRESH CYLINDER", "1", "C-9", "", taken="fresh cylinder: 1 Alpha 1")
    walk.do("44", "DEFECT OF A SET", "pack 204", "1", taken="set pack 204 at fault: leaks")
    walk.do("45", "DEFECT CLEARED", "1", "new seal", taken="set pack 204 well again: new seal")


def end(walk: Walk) -> None:
    walk.more("65")
    wait_shown(walk.screen, "area kiln hall  searched", "cylinder Alpha 1, wear 1 to fill")
    walk.keys("Escape")
    walk.do("53", "CORRECT THE RECORD", "1", "seal and washer", taken="correction: seal and washer")
    walk.do("52", "STAGE", "2", taken="stage 2")
    walk.do("51", "HAND THE BOARD OVER", "M. Slip", "", taken="board from R. Harrow to M. Slip")
    wait_shown(walk.screen, "board M. Slip")
    walk.do("54", "CLOSE THE INCIDENT", "1", "", taken="close the incident")
    wait_shown(walk.screen, "CLOSED")


def acts_of(journal: Path) -> list[Act]:
    with JournalReader(journal) as reader:
        rows = [row for step in reader.steps(reader.last_batch().last_row) for row in step]
    found = [event_of(row) for row in rows]
    return [one.what for one in found if isinstance(one, Done) and is_act(one.what)]


DONE = {
    "list_wearer": 6, "join_pack": 6, "tick_check": 1, "assign": 1, "connect": 3, "enter": 3,
    "locate": 1, "spoken_reading": 1, "reach_objective": 1, "search_area": 1, "note": 1,
    "plan_relief": 1, "move_board": 2, "tell_emergency": 1, "real_emergency": 1, "start_back": 1,
    "come_out": 3, "off_air": 3, "tick_after_use": 1, "change_cylinder": 1, "report_defect": 1,
    "clear_defect": 1, "correct": 1, "set_stage": 1, "hand_over": 1, "close": 1,
}  # fmt: skip


def test_a_whole_incident_by_keys_alone(
    walk: Walk, journal: Path, home: Home, screens: Callable[[], Screen]
) -> None:
    for part in (check_in, send_in, inside, come_out, end):
        part(walk)
    acts = acts_of(journal)
    counted = {what: sum(act.what == what for act in acts) for what in DONE}
    assert counted == DONE
    assert {act.by for act in acts[-1:]} == {"M. Slip"}
    assert home.run("verify", str(journal)).returncode == 0
    export = home.run("export", str(journal), "out", "--format", "jsonl")
    assert export.returncode == 0, export.stderr
    wearers = [json.loads(x) for x in (home.folder / "out/wearers.jsonl").read_text().splitlines()]
    third = next(row for row in wearers if row["wearer"] == 3 and row["connected_clock"])
    assert (third["task"], third["brief"], third["communications"], third["door"]) == (
        "search", "stairs", "line", "north gate",
    )  # fmt: skip
