"""One wearer's pressure over time: readings, plan, forecast, limits and events as lines. Pure.

What was read is solid and strong, what was planned is dotted, the forecast is three faint lines
(one wearer in ten would be under the lowest, one in ten over the highest), limits are dashed with
their names at the right, a spell without readings is a band. Letters on the axis stand for events;
the legend says what they were. Pressures are in the unit of the wearer's gauge.
"""

from bisect import bisect_left
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from monitor.board.lines.chart import DOTS, Dots, Frame, Stroke, chart, column_of
from monitor.board.words import wording
from monitor.board.words.marks import Line, Look, Role, Segment, clean, width_of
from monitor.incident import units
from monitor.incident.air.detail import AirDetail

LINES_MIN = 8
"""Six of the plot, the axis and its times."""
AXIS_LINES = 2
PLOT_MIN = 20
"""Cells; with less room the names of the limits are left out."""
SPAN_NS_MIN = 600_000_000_000
"""The chart shows ten minutes at least: a steep line after one minute would say nothing."""
TOP_STEP = {"bar": 50, "psi": 500}
LABEL_STEPS = {"bar": (50, 100, 200, 500), "psi": (500, 1_000, 2_000, 5_000)}
LABEL_ROWS = 2
"""Rows between two labels of the pressure axis, at least."""
MINUTE_NS = 60_000_000_000
TIME_STEPS_MIN = (1, 2, 5, 10, 15, 20, 30, 60, 120, 240, 480)
TIME_CELLS = 10
"""Cells between two times of day on the axis, at least."""


@dataclass(frozen=True, slots=True)
class Place:
    """Where the chart stands: what its rows and columns mean."""

    plot: int
    """Cells of the plot across."""
    rows: int
    """And down."""
    labels: int
    """Cells left of it."""
    top: int
    """Upper edge in the unit of the gauge."""
    frame: Frame
    """In incident time, ns, and bar."""
    dots: Dots

    def column(self, t: int) -> int:
        """The column of an instant."""
        return column_of(t, self.frame, self.plot)


def air_chart(detail: AirDetail, look: Look, lines: int, wall_less_t_ns: int) -> list[Line]:
    """Exactly ``lines`` lines, at least ``LINES_MIN``; ``wall_less_t_ns`` makes times of day."""
    place = _place(detail, look, lines)
    drawn = chart(
        place.plot,
        place.rows,
        place.frame,
        _strokes(detail, place.frame),
        detail.gaps,
        place.dots,
    )
    labels = _labels(place, detail.unit)
    names = _names(detail, place) if place.labels + place.plot < look.width else {}
    return [
        *(
            (
                (f"{labels.get(row, ''):>{place.labels - 1}} ", Role.FAINT),
                *line,
                (names.get(row, ""), Role.QUIET),
            )
            for row, line in enumerate(drawn)
        ),
        ((" " * place.labels, Role.FAINT), *_axis(detail, place, wall_less_t_ns)),
        _times(detail, place, look, wall_less_t_ns),
    ]


