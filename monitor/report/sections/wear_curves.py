"""From the record of a wear to what is drawn of it. Pure."""

from collections.abc import Iterator, Sequence

from monitor.incident import units
from monitor.incident.picture import FALLING, AirFrom
from monitor.report import words
from monitor.report.alarm_lives import AlarmLife
from monitor.report.curves import AlarmMark, Point, WearCurves, runs, thinned, until
from monitor.report.teller import Teller
from monitor.report.wears import Sample, WearRecord

MARKS_MAX = 60
"""Alarms drawn on one chart; the table has all."""


SIGNS = (
    "In each chart the thick line is what the pack read, the long dashes are the plan. Over the "
    "frame stand the numbers of alarms: a square is a danger, a triangle a caution, a circle a "
    "notice."
)


def curves(teller: Teller, wear: WearRecord) -> WearCurves:
    """Everything that the chart of this wear shows."""
    detail, unit = wear.detail, wear.detail.unit if wear.detail else teller.unit
    _, end = wear.spell.until(teller.found.end_ns)

    def shown(points: tuple[Point, ...]) -> tuple[Point, ...]:
        return tuple((t, units.pressure(bar, unit)) for t, bar in points)

    points = detail.points if detail else ()
    gaps = detail.gaps if detail else ()
    estimates = [(s.t, s.bar) for s in wear.samples if s.source in FALLING and s.bar is not None]
    spoken = [
        (m.t, m.bar)
        for m in wear.moments
        if m.source in (AirFrom.VOICE, AirFrom.ENTRY) and m.bar is not None
    ]
    plan = until(detail.plan, end) if detail else ()
    return WearCurves(
        title=teller.name_of(wear),
        alt=alt(teller, wear),
        unit=unit,
        from_ns=wear.spell.from_ns,
        to_ns=end,
        readings=tuple(shown(thinned(run)) for run in runs(points, gaps)),
        gaps=gaps,
        estimates=tuple(shown(run) for run in _estimate_runs(wear.samples, estimates)),
        voice=shown(tuple(spoken)),
        plan=shown(plan),
        limits=tuple(
            (f"{name} {units.turn(bar, unit)}", units.pressure(bar, unit))
            for name, bar in (detail.limits if detail else ())
        ),
        letters=tuple((mark.t, mark.letter) for mark in detail.marks) if detail else (),
        alarms=marks(teller.alarms_of(wear), wear.spell.from_ns, end),
        rate=tuple(runs(_rates(wear.samples, gaps), gaps)),
        planned_rate=teller.opened.procedure.planning_rate_l_min,
    )


def _estimate_runs(samples: list[Sample], points: list[Point]) -> Iterator[tuple[Point, ...]]:
    """Estimates without a reading between them."""
    readings = [(s.t, s.t) for s in samples if s.source not in FALLING]
    return runs(points, readings)


def _rates(samples: list[Sample], gaps: Sequence[tuple[int, int]]) -> Iterator[Point]:
    """Rates that were read: while nothing is, the last one is old."""
    for s in samples:
        read = s.source not in FALLING
        if s.rate_l_min is not None and read and not any(a < s.t < b for a, b in gaps):
            yield s.t, s.rate_l_min


def marks(
    lives: list[AlarmLife], from_ns: int = 0, to_ns: int | None = None
) -> tuple[AlarmMark, ...]:
    """When each was first raised; the most urgent of a chart if there are too many."""
    marks = [AlarmMark(life.raised_ns, life.number, life.priority) for life in lives]
    inside = [m for m in marks if m.t >= from_ns and (to_ns is None or m.t <= to_ns)]
    urgent = sorted(inside, key=lambda mark: (mark.priority, mark.t))[:MARKS_MAX]
    return tuple(sorted(urgent, key=lambda mark: mark.t))


def alt(teller: Teller, wear: WearRecord) -> str:
    """Say the chart in words."""
    points = wear.detail.points if wear.detail else ()
    gaps = wear.detail.gaps if wear.detail else ()
    said = f"Pressure and rate of {teller.name_of(wear)}."
    if points:
        (first_ns, first), (last_ns, last) = points[0], points[-1]
        said += (
            f" From {teller.pressure(first)} at {teller.at(first_ns)} to {teller.pressure(last)}"
            f" at {teller.at(last_ns)}."
        )
    spells = words.counted(len(gaps), "spell")
    numbers = ", ".join(str(life.number) for life in teller.alarms_of(wear))
    return f"{said} {spells} without readings. Alarms: {numbers or 'none'}."


def letters(wear: WearRecord) -> str:
    """Say what the signs on the chart are."""
    marks = wear.detail.marks if wear.detail else ()
    letters = ", ".join(f"{mark.letter} {mark.words}" for mark in marks)
    return f"On the axis: {letters or 'nothing'}."
