"""The writing end: what is on the disk, under which mode, and what is refused."""

import sqlite3
import stat
import threading
from collections.abc import Callable
from pathlib import Path

import pytest

from monitor.clock import Stamp
from monitor.errors import BadJournal
from monitor.incident.rows import Row, RowKind, Standing
from monitor.journal.making import wal_path
from monitor.journal.reader import JournalReader
from monitor.journal.schema import Header
from monitor.journal.verify import verify_digest
from monitor.journal.writer import JournalWriter, tidy

Writing = Callable[..., JournalWriter]
Frames = Callable[..., list[Row]]


def test_batches_are_numbered_and_carry_the_three_clocks(begin: Writing, frames: Frames) -> None:
    writer = begin()
    assert writer.commit(frames(3), 5_000_000, Stamp(11, 22)) == 3
    assert writer.commit([], 6_000_000, Stamp(12, 23)) == 3
    last = writer.last
    assert last[:-1] == (2, 1, 3, 6_000_000, 12, 23)
    assert len(last.digest) == 16


def test_the_file_and_what_lies_beside_it_are_for_the_owner_only(
    begin: Writing, path: Path, frames: Frames
) -> None:
    begin().commit(frames(1), 0, Stamp(1, 1))
    there = sorted(path.parent.iterdir())
    assert [p.name for p in there] == [path.name, path.name + "-shm", path.name + "-wal"]
    assert {stat.S_IMODE(p.stat().st_mode) for p in there} == {0o600}


def test_closing_an_incident_leaves_one_plain_file(
    begin: Writing, path: Path, frames: Frames
) -> None:
    writer = begin()
    writer.commit(frames(10), 10_000_000, Stamp(1, 1))
    assert writer.close(final=True)
    assert list(path.parent.iterdir()) == [path]
    # Byte 18 of the file: 1 is the plain journal mode, 2 the write-ahead log (SQLite file format).
    assert path.read_bytes()[18] == 1
    with JournalReader(path) as reader:
        assert len(reader.read(0).rows) == 10


def test_a_reader_that_holds_on_delays_the_one_file_and_tidy_makes_it_later(
    begin: Writing, path: Path, frames: Frames
) -> None:
    writer = begin()
    writer.commit(frames(10), 10_000_000, Stamp(1, 1))
    with JournalReader(path) as reader:
        assert not writer.close(final=True, wait_s=0.1)
        assert len(reader.read(0).rows) == 10
    assert tidy(path)
    assert list(path.parent.iterdir()) == [path]


@pytest.mark.parametrize(("signal_dbm", "most"), [(None, 70), (-71, 72)])
def test_5000_frames_of_46_bytes_in_batches_of_100_take_little_more_than_themselves(
    begin: Writing,
    path: Path,
    frames: Frames,
    fill: Callable[..., list[Row]],
    signal_dbm: int | None,
    most: int,
) -> None:
    # 46 of frame, 6 of time, 1 of level, 11 of SQLite's heads, 2 in the page's list: 66 a row, of
    # which 30 fit a page of 2,048; without a level 31. A few pages more for everything else.
    writer = begin()
    # About the size of an opening row with a whole procedure in it.
    writer.commit([Row(0, RowKind.FACT, b"{" + b"x" * 1_500 + b"}")], 0, Stamp(1, 1))
    rows = frames(5_000, first_t=10**13)
    for row in rows:
        row.signal_dbm = signal_dbm
    fill(writer, rows)
    assert writer.close(final=True)
    assert path.stat().st_size / 5_000 <= most


@pytest.mark.parametrize("standing", list(Standing))
@pytest.mark.parametrize("kind", list(RowKind))
def test_every_kind_and_standing_comes_back(
    begin: Writing, path: Path, kind: RowKind, standing: Standing
) -> None:
    row = Row(7, kind, b"\x00\xff", 255, 123_456_789, standing, -101)
    begin().commit([row], 8, Stamp(1, 1))
    with JournalReader(path) as reader:
        (back,) = reader.read(0).rows
    assert back == row
    assert type(back.kind) is RowKind
    assert type(back.standing) is Standing


def test_it_is_never_written_over(begin: Writing, path: Path, header: Header) -> None:
    begin()
    with pytest.raises(BadJournal, match="there is a file already"):
        JournalWriter.create(path, header)


