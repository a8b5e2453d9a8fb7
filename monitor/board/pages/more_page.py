"""The table of Enter as a page: everything by two digits, or what letters have found. Pure."""

from monitor.board.keys.table import GROUPS, Key, Table
from monitor.board.pages.one_wearer import Page
from monitor.board.words.marks import Line, Look, Role, fit

HALF = 40
"""Two columns fit the narrowest screen."""
_COLUMNS = (("1", "2", "3"), ("4", "5", "6"))


def more_page(look: Look, room: int, typed: str, table: Table) -> Page:
    """The table in two columns; once a digit is typed, its part stands out.

    Where it does not fit, the headings go: every entry stays in view.
    """
    columns = [_column(groups, typed, table) for groups in _COLUMNS]
    if max(len(column) for column in columns) > room:
        entries = [
            (text, role) for column in columns for text, role in column if text[:2] in table.by_code
        ]
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


def _column(groups: tuple[str, ...], typed: str, table: Table) -> list[tuple[str, Role]]:
    found: list[tuple[str, Role]] = []
    for group in groups:
        chosen = typed == group
        found.append((f"{group}  {GROUPS[group]}", Role.STRONG if chosen else Role.FAINT))
        role = Role.STRONG if chosen else Role.QUIET
        found += [(f"{e.code}  {e.words}", role) for e in table.entries if e.code[0] == group]
    return found


def find_page(look: Look, room: int, found: list[Key], place: int) -> Page:
    """What letters have found, with its digits or its key; what Enter opens is marked."""
    ways = [f"{thing.code or thing.shown:<11}{thing.words}" for thing in found]
    first = max(0, min(place - room + 1, len(ways) - room))
    lines: list[Line] = [
        ((fit(text, look.width, look.glyphs), Role.SELECTED if at == place else Role.QUIET),)
        for at, text in enumerate(ways)
    ]
    return Page(lines[first : first + room], more=len(ways) > room)
