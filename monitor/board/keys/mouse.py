"""What a click means: the keys that would have done the same. Pure.

Only where the mouse is switched on. A click on a wearer's line chooses the wearer, one on an answer
or an entry with a number picks it, one on a key that is named presses it. Everything else of the
screen is for reading, and a click on it does nothing.
"""

import re
from collections.abc import Sequence

from monitor.board.acts.questions import Mode
from monitor.board.keys.table import KEYS, TABLE
from monitor.incident.picture import Picture

BOTTOM_LINES = 2
"""Where keys and answers are named."""
_ROW = re.compile(r"^.{15}\s*(\d+) ")
"""A wearer's line: the number ends in the eighteenth column."""
_SEGMENT = re.compile(r"\S+(?: \S+)*")
"""Words with one blank between; two blanks part what belongs together from what does not."""
_ENTRY = re.compile(r"\b(\d\d)  \S")
_OFFERED = re.compile(r"\b(Space|r)(?= (?:=|take))")
"""Beside an alarm: the key that is wanted now."""


def _named() -> dict[str, str]:
    """By the word that stands on the screen for a key: its name."""
    found: dict[str, str] = {}
    for key in KEYS:
        words = key.shown.split()
        if key.does != "digit":
            found |= dict(zip(words, key.names, strict=False))
    return found


_KEY_OF = _named()


def keys_at(
    lines: Sequence[str], x: int, y: int, mode: Mode, picture: Picture, *, elsewhere: bool
) -> list[str]:
    """Names of the keys that a click at this cell stands for; none: it means nothing.

    ``lines``: the screen as text. ``elsewhere``: it is not the list of wearers that is shown.
    """
    if not 0 <= y < len(lines):
        return []
    text = lines[y]
    if y >= len(lines) - BOTTOM_LINES:
        return _word_at(text, x)
    if mode in {Mode.MORE, Mode.FIND}:
        found = [m for m in _ENTRY.finditer(text) if m.start() <= x and m[1] in TABLE.by_code]
        return list(found[-1][1]) if found else []
    if mode is Mode.SHEET:
        return _pick_at(text, x)
    if (offered := _OFFERED.search(text)) is not None and x >= offered.start():
        return [_KEY_OF[offered[1]]]
    row = None if elsewhere else _ROW.match(text)
    if row is not None and any(w.wearer == int(row[1]) for w in picture.wearers):
        return list(row[1])
    return []


def _word_at(text: str, x: int) -> list[str]:
    """A key or a numbered answer in a line of them."""
    segment = next((m for m in _SEGMENT.finditer(text) if m.start() <= x < m.end()), None)
    if segment is None:
        return []
    words = (m[0] for m in re.finditer(r"\S+", text) if m.start() <= x < m.end())
    for said in (*(word.strip(",:") for word in words), segment[0].split()[0].strip(",:")):
        if said in _KEY_OF:
            return [_KEY_OF[said]]
    return _pick_at(text, x)


def _pick_at(text: str, x: int) -> list[str]:
    segment = next((m for m in _SEGMENT.finditer(text) if m.start() <= x < m.end()), None)
    first = segment[0].split()[0] if segment is not None else ""
    return [first] if len(first) == 1 and first.isascii() and first.isdigit() else []