def test_no_place_for_it(tmp_path: Path, header: Header) -> None:
    with pytest.raises(BadJournal, match="cannot be made"):
        JournalWriter.create(tmp_path / "none" / "j", header)


def test_going_on_keeps_numbers_and_begins_a_session(
    begin: Writing, path: Path, frames: Frames
) -> None:
    first = begin()
    first.commit(frames(3), 3_000_000, Stamp(10, 20))
    first.close(final=False)
    writer = JournalWriter.open(path)
    assert (writer.last.last_row, writer.last.horizon, writer.last.session) == (3, 3_000_000, 1)
    session = writer.begin_session("boot two", -7, 99, "outby later")
    writer.commit([], 4_000_000, Stamp(30, 40))
    writer.close(final=False)
    with JournalReader(path) as reader:
        assert reader.sessions() == [(1, "boot one", 500, 1_000, "outby test"), session]
        assert reader.last_batch()[:-1] == (2, 2, 3, 4_000_000, 30, 40)


def test_a_session_is_begun_before_anything_is_committed(
    path: Path, header: Header, frames: Frames
) -> None:
    writer = JournalWriter.create(path, header)
    with pytest.raises(AssertionError, match="begin_session"):
        writer.commit(frames(1), 0, Stamp(1, 1))
    writer.close(final=False)


@pytest.mark.parametrize(
    ("times", "horizon", "why"),
    [
        ([12, 11], 20, "order of time"),
        ([10], 20, "between horizons"),
        ([21], 20, "between horizons"),
        ([], 9, "never goes back"),
    ],
)
def test_rows_out_of_order_are_a_fault_of_ours(
    begin: Writing, times: list[int], horizon: int, why: str
) -> None:
    writer = begin()
    writer.commit([], 10, Stamp(1, 1))
    with pytest.raises(AssertionError, match=why):
        writer.commit([Row(t, RowKind.FRAME, b"x") for t in times], horizon, Stamp(1, 1))


def test_a_commit_that_fails_leaves_nothing_and_can_be_asked_again(
    begin: Writing, path: Path, frames: Frames
) -> None:
    writer = begin()
    rows = frames(200)
    writer.commit(rows[:100], rows[99].t, Stamp(1, 1))
    pages = writer._connection.execute("PRAGMA page_count").fetchall()[0][0]
    writer._connection.execute(f"PRAGMA max_page_count={pages}").fetchall()
    for _ in range(2):
        with pytest.raises(BadJournal, match="the disk is full"):
            writer.commit(rows[100:], rows[199].t, Stamp(2, 2))
    with JournalReader(path) as reader:
        assert reader.read(0).last_row == 100
    writer._connection.execute("PRAGMA max_page_count=1000000").fetchall()
    assert writer.commit(rows[100:], rows[199].t, Stamp(3, 3)) == 200


def test_the_wrong_key_is_told_at_once(begin: Writing, path: Path) -> None:
    begin(b"k" * 32).close(final=False)
    for key, why in ((b"", "with a fleet key"), (b"x" * 32, "with another fleet key")):
        with pytest.raises(BadJournal, match=why):
            JournalWriter.open(path, key)
    JournalWriter.open(path, b"k" * 32).close(final=False)


def test_a_key_for_an_open_journal_is_refused(begin: Writing, path: Path) -> None:
    begin().close(final=False)
    with pytest.raises(BadJournal, match="without a fleet key"):
        JournalWriter.open(path, b"k" * 32)


def test_the_disk_is_behind_until_the_thread_has_synced(begin: Writing, frames: Frames) -> None:
    writer = begin()
    assert writer.disk_behind_ns(10**9) == 0
    writer.commit(frames(1), 0, Stamp(100, 1))
    assert writer.disk_behind_ns(350) in {0, 250}
    writer._syncer.stop()
    assert writer.disk_behind_ns(350) == 0
    assert writer._syncer.syncs == 1
    assert writer.sync_fault == ""


