"""What stands out in a recording: alarms as announced, orders, notes; and finding one. Pure."""

import json
from bisect import bisect_left, bisect_right
from collections.abc import Callable, Iterable, Sequence
from enum import StrEnum
from typing import NamedTuple

from monitor.board.words.marks import clean
from monitor.incident import events
from monitor.incident.decoding import event_of
from monitor.incident.events import Done, Note
from monitor.incident.rows import Row, RowKind
from monitor.replay.times import span

SAID_NS = 5_000_000_000
"""So long a change of the clock is told of, as recorded time goes by: to be read in."""


class MarkKind(StrEnum):
    """What one can go to."""

    ALARM = "alarm"
    ORDER = "order"
    NOTE = "note"
    BOOKMARK = "bookmark"
    """What somebody has marked in words, in a file beside the journal."""
    CLOCK = "clock"
    """Where the wall clock and the incident's time part: it was set, a pause, a break."""


KINDS = tuple(MarkKind)
_ACTS = {"give_order": MarkKind.ORDER, "note": MarkKind.NOTE}
"""Acts that are marks, by their name in the journal."""


class Mark(NamedTuple):
    """One instant to go to."""

    t: int
    """Incident time, ns."""
    kind: MarkKind
    danger: bool = False
    words: str = ""
    """What happened, of one of the clock; what somebody wrote, of a bookmark."""


Find = Callable[[Sequence[Mark], MarkKind, int], int | None]
"""Finds the instant of a mark from another one."""


def mark_of(row: Row) -> Mark | None:
    """The mark that a row is; None for most. NOT_UNDERSTOOD if its data is not what it says."""
    if row.kind == RowKind.ANNOUNCED:
        said = json.loads(row.data)
        return Mark(int(said["t"]), MarkKind.ALARM, said["priority"] == 1)
    if row.kind == RowKind.ACT:
        kind = _ACTS.get(json.loads(row.data)["what"])
        return Mark(row.t, kind) if kind else None
    if row.kind == RowKind.FACT and (said := _clock_words(row)):
        return Mark(row.t, MarkKind.CLOCK, words=said)
    return None


def note_of(row: Row) -> tuple[int, str] | None:
    """Give the remark that a row is, or what it says of the clock; None for any other.

    ValueError if its data is not what its kind says.
    """
    if row.kind == RowKind.FACT:
        said = _clock_words(row)
        return (row.t, f"{said}.") if said else None
    event = event_of(row) if row.kind == RowKind.ACT else None
    if not isinstance(event, Done) or not isinstance(event.what, Note):
        return None
    note = event.what
    whose = f" of wearer {note.wearer}" if note.wearer is not None else ""
    return row.t, f"Note by {clean(note.by)}{whose}: {clean(note.text)}"


def _clock_words(row: Row) -> str:
    """How incident time and the wall clock part here; empty: they do not."""
    event = event_of(row)
    match event.what if isinstance(event, Done) else None:
        case events.WentOn(stood_ns=ns):
            return f"The exercise was paused here for {span(ns)}"
        case events.ClockStep(by_ns=ns):
            way = "on" if ns > 0 else "back"
            return f"The clock of the machine was set {way} by {span(abs(ns))}"
        case events.Resumed(down_ns=ns):
            return f"Nothing was recorded for {span(ns)} from here"
        case events.TimeMoved(by_ns=ns):
            return f"Incident time went on by {span(ns)} here, as packs tell"
    return ""


def words_at(marks: Sequence[Mark], t: int) -> str:
    """What is to be said within ``SAID_NS`` after ``t``'s marks, the newest; empty: nothing."""
    said = [m.words for m in marks if m.words and 0 <= t - m.t < SAID_NS]
    return said[-1] if said else ""


def after(marks: Iterable[Mark], kind: MarkKind, t: int) -> int | None:
    """When the next mark of this kind after ``t`` is; None if there is none."""
    times = sorted(mark.t for mark in marks if mark.kind is kind)
    place = bisect_right(times, t)
    return times[place] if place < len(times) else None


def before(marks: Iterable[Mark], kind: MarkKind, t: int) -> int | None:
    """When the last mark of this kind before ``t`` is; None if there is none."""
    times = sorted(mark.t for mark in marks if mark.kind is kind)
    place = bisect_left(times, t)
    return times[place - 1] if place else None


def cells(marks: Sequence[Mark], end_ns: int, width: int) -> list[Mark | None]:
    """The most urgent mark within each of ``width`` equal parts of the recording."""
    found: list[Mark | None] = [None] * width
    for mark in marks:
        place = cell_of(mark.t, end_ns, width)
        there = found[place]
        if there is None or _weight(mark) < _weight(there):
            found[place] = mark
    return found


def cell_of(t: int, end_ns: int, width: int) -> int:
    """Which of the parts an instant lies in."""
    return min(width - 1, max(0, t) * width // max(end_ns, 1))


def _weight(mark: Mark) -> tuple[bool, int]:
    return not mark.danger, KINDS.index(mark.kind)
