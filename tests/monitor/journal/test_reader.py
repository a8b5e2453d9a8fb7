"""The reading end: complete, bounded, and out of the recorder's way."""

import shutil
import sqlite3
from collections.abc import Callable
from pathlib import Path
from random import Random

import pytest

from monitor.clock import Stamp
from monitor.errors import BadJournal
from monitor.incident.rows import Row, RowKind
from monitor.journal.making import wal_path
from monitor.journal.reader import JournalReader
from monitor.journal.schema import ROWS_A_STEP_MAX, Header
from monitor.journal.verify import verify_digest
from monitor.journal.writer import JournalWriter

Writing = Callable[..., JournalWriter]
Frames = Callable[..., list[Row]]
Filling = Callable[..., list[Row]]


def _all_rows(reader: JournalReader, limit: int = ROWS_A_STEP_MAX) -> list[Row]:
    rows: list[Row] = []
    while True:
        step = reader.read(len(rows), limit)
        rows += step.rows
        if step.complete:
            return rows


def test_two_readers_see_the_same_however_they_step(
    begin: Writing, path: Path, frames: Frames, fill: Filling
) -> None:
    rows = fill(begin(), frames(4_321), size=77)
    with JournalReader(path) as one, JournalReader(path) as two:
        assert _all_rows(one) == _all_rows(two, limit=13) == rows


def test_a_step_is_bounded_and_says_how_far_it_is_whole(
    begin: Writing, path: Path, frames: Frames, fill: Filling
) -> None:
    rows = fill(begin(), frames(2_500))
    with JournalReader(path) as reader:
        first = reader.read(0, 1_000_000)
        assert (len(first.rows), first.last_row, first.complete) == (2_000, 2_000, False)
        # Row 2,001 could have the time of row 2,000; so the horizon lies just before that.
        assert first.horizon == rows[1_999].t - 1
        second = reader.read(first.last_row)
        assert (len(second.rows), second.last_row, second.complete) == (500, 2_500, True)
        assert second.horizon == rows[-1].t


def test_a_new_journal_has_no_rows_and_no_horizon(begin: Writing, path: Path) -> None:
    begin()
    with JournalReader(path) as reader:
        step = reader.read(0)
    assert (step.rows, step.last_row, step.horizon, step.complete) == ([], 0, -1, True)


def test_a_commit_without_rows_moves_the_horizon(begin: Writing, path: Path) -> None:
    writer = begin()
    with JournalReader(path) as reader:
        assert reader.changed()
        assert not reader.changed()
        writer.commit([], 250, Stamp(1, 1))
        assert reader.changed()
        assert reader.read(0).horizon == 250
        assert not reader.changed()


def test_header_and_sessions(begin: Writing, path: Path, header: Header) -> None:
    writer = begin()
    writer.commit([], 1, Stamp(1, 1))
    with JournalReader(path) as reader:
        assert reader.header() == header
        assert reader.sessions() == [(1, "boot one", 500, 1_000, "outby test")]
        assert reader.last_batch() == writer.last


def test_a_reader_never_pins_the_log(
    begin: Writing, path: Path, frames: Frames, fill: Filling
) -> None:
    """With it open and read from, a checkpoint that starts the log anew gets through."""
    writer = begin()
    rows = fill(writer, frames(5_000))
    with JournalReader(path) as reader:
        assert reader.changed()
        reader.read(0)
        reader.read(2_000)
        reader.last_batch()
        reader.sessions()
        found = writer._connection.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchall()
        # Busy 0: no reader stood in the way.
        assert found == [(0, 0, 0)]
        assert wal_path(path).stat().st_size == 0
        assert _all_rows(reader) == rows


def test_the_log_stays_small_beside_a_polling_reader(
    begin: Writing, path: Path, frames: Frames, fill: Filling
) -> None:
    writer = begin()
    after, peak = 0, 0
    with JournalReader(path) as reader:
        for n in range(300):
            fill(writer, frames(100, first_t=n * 10**9, rng=Random(n)))
            writer.checkpoint_if_quiet()
            after = reader.read(after).last_row
            peak = max(peak, writer.wal_bytes())
    assert after == 30_000
    # 30,000 rows are about 2 MB, and four times that in the log; it was cut again and again.
    assert peak < 3 * 1024 * 1024


def test_a_reader_cannot_write(begin: Writing, path: Path) -> None:
    begin()
    with JournalReader(path) as reader, pytest.raises(sqlite3.OperationalError, match="readonly"):
        reader._connection.execute("DELETE FROM batches")


def _copy(path: Path, to: Path, wal_bytes: int) -> Path:
    """As a loss of power leaves it: the file, and as much of the log as reached the disk."""
    shutil.copy(path, to)
    wal_path(to).write_bytes(wal_path(path).read_bytes()[:wal_bytes])
    return to


