"""A drawing as one piece of SVG 1.1 to stand in a page: lines, boxes, signs, words. Pure.

Lengths are points of a page, 72 an inch, cut off to a tenth; the page scales the whole. Text stays
text, in whatever sans serif there is. Nothing in it comes from outside, and nothing runs.
"""

import re
from collections.abc import Iterable, Mapping, Sequence
from html import escape
from math import hypot

XY = tuple[float, float]
FONT = "DejaVu Sans,Verdana,Arial,sans-serif"
INK = "#1a1a1a"
"""Of words, and of what says no other colour."""
OFF = 0.1
"""So far a line may be from a point of its own: a sixteenth of its breadth."""
SIZE = 7.0
"""Height of words, unless something else is said."""
GLYPH_EM = 0.6
"""Mean width of a letter of these, in its height, and a little more: for what must not meet."""


def number(value: float) -> str:
    """A length in as few characters as it takes."""
    text = f"{value:.1f}".rstrip("0").rstrip(".")
    return "0" if text in {"-0", ""} else text


def width(words: str, size: float) -> float:
    """How wide words are at the most, nearly always."""
    return len(words) * size * GLYPH_EM


def simplified(points: Sequence[XY], off: float = OFF) -> list[XY]:
    """The same line with fewer points: none of those left out lies further than ``off`` from it.

    By Ramer, Douglas and Peucker (1972, 1973): the point furthest from the straight line stays, and
    so on to either side of it.
    """
    if len(points) <= 2:  # noqa: PLR2004 - both ends
        return list(points)
    kept = {0, len(points) - 1}
    spans = [(0, len(points) - 1)]
    while spans:
        first, last = spans.pop()
        furthest, at = max(
            ((_away(points[n], points[first], points[last]), n) for n in range(first + 1, last)),
            default=(0.0, first),
        )
        if furthest > off:
            kept.add(at)
            spans += [(first, at), (at, last)]
    return [points[n] for n in sorted(kept)]


def _away(point: XY, start: XY, end: XY) -> float:
    """How far a point is from a straight line."""
    (x, y), (x0, y0), (x1, y1) = point, start, end
    long = hypot(x1 - x0, y1 - y0)
    if long == 0:
        return hypot(x - x0, y - y0)
    return abs((x1 - x0) * (y0 - y) - (x0 - x) * (y1 - y0)) / long


class Looks:
    """Looks that many things share, each said once in the style of the page, as a class."""

    def __init__(self, looks: Iterable[Mapping[str, object]]) -> None:
        """Number them in their order."""
        self._names = {_look(look): f"l{n}" for n, look in enumerate(looks)}

    def of(self, look: dict[str, object]) -> str:
        """The attributes of a look; of one of these its class alone."""
        said = _look(look)
        name = self._names.get(said)
        return f' class="{name}"' if name else said

    @property
    def css(self) -> str:
        """The same as a style: names of attributes are those of properties (SVG 1.1, 6.1)."""
        head = f"svg {{ font: {number(SIZE)}px {FONT}; fill: {INK}; }}\n"
        return head + "".join(
            f".{name} {{ {_properties(said)}}}\n" for said, name in self._names.items()
        )


NO_LOOKS = Looks(())


