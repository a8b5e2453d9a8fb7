"""The same lines however the rows come; announcements as the recorder has written them down."""

import pytest

import shared
from monitor.feed.lines import AnnouncementLine, Line, PictureLine
from monitor.feed.telling import Telling
from monitor.incident.decoding import announced_as, announced_of
from monitor.incident.rows import Row, RowKind
from monitor.journal.reader import JournalReader

GOLDEN = shared.path("journals", "kiln-lane.journal")
S = 1_000_000_000
Record = tuple[list[Row], int]


@pytest.fixture(scope="module")
def record() -> Record:
    with JournalReader(GOLDEN) as reader:
        last = reader.last_batch()
        return [row for step in reader.steps(last.last_row) for row in step], last.horizon


def test_announcements_are_those_that_the_recorder_wrote_down(record: Record) -> None:
    rows, horizon = record
    lines = Telling(3_600 * S).rows(rows, horizon, complete=True)
    told = [(x.alarm, x.t_s, x.again) for x in lines if isinstance(x, AnnouncementLine)]
    written = [announced_as(announced_of(x.data)) for x in rows if x.kind == RowKind.ANNOUNCED]
    assert told
    assert told == [(number, t / S, again) for number, t, again in written]


@pytest.mark.parametrize("count", [1, 7, 500])
def test_it_does_not_matter_how_rows_are_cut(record: Record, count: int) -> None:
    rows, horizon = record
    whole = list(Telling(30 * S).rows(rows, horizon, complete=True))
    telling = Telling(30 * S)
    pieces: list[Line] = []
    for at in range(0, len(rows), count):
        some = rows[at : at + count]
        pieces += telling.rows(some, horizon, complete=at + count >= len(rows))
    assert pieces == whole
    assert telling.row == len(rows)


def test_pictures_come_at_whole_steps(record: Record) -> None:
    rows, horizon = record
    lines = Telling(30 * S).rows(rows, horizon, complete=True)
    at = [line.t_s for line in lines if isinstance(line, PictureLine)]
    assert at == [30.0 * n for n in range(horizon // (30 * S) + 1)]


def test_what_came_before_is_not_told(record: Record) -> None:
    rows, horizon = record
    telling = Telling(30 * S)
    telling.quietly(rows[:-20], rows[-20].t - 1, complete=True)
    told = list(telling.rows(rows[-20:], horizon, complete=True))
    assert told
    assert min(line.t_s for line in told) * S >= rows[-21].t


def test_of_nothing_there_is_only_the_end() -> None:
    telling = Telling()
    assert list(telling.rows([], 5 * S, complete=True)) == []
    (end,) = telling.end()
    assert end.model_dump() == {"line": "end", "version": 1, "t_s": 0.0, "why": "not recorded"}