def _place(detail: AirDetail, look: Look, lines: int) -> Place:
    ends = [detail.t, detail.start_ns + SPAN_NS_MIN]
    ends += [point.t for point in detail.fan[-1:]] + [t for t, _ in detail.plan[-1:]]
    bars = [bar for _, bar in (*detail.points, *detail.plan, *detail.limits)]
    bars += [point.high_bar for point in detail.fan]
    step = TOP_STEP[detail.unit]
    top = max(1, -int(-units.pressure(max(bars, default=0.0), detail.unit) // step)) * step
    frame = Frame(detail.start_ns, max(ends), 0, units.bar_from(top, detail.unit))
    labels = len(str(top)) + 1
    gutter = max((len(text) + 1 for text in _limit_words(detail)), default=0)
    if look.width - labels - gutter < PLOT_MIN:
        gutter = 0
    plot = max(1, look.width - labels - gutter)
    return Place(plot, max(1, lines - AXIS_LINES), labels, top, frame, DOTS[look.glyphs.dots])


# ---------------------------------------------------------------- what is drawn


def _strokes(detail: AirDetail, frame: Frame) -> list[Stroke]:
    """From the lowest layer up."""
    return [
        PLANNED.of(to_empty(detail.plan)),
        *(LIMIT.of([(frame.x0, bar), (frame.x1, bar)]) for _, bar in detail.limits),
        FORECAST.of(to_empty([(p.t, p.high_bar) for p in detail.fan])),
        FORECAST.of(to_empty([(p.t, p.mid_bar) for p in detail.fan])),
        FORECAST.of(to_empty([(p.t, p.low_bar) for p in detail.fan])),
        *(READ.of(run) for run in runs(detail)),
    ]


@dataclass(frozen=True, slots=True)
class Kind:
    """How one kind of line is drawn."""

    words: str
    role: Role
    sign: str
    on: int = 1
    off: int = 0
    thin: int = 1
    up: bool = False

    def of(self, points: Sequence[tuple[float, float]]) -> Stroke:
        """A stroke of this kind."""
        return Stroke(points, self.role, self.sign, self.on, self.off, self.thin, self.up)


READ = Kind("read", Role.STRONG, "*")
PLANNED = Kind("planned", Role.FAINT, ".", thin=3)
FORECAST = Kind("forecast 10, 50, 90 %", Role.ESTIMATE, "~", thin=2)
LIMIT = Kind("limit", Role.QUIET, "-", on=1, off=1, up=True)


def to_empty(points: Sequence[tuple[int, float]]) -> Sequence[tuple[int, float]]:
    """The points of a falling line up to the first with nothing left."""
    end = next((place for place, (_, bar) in enumerate(points) if bar <= 0), len(points))
    return points[: end + 1]


def runs(detail: AirDetail) -> Iterator[Sequence[tuple[int, float]]]:
    """Readings that belong together: what a gap parts is never joined."""
    start = 0
    for _, until in sorted(detail.gaps):
        end = bisect_left(detail.points, until, key=lambda point: point[0])
        yield detail.points[start:end]
        start = end
    yield detail.points[start:]


# ---------------------------------------------------------------- around it


def _labels(place: Place, unit: str) -> dict[int, str]:
    """Figures of the pressure axis by row, each at the row that begins with it."""
    steps = LABEL_STEPS[unit]
    fitting = [s for s in steps if place.rows * s / place.top >= LABEL_ROWS] or [steps[-1]]
    return {
        place.rows - 1 - min(place.rows - 1, value * place.rows // place.top): str(value)
        for value in range(0, place.top + 1, fitting[0])
    }


def _limit_words(detail: AirDetail) -> list[str]:
    return [f"{clean(name)} {wording.turn_pressure(bar, detail.unit)}"
            for name, bar in detail.limits]  # fmt: skip


def _names(detail: AirDetail, place: Place) -> dict[int, str]:
    """The limits' names by row, the highest first; one whose row is taken stands below it."""
    named: dict[int, str] = {}
    order = sorted(zip(detail.limits, _limit_words(detail), strict=True), key=lambda n: -n[0][1])
    for (_, bar), words in order:
        # A limit's line goes up to its dot: the name stands beside that.
        dots = bar / place.frame.y1 * place.rows * place.dots.down
        level = -int(-dots // 1) // place.dots.down
        row = place.rows - 1 - min(place.rows - 1, level)
        while row in named:
            row += 1
        named[row] = f" {words}"
    return named


def _axis(detail: AirDetail, place: Place, wall_less_t_ns: int) -> Line:
    """The time axis, its ticks, and a letter for each event."""
    now = place.column(detail.t)
    cells = [place.dots.past] * (now + 1) + [place.dots.ahead] * (place.plot - now - 1)
    for column, _ in _ticks(place, wall_less_t_ns):
        cells[column] = place.dots.tick
    letters: dict[int, str] = {}
    for mark in detail.marks:
        column = place.column(mark.t)
        free = [c for c in (*range(column, place.plot), *range(column)) if c not in letters]
        if free:
            letters[free[0]] = clean(mark.letter)[:1]
    line: list[Segment] = []
    for column, cell in enumerate(cells):
        line.append((letters[column], Role.STRONG) if column in letters else (cell, Role.FAINT))
    return _merged(line)


def _ticks(place: Place, wall_less_t_ns: int) -> Iterator[tuple[int, int]]:
    """Columns of round times of day, and the wall clock there."""
    start, end = int(place.frame.x0), place.frame.x1
    cell_ns = (end - start) / place.plot
    steps = (minutes * MINUTE_NS for minutes in TIME_STEPS_MIN)
    step = next((s for s in steps if s >= TIME_CELLS * cell_ns), TIME_STEPS_MIN[-1] * MINUTE_NS)
    wall = -(-(start + wall_less_t_ns) // step) * step
    while wall - wall_less_t_ns < end:
        yield place.column(wall - wall_less_t_ns), wall
        wall += step


def _times(detail: AirDetail, place: Place, look: Look, wall_less_t_ns: int) -> Line:
    """Times of day below their ticks, and where now is."""
    room = place.plot
    cells = [" "] * room
    now = min(place.column(detail.t), max(0, room - len(NOW)))
    for column, wall in _ticks(place, wall_less_t_ns):
        text = wording.day_time(wall, look.zone)
        if column + len(text) <= room and not now - len(text) <= column <= now + len(NOW):
            cells[column : column + len(text)] = text
    text = "".join(cells)
    unit = f"{detail.unit:<{place.labels}}"[: place.labels]
    return (
        (unit + text[:now], Role.FAINT),
        (NOW[:room], Role.STRONG),
        (text[now + len(NOW) :], Role.FAINT),
    )


NOW = "now"


def _merged(line: list[Segment]) -> Line:
    """Neighbours of one role as one segment."""
    merged: list[Segment] = []
    for text, role in line:
        if merged and merged[-1][1] is role:
            merged[-1] = (merged[-1][0] + text, role)
        else:
            merged.append((text, role))
    return tuple(merged)


def key_line(detail: AirDetail, look: Look) -> Line:
    """What each kind of line means, each with a piece of it; only what is on the chart."""
    dots = DOTS[look.glyphs.dots]
    kinds = [(READ, detail.points), (PLANNED, detail.plan), (FORECAST, detail.fan)]
    line: list[Segment] = []
    for kind, there in kinds:
        if there:
            (piece,) = chart(3, 1, Frame(0, 3, 0, 1), [kind.of([(0, 0.5), (2.9, 0.5)])], (), dots)
            line += [*piece, (f" {kind.words}   ", Role.QUIET)]
    if detail.gaps:
        line += [(dots.band * 3, Role.FAINT), (" no reading", Role.QUIET)]
    return tuple(line) if width_of(line) <= look.width else ()


def legend(detail: AirDetail, look: Look, lines: int, wall_less_t_ns: int) -> list[Line]:
    """What the letters stand for, the latest last, in at most ``lines`` lines."""
    words = [
        f"{clean(mark.letter)[:1]} {wording.day_time(mark.t + wall_less_t_ns, look.zone)} "
        f"{clean(mark.words)}"
        for mark in detail.marks
    ]
    for left_out in range(len(words)):
        said = [f"+ {left_out} earlier"] if left_out else []
        flowed = flow([*said, *words[left_out:]], look.width)
        if len(flowed) <= lines:
            return [((text, Role.QUIET),) for text in flowed]
    return []


def flow(words: Sequence[str], width: int) -> list[str]:
    """Pieces side by side in as few lines as they take, two blanks between them."""
    lines: list[str] = []
    for word in words:
        if lines and len(lines[-1]) + 2 + len(word) <= width:
            lines[-1] += f"  {word}"
        else:
            lines.append(word)
    return lines
