"""Curves as drawings, each as one piece of SVG to stand in a page. Pure.

What a colour says a form, a line or a word says as well: the page is read in grey too.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from monitor.incident.picture import Priority
from monitor.report.alarm_figures import PRIORITY_WORDS
from monitor.report.curves import (
    APART,
    Bar,
    Overview,
    Point,
    WearCurves,
    levels,
    ticks,
)
from monitor.report.svg import INK, XY, Drawing, Looks, number, width

Clock = Callable[[int], str]
"""The time of day of an instant of the record."""
Wall = Callable[[int], int]

WIDE = 504.0
"""Seven inches: the width of a page of A4 or Letter between margins of 16 mm."""
LEFT, RIGHT = 43.0, 433.0
"""Edges of the frames of a wear; words of level lines stand to the right."""
AIR_TOP, AIR_BOTTOM, RATE_TOP, RATE_BOTTOM, WEAR_HIGH = 34.0, 176.0, 186.0, 230.0, 260.0
ROW_HIGH = 17.0
LABEL_WIDE_MAX = 150.0
ORDER_LEVELS = 4
"""Lines above the frame on which words of orders stand, none over another."""
SMALL = 6.5
MILD, FAINT = "#5c5c5c", "#e4e4e4"
AIR, RATE = "#0b4f8a", "#7a3e00"
DANGER, CAUTION, NOTICE = "#a8071a", "#8a5a00", "#4a4a4a"
SIGNS = {
    Priority.DANGER: ("square", DANGER),
    Priority.CAUTION: ("triangle", CAUTION),
    Priority.NOTICE: ("circle", NOTICE),
}
"""As the square and triangle of the board, told apart in grey."""
STEPS = (1, 2, 5)
TICKS_MAX = 6
"""Of an axis of values."""
TICK_HIGH = 12.0
"""At least between two of them: words are 7 high."""
READ: dict[str, Any] = {"stroke": AIR, "stroke_width": 1.6, "stroke_linejoin": "round"}
ESTIMATED: dict[str, Any] = {"stroke": AIR, "stroke_width": 1, "stroke_dasharray": "1 1.5"}
PLANNED: dict[str, Any] = {"stroke": MILD, "stroke_width": 0.8, "stroke_dasharray": "5 2.5"}
LEVEL: dict[str, Any] = {"stroke": INK, "stroke_width": 0.7, "stroke_dasharray": "6 1.5 1 1.5"}
ON_AIR: dict[str, Any] = {"fill": "#dbe7f2", "stroke": AIR, "stroke_width": 0.6}
INSIDE: dict[str, Any] = {"fill": AIR}
NUMBER_OF_ALARM = 6.0


def _alarm_line(colour: str) -> dict[str, Any]:
    return {"stroke": colour, "stroke_width": 0.6, "stroke_dasharray": "1 1.5"}


EDGE: dict[str, Any] = {"stroke": MILD, "stroke_width": 0.6}
GRID: dict[str, Any] = {"stroke": FAINT, "stroke_width": 0.5}
TICK: dict[str, Any] = {"stroke": INK, "stroke_width": 0.6}
RATE_READ: dict[str, Any] = {"stroke": RATE, "stroke_width": 1.2, "stroke_linejoin": "round"}
LETTER: dict[str, Any] = {"font_weight": "bold", "text_anchor": "middle"}
TITLE: dict[str, Any] = {"font_weight": "bold"}
TITLE_SIZE = 8.5
RATE_OFF = 0.3
"""How far the line of a rate may be from it: a quarter of its breadth, a third of a litre."""
ON_WHITE: dict[str, Any] = {"stroke": "#fff", "stroke_width": 0.5}
_DRAWN = {"fill": "none"}
_COMMON: tuple[dict[str, Any], ...] = (
    *({"font_size": number(SMALL)} | look for look in ({}, LETTER)),
    {"font_size": number(TITLE_SIZE)} | TITLE,
    {"font_size": number(NUMBER_OF_ALARM)},
    *({"text_anchor": where} for where in ("end", "middle")),
    *(EDGE, GRID, TICK, LEVEL, READ, PLANNED, ESTIMATED, ON_AIR, INSIDE),
    *(_DRAWN | look for look in (EDGE, READ, PLANNED, ESTIMATED, RATE_READ)),
    *(_alarm_line(colour) for _, colour in SIGNS.values()),
    *({"fill": colour} for _, colour in SIGNS.values()),
    *({"fill": colour} | ON_WHITE for _, colour in SIGNS.values()),
)
LOOKS = Looks(_COMMON)
"""Of nearly everything that is drawn; a page with charts has their style."""


@dataclass(frozen=True, slots=True)
class Frame:
    """Where values of a time stand on the page."""

    left: float
    right: float
    top: float
    bottom: float
    from_ns: int
    to_ns: int
    most: float
    """At the top; at the bottom is nothing, so that no fall is drawn steeper than it is."""

    def x(self, t: int) -> float:
        """Of an instant; what is outside stands at the edge."""
        share = (t - self.from_ns) / max(1, self.to_ns - self.from_ns)
        return self.left + min(1.0, max(0.0, share)) * (self.right - self.left)

    def y(self, value: float) -> float:
        """Of a value."""
        share = min(1.0, max(0.0, value / self.most))
        return self.bottom - share * (self.bottom - self.top)

    def at(self, points: Sequence[Point]) -> list[XY]:
        """Of each point."""
        return [(self.x(t), self.y(value)) for t, value in points]


def wear_chart(curves: WearCurves, name: str, clock: Clock, wall: Wall) -> str:
    """Pressure above, rate below, on one axis of time."""
    drawing = Drawing(name, curves.alt, WIDE, WEAR_HIGH, LOOKS)
    span = curves.from_ns, max(curves.to_ns, curves.from_ns + 1)
    air = Frame(LEFT, RIGHT, AIR_TOP, AIR_BOTTOM, *span, _most(curves))
    highest = max((value for run in curves.rate for _, value in run), default=0.0)
    rate = Frame(LEFT, RIGHT, RATE_TOP, RATE_BOTTOM, *span, max(highest, curves.planned_rate) * 1.2)
    drawing.words((LEFT, 11), curves.title, TITLE_SIZE, **TITLE)
    _pressure(drawing, air, curves)
    _values(drawing, rate, "rate, L/min")
    for run in curves.rate:
        drawing.lines(rate.at(run), RATE_OFF, **RATE_READ)
    planned = curves.planned_rate
    drawing.line((LEFT, rate.y(planned)), (RIGHT, rate.y(planned)), **PLANNED)
    _at_the_edge(drawing, rate, (f"planning rate {planned:g}", planned), above=True)
    _edges(drawing, rate)
    times(drawing, rate, ticks(curves.from_ns, curves.to_ns, wall), clock)
    _wear_key(drawing, curves)
    return drawing.svg()


def _pressure(drawing: Drawing, frame: Frame, curves: WearCurves) -> None:
    for start, end in curves.gaps:
        wide = frame.x(end) - frame.x(start)
        corner = frame.x(start), frame.top
        drawing.box(corner, wide, frame.bottom - frame.top, fill="#f4f4f4")
        drawing.box(corner, wide, frame.bottom - frame.top, fill="hatch")
    _values(drawing, frame, f"pressure, {curves.unit}")
    drawing.lines(frame.at(curves.plan), **PLANNED)
    for run in curves.estimates:
        drawing.lines(frame.at(run), **ESTIMATED)
    for run in curves.readings:
        drawing.lines(frame.at(run), **READ)
    for place in frame.at(curves.voice):
        _diamond(drawing, place)
    highest = max((value for _, value in curves.limits), default=0.0)
    for word, value in curves.limits:
        drawing.line((frame.left, frame.y(value)), (frame.right, frame.y(value)), **LEVEL)
        _at_the_edge(drawing, frame, (word, value), above=value == highest)
    apart = round((curves.to_ns - curves.from_ns) * APART)
    for alarm, level in zip(
        curves.alarms, levels([alarm.t for alarm in curves.alarms], apart), strict=True
    ):
        _, colour = SIGNS[alarm.priority]
        x, y = frame.x(alarm.t), frame.top - 4 - 7 * level
        drawing.line((x, frame.top), (x, frame.bottom), **_alarm_line(colour))
        sign(drawing, (x, y), alarm.priority)
        drawing.words((x + 3.5, y + 2), str(alarm.number), NUMBER_OF_ALARM)
    feet = [frame.x(t) for t, _ in curves.letters]
    if feet:
        drawing.segments(
            [((x, frame.bottom), (x, frame.bottom - 5)) for x in dict.fromkeys(feet)], **TICK
        )
    for (t, letter), level in zip(
        curves.letters, levels([t for t, _ in curves.letters], apart), strict=True
    ):
        x = frame.x(t)
        place = x, frame.bottom - 6 - 7 * level
        drawing.words(place, letter, SMALL, **LETTER)
    _edges(drawing, frame)


def _most(curves: WearCurves) -> float:
    values = [value for run in (*curves.readings, *curves.estimates) for _, value in run]
    values += [value for _, value in curves.plan + curves.voice]
    values += [value for _, value in curves.limits]
    return max(values, default=1.0) * 1.08


def steps(most: float, ticks_max: int = TICKS_MAX) -> Iterator[float]:
    """Round values from 0 up to ``most``, few enough for an axis."""
    size = 1.0
    while most / size > ticks_max * 10:
        size *= 10
    step = next((size * one for one in (*STEPS, 10) if most / (size * one) <= ticks_max), size * 10)
    value = 0.0
    while value <= most:
        yield value
        value += step


def _values(drawing: Drawing, frame: Frame, label: str) -> None:
    """The lines of a grid, their values, and what they are."""
    few = max(2, min(TICKS_MAX, round((frame.bottom - frame.top) / TICK_HIGH)))
    values = list(steps(frame.most, few))
    heights = [frame.y(value) for value in values]
    grid = [((frame.left, y), (frame.right, y)) for y in heights]
    drawing.segments(grid, **GRID)
    for value, y in zip(values, heights, strict=True):
        drawing.words((frame.left - 4, y + 2.5), f"{value:g}", 7, text_anchor="end")
    middle = (frame.top + frame.bottom) / 2
    turned = f"rotate(-90 9 {middle:g})"
    drawing.words((9, middle), label, 7, text_anchor="middle", transform=turned)


def _edges(drawing: Drawing, frame: Frame) -> None:
    left, right, bottom = frame.left, frame.right, frame.bottom
    corners = [(left, frame.top), (left, bottom), (right, bottom)]
    drawing.lines(corners, **EDGE)


def times(drawing: Drawing, frame: Frame, marks: Sequence[int], clock: Clock) -> None:
    """Times of day below a frame."""
    places = [frame.x(t) for t in marks]
    lines = [((x, frame.bottom), (x, frame.bottom + 3)) for x in places]
    drawing.segments(lines, **EDGE)
    for t, x in zip(marks, places, strict=True):
        place = x, frame.bottom + 10.5
        drawing.words(place, clock(t)[:5], 7, text_anchor="middle")


def _at_the_edge(drawing: Drawing, frame: Frame, what: tuple[str, float], *, above: bool) -> None:
    """Say what a level line is, beside the frame, where it covers nothing.

    ``above``: it stands over the line, so that two lines near one another keep their words apart.
    """
    word, value = what
    said, _, figure = word.rpartition(" ")
    y = frame.y(value) + (-8 if above else 7)
    for place, line in enumerate((said, figure)):
        drawing.words((frame.right + 3, y + 7 * place), line, SMALL)


def sign(drawing: Drawing, place: XY, priority: Priority, *, on_bar: bool = False) -> None:
    """The form of a priority: square, triangle, circle."""
    form, colour = SIGNS[priority]
    x, y = place
    look: dict[str, Any] = {"fill": colour}
    if on_bar:
        look |= ON_WHITE
    if form == "square":
        drawing.box((x - 2.2, y - 2.2), 4.4, 4.4, **look)
    elif form == "triangle":
        drawing.shape([(x, y - 2.6), (x + 2.6, y + 2.2), (x - 2.6, y + 2.2)], **look)
    else:
        drawing.circle(place, 2.3, **look)


def _diamond(drawing: Drawing, place: XY) -> None:
    x, y = place
    around = [(x, y - 3.4), (x + 3.4, y), (x, y + 3.4), (x - 3.4, y)]
    drawing.shape(around, fill="#fff", stroke=INK, stroke_width=0.9)


def _wear_key(drawing: Drawing, curves: WearCurves) -> None:
    """What each line means, of those that not every chart has; ``SIGNS`` says the others once."""
    x, y = WIDE - 4.0, WEAR_HIGH - 5
    there: tuple[tuple[bool, str, dict[str, Any]], ...] = (
        (bool(curves.voice), "by voice", {}),
        (bool(curves.estimates), "estimate", ESTIMATED),
        (bool(curves.gaps), "no reading", {"fill": "hatch"}),
    )
    for _, words, look in (one for one in there if one[0]):
        x -= width(words, SMALL)
        drawing.words((x, y), words, SMALL)
        x -= 18
        if "fill" in look:
            drawing.box((x, y - 5), 14, 6, **look)
        elif look:
            drawing.line((x, y - 2), (x + 14, y - 2), **look)
        else:
            _diamond(drawing, (x + 9, y - 2))
        x -= 6


# ---------------------------------------------------------------- everybody


def overview_chart(overview: Overview, name: str, clock: Clock, wall: Wall) -> str:
    """One bar a wearer, on one axis of time."""
    labels = [_row_label(bar) for bar in overview.bars]
    wide = min(LABEL_WIDE_MAX, max((width(label, 7) for label in labels), default=0.0))
    left, right = 8 + wide, WIDE - 14
    span = overview.from_ns, max(overview.to_ns, overview.from_ns + 1)
    across = Frame(left, right, 0, 0, *span, 1)
    placed = order_levels([(across.x(t), word) for t, word in overview.orders])
    top = 24.0 + 8 * max((level + 1 for _, _, level in placed), default=0)
    bottom = top + ROW_HIGH * len(labels)
    frame = Frame(left, right, top, bottom, *span, 1)
    drawing = Drawing(name, overview.alt, WIDE, bottom + 34, LOOKS)
    drawing.words((left, 11), overview.title, TITLE_SIZE, **TITLE)
    marks = ticks(overview.from_ns, overview.to_ns, wall)
    grid = [((frame.x(t), top), (frame.x(t), bottom)) for t in marks]
    drawing.segments(grid, **GRID)
    for row, (bar, label) in enumerate(zip(overview.bars, labels, strict=True)):
        y = top + ROW_HIGH * (row + 0.5)
        drawing.words((left - 4, y + 2.5), label, 7, text_anchor="end")
        _bar(drawing, frame, y, bar)
    for t, _ in overview.orders:
        x = frame.x(t)
        drawing.line(
            (x, top - 2), (x, bottom), stroke=INK, stroke_width=0.8, stroke_dasharray="3 1.5"
        )
    for x, word, level in placed:
        drawing.words((x, top - 4 - 8 * level), word, SMALL)
    _edges(drawing, frame)
    times(drawing, frame, marks, clock)
    _key(drawing, bottom + 28)
    return drawing.svg()


def order_levels(orders: Sequence[tuple[float, str]]) -> list[tuple[float, str, int]]:
    """Where words of orders stand: on the lowest line where they do not meet others.

    Beyond ``ORDER_LEVELS`` lines a word is left out, and its line stays; the tables tell of it.
    """
    ends = [0.0] * ORDER_LEVELS
    found: list[tuple[float, str, int]] = []
    for at, word in orders:
        x = max(0.0, min(at, WIDE - width(word, SMALL)))
        level = next((n for n, end in enumerate(ends) if end <= x), None)
        if level is None:
            continue
        ends[level] = x + width(word, SMALL) + 3
        found.append((x, word, level))
    return found


def _row_label(bar: Bar) -> str:
    alone = not bar.crew or bar.label.startswith(bar.crew)
    return bar.label if alone else f"{bar.crew}, {bar.label}"


def _bar(drawing: Drawing, frame: Frame, y: float, bar: Bar) -> None:
    looks: tuple[tuple[Sequence[tuple[int, int]], float, tuple[dict[str, Any], ...]], ...] = (
        (bar.on_air, 10.5, (ON_AIR,)),
        (bar.inside, 5.8, (INSIDE,)),
        (bar.silent, 10.5, ({"fill": "#fff", "fill_opacity": 0.7}, _SILENT)),
    )
    for spells, high, look in looks:
        for start, end in spells:
            corner, wide = (frame.x(start), y - high / 2), frame.x(end) - frame.x(start)
            for one in look:
                drawing.box(corner, wide, high, **one)
    for alarm in bar.alarms:
        sign(drawing, (frame.x(alarm.t), y), alarm.priority, on_bar=True)


_SILENT: dict[str, Any] = {"fill": "hatch", "stroke": MILD, "stroke_width": 0.4}


def _key(drawing: Drawing, y: float) -> None:
    """What each form means, whether or not it is there."""
    x = 8.0
    for look, words in ((ON_AIR, "on air"), (INSIDE, "inside"), (_SILENT, "nothing heard")):
        drawing.box((x, y - 6), 14, 7, **look)
        drawing.words((x + 18, y), words, SMALL)
        x += 28 + width(words, SMALL)
    for priority in SIGNS:
        sign(drawing, (x + 3, y - 2), priority)
        words = PRIORITY_WORDS[priority]
        drawing.words((x + 9, y), words, SMALL)
        x += 19 + width(words, SMALL)
