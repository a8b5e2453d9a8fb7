"""What stands out in a recording: alarms as announced, orders, notes; and finding one. Pure."""

import json
from bisect import bisect_left, bisect_right
from collections.abc import Callable, Iterable, Sequence
from enum import StrEnum
from typing import NamedTuple

from monitor.board.marks import clean
from monitor.incident.decoding import event_of
from monitor.incident.events import Done, Note
from monitor.incident.rows import Row, RowKind


class MarkKind(StrEnum):
    """What one can go to."""

    ALARM = "alarm"
    ORDER = "order"
    NOTE = "note"


KINDS = tuple(MarkKind)
_ACTS = {"give_order": MarkKind.ORDER, "note": MarkKind.NOTE}
"""Acts that are marks, by their name in the journal."""


class Mark(NamedTuple):
    """One instant to go to."""

    t: int
    """Incident time, ns."""
    kind: MarkKind
    danger: bool = False


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
    return None


def note_of(row: Row) -> tuple[int, str] | None:
    """Give the remark that a row is; None for any other. ValueError if its data is no act."""
    event = event_of(row) if row.kind == RowKind.ACT else None
    if not isinstance(event, Done) or not isinstance(event.what, Note):
        return None
    note = event.what
    whose = f" of wearer {note.wearer}" if note.wearer is not None else ""
    return row.t, f"Note by {clean(note.by)}{whose}: {clean(note.text)}"


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
