"""What stands out in a recording, and finding it."""

from typing import Any

from monitor.incident.decoding import row_of
from monitor.incident.events import ClockStep, Resumed, WentOn
from monitor.incident.rows import Row, RowKind
from monitor.replay import marks
from monitor.replay.marks import Mark, MarkKind, mark_of, note_of

S = 1_000_000_000
A, O, N = MarkKind.ALARM, MarkKind.ORDER, MarkKind.NOTE  # noqa: E741 - as on the time line
FOUND = (Mark(10, A), Mark(20, O), Mark(20, A, danger=True), Mark(90, N))


def test_which_rows_are_marks(short: Any) -> None:
    assert [mark_of(row) for row in short.all] == [None, None, None, None, Mark(8_000_000_000, N)]
    said = Row(9, RowKind.ANNOUNCED, b'{"t": 7, "priority": 1, "kind": "distress"}')
    assert mark_of(said) == Mark(7, A, danger=True)
    order = Row(9, RowKind.ACT, b'{"what": "give_order"}')
    assert mark_of(order) == Mark(9, O)


def test_where_the_clocks_part_is_a_mark_with_words() -> None:
    set_back = row_of(9 * S, ClockStep(by_ns=-90 * S, wall_ns=0))
    paused = row_of(20 * S, WentOn(stood_ns=190 * S, wall_ns=0))
    broken = row_of(30 * S, Resumed(down_ns=60 * S, known_by="boot clock", wall_ns=0))
    found = [mark for row in (set_back, paused, broken) if (mark := mark_of(row))]
    assert [(mark.t, mark.kind, mark.words) for mark in found] == [
        (9 * S, MarkKind.CLOCK, "The clock of the machine was set back by 1 min 30 s"),
        (20 * S, MarkKind.CLOCK, "The exercise was paused here for 3 min 10 s"),
        (30 * S, MarkKind.CLOCK, "Nothing was recorded for 1 min 0 s from here"),
    ]
    assert note_of(paused) == (20 * S, "The exercise was paused here for 3 min 10 s.")
    told = [marks.words_at(found, t * S) for t in (8, 9, 13, 14, 20)]
    assert told == ["", found[0].words, found[0].words, "", found[1].words]


def test_the_next_and_the_one_before() -> None:
    assert [marks.after(FOUND, A, t) for t in (0, 10, 19, 20)] == [10, 20, 20, None]
    assert [marks.before(FOUND, A, t) for t in (10, 11, 21)] == [None, 10, 20]
    assert marks.after(FOUND, N, 0) == 90


def test_a_cell_shows_the_most_urgent() -> None:
    """Ten cells of ten each; 20 lies in the third, the danger in it wins over the order."""
    found = marks.cells(FOUND, 100, 10)
    assert [found[1], found[2], found[9]] == [FOUND[0], FOUND[2], FOUND[3]]
    assert sum(mark is not None for mark in found) == 3


def test_the_end_lies_in_the_last_cell() -> None:
    assert [marks.cell_of(t, 100, 10) for t in (-1, 0, 99, 100)] == [0, 0, 9, 9]
    assert marks.cell_of(0, 0, 10) == 0
