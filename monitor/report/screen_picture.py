"""A terminal's screen as a drawing: every cell in its place, whatever font a browser has. Pure."""

from collections.abc import Sequence
from html import escape
from typing import NamedTuple

from monitor.report.svg import number

CELL_WIDE, CELL_HIGH = 6.0, 12.0
BASE_LINE = 9.0
"""Of the words in a cell, from its top."""
SIZE = 9.5


class Ink(NamedTuple):
    """How a piece of text looks. Colours as ``#rrggbb``."""

    text: str
    ground: str
    bold: bool = False
    italic: bool = False
    underline: bool = False


Piece = tuple[str, Ink]


def screen_picture(lines: Sequence[Sequence[Piece]], width: int, ground: str, alt: str) -> str:
    """Draw lines of text, ``width`` cells wide, on a ``ground``."""
    wide, high = width * CELL_WIDE, len(lines) * CELL_HIGH
    head = (
        f'<svg role="img" aria-label="{escape(alt)}" xmlns="http://www.w3.org/2000/svg" '
        f'viewBox="0 0 {number(wide)} {number(high)}" style="font: {SIZE:g}px monospace">'
        f'<rect width="{number(wide)}" height="{number(high)}" fill="{ground}"/>'
    )
    parts = [head]
    for row, line in enumerate(lines):
        column = 0
        for text, ink in line:
            parts.append(_piece(text, ink, column, row, ground))
            column += len(text)
    return "".join((*parts, "</svg>"))


def _piece(text: str, ink: Ink, column: int, row: int, ground: str) -> str:
    """One piece: its ground where it has one of its own, then its words without blanks around."""
    box = ""
    if ink.ground != ground:
        x, y = number(column * CELL_WIDE), number(row * CELL_HIGH)
        size = f'width="{number(len(text) * CELL_WIDE)}" height="{number(CELL_HIGH)}"'
        box = f'<rect x="{x}" y="{y}" {size} fill="{ink.ground}"/>'
    return box + "".join(_word(word, ink, column + at, row) for at, word in _words(text))


def _words(text: str) -> list[tuple[int, str]]:
    """What stands between two blanks or more, with its place: each is put where it belongs."""
    found, at = [], 0
    for part in text.split("  "):
        word = part.strip(" ")
        if word:
            found.append((at + part.index(word), word))
        at += len(part) + 2
    return found


def _word(word: str, ink: Ink, column: int, row: int) -> str:
    x, y = number(column * CELL_WIDE), number(row * CELL_HIGH + BASE_LINE)
    looks = "".join(
        said
        for said, there in (
            (' font-weight="bold"', ink.bold),
            (' font-style="italic"', ink.italic),
            (' text-decoration="underline"', ink.underline),
        )
        if there
    )
    long = number(len(word) * CELL_WIDE)
    return (
        f'<text x="{x}" y="{y}" textLength="{long}" lengthAdjust="spacingAndGlyphs" '
        f'fill="{ink.text}"{looks}>{escape(word)}</text>'
    )