class Drawing:
    """What is drawn so far; later things lie over earlier ones."""

    def __init__(
        self, name: str, alt: str, wide: float, high: float, looks: Looks = NO_LOOKS
    ) -> None:
        """``name``: begins every inner name, which so is the drawing's own in its page.

        ``looks``: those whose style the page has.
        """
        self._name = name
        self._looks = looks
        self._head = (
            f'<svg role="img" aria-label="{escape(alt)}" xmlns="http://www.w3.org/2000/svg" '
            f'viewBox="0 0 {number(wide)} {number(high)}">'
        )
        self._parts: list[str] = []
        self._hatched = False

    def line(self, start: XY, end: XY, **look: object) -> None:
        """One straight line."""
        self.segments([(start, end)], **look)

    def segments(self, lines: Iterable[tuple[XY, XY]], **look: object) -> None:
        """Several that look alike."""
        path = "".join(f"M{_pair(*start)}{_straight(start, end)}" for start, end in lines)
        self._parts.append(f'<path d="{path}"{self._looks.of(look)}/>')

    def lines(self, points: Sequence[XY], off: float = OFF, **look: object) -> None:
        """One line through several points; a single one is a dot. ``off``: see ``simplified``."""
        if len(points) == 1:
            colour = look.get("stroke", "#000")
            self.circle(points[0], 1.2, fill=colour)
        elif points:
            own = self._looks.of({"fill": "none"} | look)
            self._parts.append(f'<path d="{_path(simplified(points, off))}"{own}/>')

    def box(self, corner: XY, wide: float, high: float, **look: object) -> None:
        """A box by its upper left corner; ``fill="hatch"`` is hatched."""
        if look.get("fill") == "hatch":
            self._hatched = True
            look["fill"] = f"url(#{self._name}-hatch)"
        x, y = map(number, corner)
        size = f'width="{number(max(wide, 0))}" height="{number(max(high, 0))}"'
        self._parts.append(f'<rect x="{x}" y="{y}" {size}{self._looks.of(look)}/>')

    def shape(self, points: Sequence[XY], **look: object) -> None:
        """A closed shape."""
        self._parts.append(f'<path d="{_path(points)}z"{self._looks.of(look)}/>')

    def circle(self, middle: XY, radius: float, **look: object) -> None:
        """A circle."""
        x, y = map(number, middle)
        self._parts.append(
            f'<circle cx="{x}" cy="{y}" r="{number(radius)}"{self._looks.of(look)}/>'
        )

    def words(self, at: XY, text: str, size: float = SIZE, **look: object) -> None:
        """Words from a point on their base line."""
        x, y = map(number, at)
        turned = look.pop("transform", "")
        own: dict[str, object] = {} if size == SIZE else {"font_size": number(size)}
        place = f' transform="{turned}"' if turned else ""
        seen = self._looks.of(own | look)
        self._parts.append(f'<text x="{x}" y="{y}"{place}{seen}>{escape(text)}</text>')

    def svg(self) -> str:
        """All of it as one element."""
        hatch = ""
        if self._hatched:
            hatch = (
                f'<pattern id="{self._name}-hatch" width="4" height="4" '
                'patternUnits="userSpaceOnUse"><path d="M-1 1L1-1M0 4L4 0M3 5L5 3" '
                'stroke="#9a9a9a" stroke-width=".4"/></pattern>'
            )
        return "".join((self._head, hatch, *self._parts, "</svg>"))


def _pair(x: float, y: float) -> str:
    left, right = number(x), number(y)
    return f"{left}{right}" if right.startswith("-") else f"{left} {right}"


def _straight(start: XY, end: XY) -> str:
    """To the end of a line; across and upright need one number."""
    if number(start[1]) == number(end[1]):
        return f"H{number(end[0])}"
    if number(start[0]) == number(end[0]):
        return f"V{number(end[1])}"
    return f"L{_pair(*end)}"


def _path(points: Iterable[XY]) -> str:
    """Through points, each from the one before: half the characters. Rounding does not add up."""
    parts: list[str] = []
    here: XY | None = None
    for x, y in points:
        place = round(x, 1), round(y, 1)
        if here is None:
            parts.append(f"M{_pair(*place)}")
        elif place != here:
            parts.append(f"l{_pair(place[0] - here[0], place[1] - here[1])}")
        here = place
    return "".join(parts)


def _look(look: Mapping[str, object]) -> str:
    return "".join(f' {name.replace("_", "-")}="{value}"' for name, value in look.items())


def _properties(said: str) -> str:
    """Attributes as properties; a length of words needs its unit there."""
    found = re.findall(r'([\w-]+)="([^"]*)"', said)
    return "".join(
        f"{name}: {value}{'px' if name == 'font-size' else ''}; " for name, value in found
    )
