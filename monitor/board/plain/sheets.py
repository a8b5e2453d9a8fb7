"""Sheets on the plain board: one question a line, one answer a line. Pure.

A sheet is opened by its word and the numbers of those it is about. While it is open a line is an
answer; an empty one leaves what stands there. A few words are commands all the same, so that an
alarm can be taken in the middle of it.
"""

from collections.abc import Callable
from typing import Any

from monitor.board.acts.effects import Asking, Say
from monitor.board.keys.sheet_hands import Aids
from monitor.board.keys.table import View
from monitor.board.pages.view_pages import view_page
from monitor.board.plain.order_commands import wearers_named
from monitor.board.sheets.common import Context
from monitor.board.sheets.forms import Filling
from monitor.board.words.marks import Look, clean
from monitor.incident.picture import Picture

CANCEL = "cancel"
ALWAYS = frozenset({"take", "silence", "alarms"})
EVACUATE = "evacuate"
LINES_MAX = 1_000
"""Of a page that is told at once."""
WIDTH = 200
HELP_SHEET = (
    "task 3 4, task crew 3: of those; it asks line by line: an empty line leaves what",
    "                stands there, cancel leaves it; take and silence work meanwhile",
)


def open_sheet(
    words: list[str], picture: Picture, aids: Aids, now: Callable[[], Picture] | None = None
) -> Filling[Asking] | list[str] | None:
    """Open the sheet, or tell the page, of this word; None if it is neither's.

    ``now`` gives the picture of the moment at which the last answer is in.
    """
    entry = aids.table.by_word.get(words[0].casefold()) if words else None
    if entry is None or entry.opens is None:
        return None
    if isinstance(entry.opens, View):
        return told(entry.opens, picture, aids)
    chosen, left = wearers_named(words[1:], picture) if words[1:] else ((), [])
    if left or (words[1:] and not chosen):
        return [f"{entry.word}: say numbers of wearers on the board, or nothing."]
    context = Context(
        picture, chosen, aids.zone, aids.log(), aids.emergency_form, aids.cylinders, now
    )
    sheet = entry.opens(context)
    if isinstance(sheet, Say):
        return [f"{sheet.words[:1].upper()}{sheet.words[1:]}."]
    return Filling(sheet)


def is_command(words: list[str]) -> bool:
    """Tell whether a line is a command, whatever is asked: as it is typed, and nothing beside it.

    "take the left hand stair" is an answer, and must not take an alarm.
    """
    first, rest = words[0].casefold() if words else "", [word.casefold() for word in words[1:]]
    if first == EVACUATE:
        return bool(rest) and (rest[0] in {"all", "crew"} or rest[0].isdigit())
    return first in ALWAYS and all(word.isdigit() for word in rest)


def told(view: View, picture: Picture, aids: Aids) -> list[str]:
    """A page as lines, all of it."""
    look = Look(WIDTH, LINES_MAX, zone=aids.zone)
    page = view_page(view, picture, look, LINES_MAX, 0, aids.log())
    texts = ["".join(text for text, _ in line).rstrip() for line in page.lines[1:]]
    return [text for text in texts if text]


def opening_lines(filling: Filling[Asking]) -> list[str]:
    """What a sheet says when it opens: its title, what is to be read, the first question."""
    form = filling.form
    title = f"{clean(form.title)}. cancel leaves it."
    return [title, *(clean(note) for note in form.notes), question(filling)]


def question(filling: Filling[Any]) -> str:
    """What is asked now, with its numbered answers and what stands there."""
    one = filling.asked
    picks = ", ".join(f"{n} {clean(pick)}" for n, pick in enumerate(one.picks, 1))
    standing = clean(filling.answers[one.name])
    parts = (
        one.hint,
        picks,
        f"now: {standing}" if standing else "",
        "" if one.needed or standing or "empty" in one.hint else "may stay empty",
    )
    said = "; ".join(dict.fromkeys(part for part in parts if part))
    wrong = f"Not so: {filling.complaint}. " if filling.complaint else ""
    return f"{wrong}{one.label}? {f'({said})' if said else ''}".rstrip()
