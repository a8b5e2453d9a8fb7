"""What has no key of its own: everything by two digits, in one table. Pure.

The first digit says the part of the job, the second what to do in it. A sheet opens for each act, a
page for each thing to look at. The plain board knows each by a word.
"""

from dataclasses import dataclass
from enum import StrEnum

from monitor.board.pages.one_wearer import Page
from monitor.board.sheets import after as after_sheets
from monitor.board.sheets import door as door_sheets
from monitor.board.sheets import inside as inside_sheets
from monitor.board.sheets.common import Opener
from monitor.board.words.marks import Line, Look, Role, fit


class View(StrEnum):
    """Pages to look at beside the list of wearers."""

    CHECK_IN = "check-in"
    ALARMS = "alarms"
    LOG = "log"
    LINKS = "links"
    RECORD = "areas and sets"


@dataclass(frozen=True, slots=True)
class Entry:
    """One thing to do or to look at."""

    code: str
    """Two digits."""
    words: str
    does: Opener | View
    command: str = ""
    """The word for it on the plain board; empty: that has a word of its own for it."""

    @property
    def acts(self) -> bool:
        """Whether it needs the board."""
        return not isinstance(self.does, View)


GROUPS = {
    "1": "AT THE DOOR",
    "2": "INSIDE",
    "3": "EMERGENCY",
    "4": "AFTER USE",
    "5": "THE BOARD",
    "6": "LOOK AT",
}
ENTRIES: tuple[Entry, ...] = (
    Entry("11", "check-in: pack, tally", door_sheets.check_in, "checkin"),
    Entry("12", "somebody new on the board", door_sheets.newcomer, "new"),
    Entry("13", "crew, crew leader", door_sheets.crew, "crew"),
    Entry("14", "start-of-use check by hand", door_sheets.check_by_hand, "check"),
    Entry("15", "task, brief, communications", door_sheets.assign, "task"),
    Entry("16", "a step in full, late, put right", door_sheets.late_step, "step"),
    Entry("21", "place", inside_sheets.place),
    Entry("22", "area searched", inside_sheets.area, "area"),
    Entry("23", "note in own words", inside_sheets.note),
    Entry("24", "relief planned", inside_sheets.relief, "relief"),
    Entry("25", "out at another door", inside_sheets.other_door, "door"),
    Entry("26", "moved to another board", inside_sheets.other_board, "move"),
    Entry("31", "emergency message", inside_sheets.emergency, "message"),
    Entry("32", "REAL EMERGENCY", inside_sheets.real_emergency, "real"),
    Entry("41", "seeing to a set", after_sheets.after_use, "after"),
    Entry("42", "fresh cylinder", after_sheets.fresh_cylinder, "cylinder"),
    Entry("43", "cylinder filled", after_sheets.filled, "filled"),
    Entry("44", "defect of a set", after_sheets.defect, "defect"),
    Entry("45", "defect cleared", after_sheets.defect_cleared, "cleared"),
    Entry("51", "hand the board over", after_sheets.hand_over, "handover"),
    Entry("52", "stage, control level", after_sheets.stage, "stage"),
    Entry("53", "correct the record", after_sheets.correct, "correct"),
    Entry("54", "close the incident", after_sheets.close, "finish"),
    Entry("61", "check-in and checks", View.CHECK_IN, "checks"),
    Entry("62", "alarms, all of them", View.ALARMS),
    Entry("63", "log", View.LOG, "log"),
    Entry("64", "links and packs", View.LINKS, "links"),
    Entry("65", "areas, reliefs, sets", View.RECORD, "areas"),
)
BY_CODE = {entry.code: entry for entry in ENTRIES}
BY_COMMAND = {entry.command: entry for entry in ENTRIES if entry.command}
HALF = 40
"""Two columns fit the narrowest screen."""
_COLUMNS = (("1", "2", "3"), ("4", "5", "6"))


def more_page(look: Look, room: int, typed: str) -> Page:
    """The table in two columns; once a digit is typed, its part stands out.

    Where it does not fit, the headings go: every entry stays in view.
    """
    columns = [_column(groups, typed) for groups in _COLUMNS]
    if max(len(column) for column in columns) > room:
        entries = [(text, role) for column in columns for text, role in column if _is_entry(text)]
        half = -(-len(entries) // 2)
        columns = [entries[:half], entries[half:]]
    rows = max(len(column) for column in columns)
    lines: list[Line] = []
    for row in range(rows):
        line: list[tuple[str, Role]] = []
        for column in columns:
            text, role = column[row] if row < len(column) else ("", Role.QUIET)
            line.append((fit(text, HALF, look.glyphs), role))
        lines.append(tuple(line))
    return Page(lines[:room], more=rows > room)


def _is_entry(text: str) -> bool:
    return text[:2] in BY_CODE


def _column(groups: tuple[str, ...], typed: str) -> list[tuple[str, Role]]:
    found: list[tuple[str, Role]] = []
    for group in groups:
        chosen = typed == group
        found.append((f"{group}  {GROUPS[group]}", Role.STRONG if chosen else Role.FAINT))
        role = Role.STRONG if chosen else Role.QUIET
        found += [(f"{e.code}  {e.words}", role) for e in ENTRIES if e.code[0] == group]
    return found
