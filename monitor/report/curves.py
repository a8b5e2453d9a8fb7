"""What is drawn, before it is drawn: runs between gaps, fewer points, marks of an axis. Pure.

A line is never drawn over a spell without readings, and of points too close to be told apart the
lowest stays: the drawing is never milder than what was read.
"""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field

from monitor.incident.picture import Priority

Point = tuple[int, float]
"""Incident time in ns, and a value."""
POINTS_MAX = 300
"""Of one run: half a millimetre apart on a page."""
TICKS_MAX = 8
LEVELS = 3
"""Signs that are close to one another stand at so many heights."""
APART = 0.02
"""Of the width of a chart: signs closer than that would lie on one another."""
MINUTE_NS = 60_000_000_000
TICK_MINUTES = (1, 2, 5, 10, 15, 20, 30, 60, 120, 180, 240, 360, 720, 1440)


@dataclass(frozen=True, slots=True)
class AlarmMark:
    """An alarm on a chart."""

    t: int
    number: int
    priority: Priority


@dataclass(frozen=True, slots=True)
class WearCurves:
    """Everything that the chart of one wear shows. Pressures in the gauge's unit."""

    title: str
    alt: str
    unit: str
    from_ns: int
    to_ns: int
    readings: tuple[tuple[Point, ...], ...]
    """Runs without a gap in them."""
    gaps: tuple[tuple[int, int], ...]
    estimates: tuple[tuple[Point, ...], ...]
    voice: tuple[Point, ...]
    plan: tuple[Point, ...]
    limits: tuple[tuple[str, float], ...]
    """What to write, and where."""
    letters: tuple[tuple[int, str], ...]
    alarms: tuple[AlarmMark, ...]
    rate: tuple[tuple[Point, ...], ...]
    """Litres a minute; none where nothing was read."""
    planned_rate: float


@dataclass(frozen=True, slots=True)
class Bar:
    """One wearer in the overview of crews."""

    label: str
    crew: str
    on_air: tuple[tuple[int, int], ...]
    inside: tuple[tuple[int, int], ...]
    silent: tuple[tuple[int, int], ...]
    alarms: tuple[AlarmMark, ...]


@dataclass(frozen=True, slots=True)
class Overview:
    """Everybody on one axis of time."""

    title: str
    alt: str
    from_ns: int
    to_ns: int
    bars: tuple[Bar, ...]
    orders: tuple[tuple[int, str], ...] = field(default=())


def runs(points: Iterable[Point], gaps: Sequence[tuple[int, int]]) -> Iterator[tuple[Point, ...]]:
    """Split points where a gap lies between two of them."""
    starts = iter(sorted(to for _, to in gaps))
    border = next(starts, None)
    run: list[Point] = []
    for point in points:
        if border is not None and point[0] >= border:
            if run:
                yield tuple(run)
            run = []
            while border is not None and point[0] >= border:
                border = next(starts, None)
        run.append(point)
    if run:
        yield tuple(run)


def thinned(points: Sequence[Point], most: int = POINTS_MAX) -> tuple[Point, ...]:
    """At most about ``most``: of each stretch the lowest, and the first and last of all."""
    if len(points) <= most:
        return tuple(points)
    share = -(-len(points) // most)
    kept = [
        min(points[at : at + share], key=lambda point: point[1])
        for at in range(0, len(points), share)
    ]
    ends = (points[0], points[-1])
    return tuple(sorted({ends[0], *kept, ends[1]}))


def levels(times: Sequence[int], apart_ns: int) -> list[int]:
    """For signs in order of time: 0, or 1, 2 ... for one that would lie on those before it."""
    found: list[int] = []
    for at, t in enumerate(times):
        near = at > 0 and t - times[at - 1] < apart_ns
        found.append((found[-1] + 1) % LEVELS if near else 0)
    return found


def until(points: Sequence[Point], end_ns: int) -> tuple[Point, ...]:
    """A line up to an instant, cut off there between its points."""
    kept = [point for point in points if point[0] <= end_ns]
    later = [point for point in points if point[0] > end_ns]
    if kept and later and kept[-1][0] < end_ns:
        (t0, v0), (t1, v1) = kept[-1], later[0]
        kept.append((end_ns, v0 + (v1 - v0) * (end_ns - t0) / (t1 - t0)))
    return tuple(kept)


def ticks(from_ns: int, to_ns: int, wall_at: Callable[[int], int]) -> list[int]:
    """Instants of the record at full minutes of the wall clock, at most ``TICKS_MAX``."""
    length = to_ns - from_ns
    minutes = next(
        (m for m in TICK_MINUTES if length <= m * MINUTE_NS * TICKS_MAX), TICK_MINUTES[-1]
    )
    step = minutes * MINUTE_NS
    while length > step * TICKS_MAX:
        step *= 2
    first = from_ns + -wall_at(from_ns) % step
    return list(range(first, to_ns + 1, step))
