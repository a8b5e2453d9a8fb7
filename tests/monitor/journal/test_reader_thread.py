"""Reading in a thread: every row once and in order, and nobody waits for the disk."""

import threading
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from pathlib import Path
from typing import Any

import pytest

from monitor.clock import Clock
from monitor.incident.rows import Row
from monitor.journal.reader import JournalReader, Slice
from monitor.journal.reader_thread import ReaderThread
from monitor.journal.writer import JournalWriter

WAIT_S = 10.0
MS = 1_000_000
Reading = Callable[..., ReaderThread]


@pytest.fixture
def reading(path: Path) -> Iterator[Reading]:
    with ExitStack() as stack:

        def make(after: int = 0, reader: JournalReader | None = None) -> ReaderThread:
            thread = ReaderThread(path, after, Clock(), reader)
            thread.start()
            stack.callback(thread._thread.join, WAIT_S)
            stack.callback(thread.stop)
            return thread

        yield make


def wait_for(whole: Callable[[], bool]) -> None:
    for _ in range(1_000):
        if whole():
            return
        threading.Event().wait(0.01)
    pytest.fail("it did not come")


def all_of(thread: ReaderThread, rows: int) -> list[Slice]:
    """Take until so many rows have come."""
    taken: list[Slice] = []

    def whole() -> bool:
        taken.extend(thread.take(taken[-1].last_row if taken else 0))
        return sum(len(one.rows) for one in taken) >= rows

    wait_for(whole)
    return taken


def test_every_row_comes_once_and_in_order(
    begin: Any, fill: Any, frames: Any, reading: Reading
) -> None:
    writer = begin()
    rows = fill(writer, frames(9_000), 1_000)
    thread = reading()
    taken = all_of(thread, 9_000)
    assert [row for one in taken for row in one.rows] == rows
    assert max(len(one.rows) for one in taken) == 2_000
    more = fill(writer, frames(10, 9_001 * MS))
    assert [row for one in all_of(thread, 10) for row in one.rows] == more


def test_it_reads_ahead_only_a_little(begin: Any, fill: Any, frames: Any, reading: Reading) -> None:
    fill(begin(), frames(20_000), 5_000)
    thread = reading()
    wait_for(lambda: len(thread._slices) == 2)
    threading.Event().wait(0.1)
    assert sum(len(one.rows) for one in thread.take(0)) == 4_000


def test_a_file_that_comes_later_is_found(
    begin: Any, fill: Any, frames: Any, reading: Reading
) -> None:
    thread = reading()
    assert thread.take(0) == []
    assert thread.fault is None
    rows: list[Row] = fill(begin(), frames(5))
    assert [row for one in all_of(thread, 5) for row in one.rows] == rows


def test_rows_known_from_elsewhere_are_not_read_again(
    begin: Any, fill: Any, frames: Any, reading: Reading
) -> None:
    writer = begin()
    fill(writer, frames(10))
    thread = reading(after=8)
    assert sum(len(one.rows) for one in all_of(thread, 2)) == 2
    thread.take(15)
    rows = fill(writer, frames(10, 11 * MS))
    assert [row for one in all_of(thread, 5) for row in one.rows] == rows[5:]


def test_a_file_that_is_no_journal_is_a_fault_until_it_is_one(
    begin: Any, fill: Any, frames: Any, reading: Reading, path: Path
) -> None:
    path.write_bytes(b"not a journal at all" * 100)
    thread = reading()
    wait_for(lambda: thread.fault is not None)
    path.unlink()
    fill(begin(), frames(5))
    all_of(thread, 5)
    assert thread.fault is None


def test_one_that_rests_lets_the_file_go_and_goes_on_where_it_was(
    begin: Any, fill: Any, frames: Any, reading: Reading
) -> None:
    writer = begin()
    fill(writer, frames(10))
    thread = reading()
    all_of(thread, 10)
    thread.rests = True
    wait_for(lambda: thread._reader is None)
    # Closed for good while nobody has it open: one plain file is left.
    assert writer.close(final=True)
    thread.rests = False
    more = JournalWriter.open(writer.path)
    fill_more = frames(5, 11 * MS)
    more.begin_session("boot two", 1, 1, "outby test")
    fill(more, fill_more)
    assert [row for one in all_of(thread, 5) for row in one.rows] == fill_more
    more.close(final=False)


def test_another_batch_under_a_known_number_is_told(
    begin: Any, fill: Any, frames: Any, reading: Reading
) -> None:
    writer = begin()
    fill(writer, frames(10), 5)
    same, thread = reading(), reading()
    with JournalReader(writer.path) as reader:
        last = reader.last_batch()
    same.expect(last)
    thread.expect(last._replace(digest=b"another digest!!"))
    fill(writer, frames(5, 11 * MS), 5)
    wait_for(lambda: thread.differs)
    wait_for(lambda: same._ahead is None)
    assert not same.differs


class SlowReader(JournalReader):
    """Its disk hangs until it is let go."""

    let_go: threading.Event

    def changed(self) -> bool:
        self.let_go.wait(WAIT_S)
        return super().changed()


def test_a_disk_that_hangs_keeps_nobody_and_is_told_after_a_second(
    begin: Any, fill: Any, frames: Any, reading: Reading, path: Path
) -> None:
    fill(begin(), frames(5))
    reader = SlowReader(path)
    reader.let_go = threading.Event()
    thread = reading(reader=reader)
    assert thread.take(0) == []
    assert not thread.hangs()
    wait_for(thread.hangs)
    reader.let_go.set()
    all_of(thread, 5)
    assert not thread.hangs()