def test_a_checkpoint_waits_until_it_is_worth_it_and_empties_the_log(
    begin: Writing, path: Path, frames: Frames, fill: Callable[..., list[Row]]
) -> None:
    writer = begin()
    rows = fill(writer, frames(1_000))
    assert not writer.checkpoint_if_quiet()
    while writer.wal_bytes() < 2 * 1024 * 1024:
        rows = fill(writer, frames(1_000, first_t=rows[-1].t + 1))
    assert writer.checkpoint_if_quiet()
    writer.commit([], rows[-1].t, Stamp(1, 1))
    # A log that starts anew is cut: 32 bytes of its head, and 24 before each page (SQLite format).
    assert writer.wal_bytes() == wal_path(path).stat().st_size == 32 + 24 + 2048


def test_tables_are_those_of_the_format_document(begin: Writing, path: Path) -> None:
    begin()
    text = (Path(__file__).parents[3] / "monitor/journal/JOURNAL-FORMAT.md").read_text("utf-8")
    connection = sqlite3.connect(path)
    tables = [sql for (sql,) in connection.execute("SELECT sql FROM sqlite_schema WHERE sql != ''")]
    connection.close()
    assert len(tables) == 4
    for sql in tables:
        assert sql in text


def test_a_file_without_batches_is_not_gone_on_with(begin: Writing, path: Path) -> None:
    begin().close(final=True)
    connection = sqlite3.connect(path)
    connection.execute("DELETE FROM batches")
    connection.commit()
    connection.close()
    with pytest.raises(BadJournal, match="no batch"):
        JournalWriter.open(path)


def test_what_a_killed_recorder_left_half_made_is_made_anew(tmp_path: Path, header: Header) -> None:
    path, left = tmp_path / "kiln.journal", tmp_path / "kiln.journal.making"
    left.write_bytes(b"half a journal")
    JournalWriter.create(path, header).close(final=True)
    assert not left.exists()
    assert verify_digest(path) is None


def test_nobody_sees_a_journal_half_made(tmp_path: Path, header: Header) -> None:
    """Whoever finds the name finds a journal: looked for without a pause while 20 are made."""
    paths = [tmp_path / f"{number}.journal" for number in range(20)]

    def make() -> None:
        for path in paths:
            JournalWriter.create(path, header).close(final=False)

    maker = threading.Thread(target=make)
    maker.start()
    for path in paths:
        while not path.exists():
            assert maker.is_alive() or path.exists()
        with JournalReader(path) as reader:
            assert reader.header().incident == header.incident
    maker.join()


def test_a_new_journal_takes_nothing_from_the_log_of_one_that_had_its_name(
    begin: Writing, path: Path, frames: Frames
) -> None:
    """Killed, and its file moved away without its log, which may be the only place of its rows."""
    old = begin()
    old.commit(frames(3), 5_000_000, Stamp(11, 22))
    log = wal_path(path).read_bytes()
    path.unlink()
    header = Header(
        fold=1, software="outby test", incident="1" * 32, use="exercise", opened_wall_ns=9_000
    )
    new = JournalWriter.create(path, header)
    assert (new.stored["incident"], new.last.last_row) == ("1" * 32, 0)
    new.begin_session("boot two", 500, 9_000, "outby test")
    new.commit(frames(1), 6_000_000, Stamp(12, 23))
    new.close(final=True)
    old.close(final=False)
    assert verify_digest(path) is None
    assert wal_path(path).with_name(wal_path(path).name + ".1").read_bytes() == log


def test_nothing_is_made_in_place_of_a_link_that_leads_nowhere(path: Path) -> None:
    path.symlink_to(path.with_name("nowhere"))
    header = Header(
        fold=1, software="outby test", incident="1" * 32, use="exercise", opened_wall_ns=9_000
    )
    with pytest.raises(BadJournal, match="already"):
        JournalWriter.create(path, header)
    assert path.is_symlink()


def test_the_copy_of_a_journal_that_was_deleted_leaves_nothing_of_its_log(
    begin: Writing, frames: Frames, path: Path
) -> None:
    """All of it is in the copy; the log of any other journal is kept."""
    writer = begin()
    rows = frames(10)
    writer.commit(rows, rows[-1].t, Stamp(1, 1))
    path.unlink()
    copy = writer.copied_to(path)
    assert copy is not None
    assert copy.last == writer.last
    assert [one.name for one in path.parent.iterdir() if "-wal." in one.name] == []
    copy.close(final=False)
    writer.close(final=False)
