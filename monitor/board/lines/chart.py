"""Strokes of points drawn in character cells: points in, lines of segments out. Pure.

A cell is a small grid of dots (braille 2 x 4, quarter blocks 2 x 2) or, in ASCII, one sign for
each kind of stroke. The points of a stroke are joined by straight lines; a spell without points
is two strokes and a band between them, so that nothing is joined over it. What is drawn
later lies above. A value goes down to its dot, or up for a limit: the chart shows the worse case.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from monitor.board.words.marks import Line, Role, Segment

BRAILLE = 0x2800
"""The first of 256 signs; the low byte has a bit for each dot (The Unicode Standard, 21.1)."""
_BRAILLE_BITS = (0x01, 0x08, 0x02, 0x10, 0x04, 0x20, 0x40, 0x80)
"""Of the dots from left to right, then down."""
_QUARTERS = " ▘▝▀▖▌▞▛▗▚▐▜▄▙▟█"
"""Bit 0 is the upper left quarter, then right, then down."""


@dataclass(frozen=True, slots=True)
class Dots:
    """One glyph set of charts."""

    across: int
    down: int
    signs: str
    """The sign of each pattern of dots; empty where each stroke has its own sign."""
    band: str
    """Fills a spell without readings."""
    past: str
    """The time axis up to now."""
    ahead: str
    """The time axis from now on."""
    tick: str
    """On it, over a time of day."""


_LINES = ("░", "─", "·", "┬")
DOTS = {
    "braille": Dots(
        2,
        4,
        "".join(
            chr(BRAILLE + sum(bit for n, bit in enumerate(_BRAILLE_BITS) if pattern >> n & 1))
            for pattern in range(256)
        ),
        *_LINES,
    ),
    "blocks": Dots(2, 2, _QUARTERS, *_LINES),
    "ascii": Dots(1, 1, "", ":", "-", ".", "+"),
}


@dataclass(frozen=True, slots=True)
class Stroke:
    """Points joined by lines."""

    points: Sequence[tuple[float, float]]
    role: Role
    sign: str
    """Its sign where dots cannot be drawn."""
    on: int = 1
    """Of ``on + off`` columns of cells in a row, so many are drawn."""
    off: int = 0
    thin: int = 1
    """In a cell that is drawn only every so-many-th column of dots is."""
    up: bool = False
    """Values go up to their dot: for a limit."""


@dataclass(frozen=True, slots=True)
class Frame:
    """Which part of the plane the cells show, ``x1`` and ``y1`` at their far edges."""

    x0: float
    x1: float
    y0: float
    y1: float


def column_of(x: float, frame: Frame, columns: int) -> int:
    """In which of so many columns ``x`` lies; the nearest one for what lies outside."""
    return min(columns - 1, max(0, int((x - frame.x0) / (frame.x1 - frame.x0) * columns)))


def chart(
    width: int,
    height: int,
    frame: Frame,
    strokes: Iterable[Stroke],
    bands: Iterable[tuple[float, float]] = (),
    dots: Dots = DOTS["braille"],
) -> list[Line]:
    """Draw in ``width`` by ``height`` cells, both at least one."""
    signs = [[" "] * width for _ in range(height)]
    roles = [[Role.QUIET] * width for _ in range(height)]
    for start, end in bands:
        first, last = column_of(start, frame, width), column_of(end, frame, width)
        for row, its_roles in zip(signs, roles, strict=True):
            row[first : last + 1] = dots.band * (last + 1 - first)
            its_roles[first : last + 1] = [Role.FAINT] * (last + 1 - first)
    patterns = [[0] * width for _ in range(height)]
    for stroke in strokes:
        for x, y in _path(stroke, frame, width * dots.across, height * dots.down):
            column, row_number = x // dots.across, y // dots.down
            if column % (stroke.on + stroke.off) >= stroke.on or x % stroke.thin:
                continue
            patterns[row_number][column] |= 1 << (y % dots.down * dots.across + x % dots.across)
            pattern = patterns[row_number][column]
            signs[row_number][column] = dots.signs[pattern] if dots.signs else stroke.sign
            roles[row_number][column] = stroke.role
    return [_line(row, its_roles) for row, its_roles in zip(signs, roles, strict=True)]


def _path(stroke: Stroke, frame: Frame, columns: int, rows: int) -> dict[tuple[int, int], None]:
    """Every dot that a stroke goes through, counted from the upper left, each once."""
    wide, high = columns / (frame.x1 - frame.x0), rows / (frame.y1 - frame.y0)
    left, bottom, lift = frame.x0, frame.y0, -1 if stroke.up else 1
    found: dict[tuple[int, int], None] = {}
    raw: tuple[int, int] | None = None
    last: tuple[int, int] | None = None
    for x, y in stroke.points:
        # Down to a whole dot, or up for a limit.
        new = int((x - left) * wide), lift * int((y - bottom) * high * lift // 1)
        if new == raw:
            continue
        raw = new
        dot = min(columns - 1, max(0, new[0])), rows - 1 - min(rows - 1, max(0, new[1]))
        found.update(dict.fromkeys(_between(last or dot, dot)))
        last = dot
    return found


def _between(a: tuple[int, int], b: tuple[int, int]) -> list[tuple[int, int]]:
    """Every dot of the straight line from ``a`` to ``b``, both included."""
    (x, y), (dx, dy) = a, (b[0] - a[0], b[1] - a[1])
    steps = max(abs(dx), abs(dy)) or 1
    # Between two dots of the same distance the lower one, where less air is.
    return [(x + n * dx // steps, y + n * dy // steps) for n in range(steps + 1)]


def _line(signs: list[str], roles: list[Role]) -> Line:
    """Cells of one role in a row become one segment."""
    line: list[Segment] = []
    start = 0
    for place in range(1, len(signs) + 1):
        if place == len(signs) or roles[place] is not roles[start]:
            line.append(("".join(signs[start:place]), roles[start]))
            start = place
    return tuple(line)
