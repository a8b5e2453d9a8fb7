"""A sheet that is being filled in, as lines. Pure."""

from collections.abc import Sequence
from typing import TypeVar

from rich.cells import cell_len

from monitor.board.pages.one_wearer import Page
from monitor.board.sheets.forms import PICK, Field, Filling, label_cells
from monitor.board.words.marks import Line, Look, Role, clean, fit, wrapped

T = TypeVar("T")
CURSOR = "_"
MARGIN = "  "
NOTE_INDENT = " " * 4
"""What does not fit in one line of what is to be read goes on in the next: none of it is lost."""
KEYS = "Enter next  Up back  Left Right Home End  Ctrl+U wipe  Esc leaves, all is kept"
OWN_WORDS = "in own words"
WRITES = "KEYS WRITE"
"""What an officer must know before reaching for Space."""


def form_page(filling: Filling[T], look: Look, room: int) -> Page:
    """The sheet in at most ``room`` lines; the question that is asked is always among them."""
    form = filling.form
    lines: list[Line] = [_line(clean(form.title), Role.STRONG, look)]
    notes = (part for note in form.notes for part in wrapped(clean(note), look.width, NOTE_INDENT))
    lines += [_line(part, Role.QUIET, look) for part in notes]
    cells = label_cells(form)
    asked = 0
    for place in filling.places:
        one = form.fields[place]
        here = place == filling.place
        answer = clean(filling.answers[one.name])
        label = fit(one.label, cells, look.glyphs)
        if here:
            lines_of, at = _typed(filling, look.width - cells - 2 * len(MARGIN))
            asked = len(lines) + at
            answer, *further = lines_of
        role = Role.SELECTED if here else Role.TEXT
        lines.append(_line(f"{MARGIN}{label}{MARGIN}{answer}", role, look))
        if here:
            blank = " " * (cells + 2 * len(MARGIN))
            lines += [_line(f"{blank}{text}", role, look) for text in further]
        if here and one.picks:
            picks = numbered(one.picks, look.width - cells - 2 * len(MARGIN))
            lines += [_line(f"{blank}{text}", Role.QUIET, look) for text in picks]
    return Page(window(lines, asked, room), more=False)


def form_prompt(filling: Filling[T]) -> tuple[str, str]:
    """The two lines at the bottom: what is asked, or why an answer was not taken; the keys."""
    one = filling.asked
    if filling.complaint:
        return f"{WRITES}  {clean(one.label)}: {clean(filling.complaint)}", KEYS
    wanted = clean(one.hint) or _wanted(one)
    return f"{WRITES}  {clean(one.label)}: {wanted}", KEYS


def _wanted(one: Field) -> str:
    """What is asked for where the sheet has no words of its own."""
    wanted = OWN_WORDS
    if one.picks:
        wanted = f"a number, or {OWN_WORDS}" if one.free else PICK
    return wanted if one.needed else f"{wanted}; may stay empty"


def numbered(picks: Sequence[str], width: int) -> list[str]:
    """Numbered answers in as many lines as they need."""
    lines: list[str] = []
    for place, pick in enumerate(picks, 1):
        said = f"{place} {clean(pick)}"
        if lines and cell_len(lines[-1]) + cell_len(said) + len(MARGIN) <= width:
            lines[-1] += f"{MARGIN}{said}"
        else:
            lines.append(said)
    return lines


def window(lines: list[Line], asked: int, room: int) -> list[Line]:
    """As many lines as fit, with this one among them; the first one stays on top."""
    if len(lines) <= room or room < 1:
        return lines[:room]
    inner = room - 1
    start = max(1, min(asked - inner // 3, len(lines) - inner))
    return [lines[0], *lines[start : start + inner]]


def _typed(filling: Filling[T], cells: int) -> tuple[list[str], int]:
    """The answer that is being typed, in lines, with the cursor; and in which of them that is."""
    before, after = (clean(part) for part in filling.cursor)
    lines = wrapped(f"{before}{CURSOR}{after}", cells)
    # Blanks where a line is parted are gone: only what else is written counts.
    left = len(before) - before.count(" ")
    for at, line in enumerate(lines):
        left -= len(line) - line.count(" ")
        if left < 0:
            return lines, at
    return lines, len(lines) - 1


def _line(text: str, role: Role, look: Look) -> Line:
    return ((fit(text, look.width, look.glyphs), role),)
