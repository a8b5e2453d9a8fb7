"""What the board said of air to come, beside what really came. Pure.

Asked once a minute of each wear.

The board says when a mark is reached at the earliest. So a mark that really came later than said
is inside what was stated, and one that came earlier was told too late. The truth is the pressure in
the cylinder as the virtual wearer breathed it, at the times of their reports.
"""

from bisect import bisect_right
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from statistics import median
from typing import Literal

from monitor.incident.air.next_mark import Target
from monitor.report.wears import WearRecord

SECOND_NS = 1_000_000_000
MINUTE_NS = 60 * SECOND_NS
LATE_NS = 120 * SECOND_NS
"""Told later than the truth by more than this is dangerous."""
TARGETS: tuple[Target, ...] = ("turn", "low", "empty")
Way = Literal["F", "R", "T"]
WAYS: tuple[Way, ...] = ("F", "R", "T")
Pressures = Mapping[int, Sequence[tuple[int, float]]]
"""By wearer: times in ns and true pressures in bar, in order of time."""


@dataclass(frozen=True, slots=True)
class Said:
    """One forecast."""

    wearer: int
    at_ns: int
    target: Target
    by: Way
    mark_ns: int
    """When the mark would be reached."""
    mark_bar: float
    until_ns: int
    """The wear ended, or the record did: what comes after it counts for nothing."""


@dataclass(frozen=True, slots=True)
class Judgement:
    """All forecasts of one mark by one of the three ways. Times are said less true, ns."""

    target: Target
    by: Way
    said: int
    reached: int
    """Of those, the mark was reached in the same wear: only these can be judged."""
    median_ns: int | None
    earliest_ns: int | None
    """The most that was given away; negative."""
    latest_ns: int | None
    """The worst: the most that was told too late; negative or 0 where none was."""
    inside: int
    """The mark did not come before it was said to."""
    late: int
    """Told more than two minutes too late."""


def said(wears: Iterable[WearRecord], end_ns: int) -> Iterator[Said]:
    """Every forecast that the board showed, one a minute of each wear."""
    for wear in wears:
        next_ns = wear.spell.from_ns + MINUTE_NS
        until_ns = end_ns if wear.spell.to_ns is None else wear.spell.to_ns
        for sample in wear.samples:
            if sample.t < next_ns:
                continue
            next_ns += ((sample.t - next_ns) // MINUTE_NS + 1) * MINUTE_NS
            mark, bar = sample.next, sample.mark_bar
            if mark is not None and bar is not None and mark.seconds >= 0:
                at_ns = sample.t + mark.seconds * SECOND_NS
                yield Said(wear.number, sample.t, mark.target, mark.by, at_ns, bar, until_ns)


def judge(forecasts: Iterable[Said], truth: Pressures) -> tuple[Judgement, ...]:
    """Set them beside the truth, by mark and way; what was never said is left out."""
    errors: dict[tuple[Target, Way], list[int | None]] = {}
    for one in forecasts:
        true_ns = _reached_ns(truth.get(one.wearer, ()), one)
        error = None if true_ns is None else one.mark_ns - true_ns
        errors.setdefault((one.target, one.by), []).append(error)
    return tuple(
        _judgement(target, by, errors[target, by])
        for target in TARGETS
        for by in WAYS
        if (target, by) in errors
    )


def _judgement(target: Target, by: Way, errors: Sequence[int | None]) -> Judgement:
    known = [error for error in errors if error is not None]
    return Judgement(
        target=target,
        by=by,
        said=len(errors),
        reached=len(known),
        median_ns=round(median(known)) if known else None,
        earliest_ns=min(known, default=None),
        latest_ns=max(known, default=None),
        inside=sum(error <= 0 for error in known),
        late=sum(error > LATE_NS for error in known),
    )


def _reached_ns(pressures: Sequence[tuple[int, float]], one: Said) -> int | None:
    """When the true pressure came down to the mark; between two states by a straight line."""
    at = bisect_right(pressures, one.at_ns, key=lambda state: state[0])
    before = pressures[at - 1] if at else None
    if before is not None and before[1] <= one.mark_bar:
        # It was there already when the board still told of it.
        return before[0]
    for t, bar in pressures[at:]:
        if t > one.until_ns:
            return None
        if bar <= one.mark_bar:
            if before is None or before[1] <= bar:
                return t
            share = (before[1] - one.mark_bar) / (before[1] - bar)
            return round(before[0] + share * (t - before[0]))
        before = t, bar
    return None
