"""Roles, signs and the pieces a line of the board is made of. Pure.

A line is a tuple of segments, a segment is text with a role. What a role looks like is decided
in ``themes``; nothing else knows a colour. Every sign is one cell wide on every terminal.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import tzinfo
from enum import Enum, auto

from rich.cells import cell_len, chop_cells, set_cell_size

from monitor.incident.picture import Priority
from shared.printable import escaped


class Role(Enum):
    """What a piece of text is, for the eye."""

    QUIET = auto()
    """Nothing wrong: grey."""
    TEXT = auto()
    """Facts that belong to something abnormal."""
    STRONG = auto()
    FAINT = auto()
    """Headings and hints."""
    ESTIMATE = auto()
    """Not a reading, or an old one."""
    DANGER = auto()
    CAUTION = auto()
    DANGER_LOST = auto()
    """Danger by loss of signal: the same block, underlined."""
    CAUTION_LOST = auto()
    BLOCK = auto()
    """A steady block without alarm colour: EXERCISE, OPEN, VIEW ONLY."""
    SELECTED = auto()
    OLD = auto()
    """Everything, while the display is stopped."""


Segment = tuple[str, Role]
Line = tuple[Segment, ...]

BLANK: Line = ()


@dataclass(frozen=True, slots=True)
class Glyphs:
    """The signs in use; each one cell."""

    danger: str
    caution: str
    notice: str
    lost: str
    estimate: str
    voice: str
    entry: str
    full: str
    empty: str
    coming_out: str
    committed: str
    cut: str
    """Stands at the end of a text that was too long for its column."""
    dots: str
    """What charts are drawn with, one of ``chart.DOTS``."""


UNICODE = Glyphs("■", "▲", "•", "?", "~", "v", "e", "#", ".", "<", "+", "…", "braille")
ASCII = Glyphs("!", "*", "-", "?", "~", "v", "e", "#", ".", "<", "+", "_", "ascii")
GLYPHS = {"unicode": UNICODE, "blocks": replace(UNICODE, dots="blocks"), "ascii": ASCII}
"""``blocks``: for a font without braille."""


@dataclass(frozen=True, slots=True)
class Look:
    """How a picture is to be laid out; everything a line depends on beside the picture."""

    width: int
    height: int
    glyphs: Glyphs = UNICODE
    zone: tzinfo | None = None
    """For times of day; None is the machine's own zone."""
    blink_on: bool = True
    """The lit half of the blink of a new alarm's sign."""


def block(priority: Priority | None, *, lost: bool) -> Role:
    """The role of a state word; ``lost`` where the cause is loss of signal."""
    if priority is Priority.DANGER:
        return Role.DANGER_LOST if lost else Role.DANGER
    if priority is Priority.CAUTION:
        return Role.CAUTION_LOST if lost else Role.CAUTION
    return Role.STRONG if priority is Priority.NOTICE or lost else Role.QUIET


def sign(priority: Priority | None, glyphs: Glyphs, *, lost: bool) -> str:
    """The one-cell sign beside a state word."""
    if lost and priority is not Priority.DANGER:
        return glyphs.lost
    if priority is Priority.DANGER:
        return glyphs.danger
    if priority is Priority.CAUTION:
        return glyphs.caution
    return glyphs.notice if priority is Priority.NOTICE else " "


def width_of(line: Iterable[Segment]) -> int:
    """Cells a line takes."""
    return sum(cell_len(text) for text, _ in line)


def fit(text: str, width: int, glyphs: Glyphs) -> str:
    """``text`` in exactly ``width`` cells; a text that is too long ends in the cut sign."""
    if cell_len(text) <= width:
        return set_cell_size(text, width)
    return set_cell_size(text, width - 1) + glyphs.cut


def wrapped(text: str, width: int, indent: str = "") -> list[str]:
    """``text`` in as many lines of at most ``width`` cells as it needs, parted at blanks."""
    lines: list[str] = []
    rest, start = text, 0
    while cell_len(rest) > max(width, len(indent) + 2):
        head = chop_cells(rest, max(width, len(indent) + 2))[0]
        blank = rest.rfind(" ", start + 1, len(head) + 1)
        cut = len(head) if blank < 0 else blank
        lines.append(rest[:cut].rstrip())
        rest, start = indent + rest[cut:].lstrip(), len(indent)
    return [*lines, rest]


def crop(line: Line, width: int) -> Line:
    """At most ``width`` cells of a line; the last resort, lines are made to fit before."""
    kept: list[Segment] = []
    room = width
    for text, role in line:
        if room <= 0:
            break
        piece = text if cell_len(text) <= room else set_cell_size(text, room)
        kept.append((piece, role))
        room -= cell_len(piece)
    return tuple(kept)


def clean(text: str) -> str:
    """Text from people and packets made safe for one line."""
    return escaped(text)