def test_a_log_cut_anywhere_leaves_whole_batches(
    begin: Writing, path: Path, frames: Frames, fill: Filling, tmp_path: Path
) -> None:
    rows = fill(begin(), frames(60), size=6)
    size = wal_path(path).stat().st_size
    cuts = [*sorted(Random(5).sample(range(size + 1), 40)), size]
    kept = []
    for n, cut in enumerate(cuts):
        cut_path = _copy(path, tmp_path / f"cut {n}", cut)
        with JournalReader(cut_path) as reader:
            back = _all_rows(reader)
            assert reader.last_batch().last_row == len(back)
        assert back == rows[: len(back)]
        assert len(back) % 6 == 0
        assert verify_digest(cut_path) is None
        kept.append(len(back))
    assert kept == sorted(kept)
    assert kept[-1] == 60
    assert len(set(kept)) > 5


def test_recording_goes_on_after_a_cut(
    begin: Writing, path: Path, frames: Frames, fill: Filling, tmp_path: Path
) -> None:
    rows = fill(begin(), frames(60), size=6)
    cut_path = _copy(path, tmp_path / "cut", wal_path(path).stat().st_size - 10)
    writer = JournalWriter.open(cut_path)
    assert writer.last.last_row == 54
    writer.begin_session("boot two", 0, 0, "outby test")
    fill(writer, rows[54:])
    assert writer.close(final=True)
    with JournalReader(cut_path) as reader:
        assert _all_rows(reader) == rows
    assert verify_digest(cut_path) is None


@pytest.mark.parametrize("content", [b"", b"not a database, but text that is long enough" * 100])
def test_another_kind_of_file(path: Path, content: bytes) -> None:
    path.write_bytes(content)
    with pytest.raises(BadJournal, match="not a journal") as caught:
        JournalReader(path)
    assert caught.value.where == str(path)
    assert path.read_bytes() == content


def test_another_programs_database_is_left_alone(path: Path) -> None:
    connection = sqlite3.connect(path)
    connection.execute("CREATE TABLE rows(id INTEGER PRIMARY KEY)")
    connection.commit()
    connection.close()
    before = path.read_bytes()
    for opening in (JournalReader, JournalWriter.open):
        with pytest.raises(BadJournal, match="not a journal"):
            opening(path)
    assert path.read_bytes() == before


def test_a_newer_format_is_refused(begin: Writing, path: Path) -> None:
    begin().close(final=True)
    connection = sqlite3.connect(path)
    connection.execute("PRAGMA user_version=2")
    connection.close()
    with pytest.raises(BadJournal, match="format 2, this program knows up to 1") as caught:
        JournalReader(path)
    assert "newer version" in caught.value.to_do


def test_no_such_file(path: Path) -> None:
    with pytest.raises(BadJournal, match="no such journal"):
        JournalReader(path)
    assert not path.exists()


@pytest.mark.parametrize(
    ("damage", "match"),
    [
        ("DELETE FROM rows WHERE id = 3", "rows are missing after row 0"),
        ("UPDATE rows SET kind = 9 WHERE id = 3", "unknown kind 9"),
        ("DELETE FROM batches", "missing"),
    ],
)
def test_damage_is_told_not_shown(
    begin: Writing, path: Path, frames: Frames, fill: Filling, damage: str, match: str
) -> None:
    writer = begin()
    fill(writer, frames(10))
    writer.close(final=True)
    connection = sqlite3.connect(path)
    connection.execute(damage)
    connection.commit()
    connection.close()
    with JournalReader(path) as reader, pytest.raises(BadJournal, match=match):
        reader.read(0)


def test_a_header_that_is_not_right(begin: Writing, path: Path) -> None:
    begin().close(final=True)
    connection = sqlite3.connect(path)
    connection.execute("UPDATE header SET value = 'rehearsal' WHERE key = 'use'")
    connection.commit()
    connection.close()
    with pytest.raises(BadJournal, match="header is not right"):
        JournalReader(path)


def test_a_kind_of_row_by_hand(begin: Writing, path: Path) -> None:
    """The query that the format document shows, against a fact and a frame."""
    begin().commit(
        [Row(0, RowKind.FACT, b'{"what":"opened"}'), Row(5, RowKind.FRAME, b"x")], 9, Stamp(1, 1)
    )
    connection = sqlite3.connect(path)
    query = "SELECT t, json_extract(data, '$.what') FROM rows WHERE kind & 15 IN (2, 3)"
    assert connection.execute(query).fetchall() == [(0, "opened")]
    connection.close()


def test_one_commit_and_the_first_that_reaches_a_row(
    begin: Writing, path: Path, frames: Callable[..., list[Row]]
) -> None:
    """Commits of 2, 0 and 3 rows: numbers 1, 2 and 3."""
    writer = begin()
    rows = frames(5)
    for some, horizon in ((rows[:2], rows[1].t), (rows[2:2], rows[1].t + 1), (rows[2:], rows[4].t)):
        writer.commit(some, horizon, Stamp(horizon, horizon))
    with JournalReader(path) as reader:
        second = reader.batch(2)
        assert second is not None
        assert (second.batch, second.last_row, second.horizon) == (2, 2, rows[1].t + 1)
        assert reader.batch(4) is None
        reaching = [
            found.batch if (found := reader.first_batch_reaching(row, after)) else None
            for row, after in ((1, 0), (2, 0), (2, 1), (3, 0), (5, 2), (5, 3), (6, 0))
        ]
    assert reaching == [1, 1, 2, 3, 3, None, None]
