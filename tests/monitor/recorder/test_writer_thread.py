"""The thread that has the disk: what it is given comes into the journal, whatever the disk does."""

import threading
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

import pytest

from monitor.clock import Stamp
from monitor.errors import BadJournal
from monitor.incident.rows import Row, RowKind
from monitor.journal.ballast import Ballast
from monitor.journal.connection import DiskFull
from monitor.journal.reader import JournalReader
from monitor.journal.schema import Header
from monitor.journal.sealing import Sealed
from monitor.journal.verify import verify_digest
from monitor.journal.writer import JournalWriter
from monitor.recorder.writer_thread import ROWS_A_COMMIT_MAX, WriterThread

WAIT_S = 10.0
MS = 1_000_000
S = 1_000_000_000


class Disk(JournalWriter):
    """A journal whose disk hangs, refuses, or takes a commit and says that it failed."""

    hangs: threading.Event | None = None
    refusals: tuple[str, ...] = ()
    lies = 0
    commits: list[int]

    def write(self, batches: Sequence[Sealed]) -> None:
        if self.hangs is not None:
            self.hangs.wait(WAIT_S)
        if self.refusals:
            fault, *rest = self.refusals
            self.refusals = tuple(rest)
            kind = DiskFull if "full" in fault else BadJournal
            raise kind(fault, str(self.path), "free some space")
        super().write(batches)
        self.commits.append(len(batches))
        if self.lies:
            self.lies -= 1
            raise BadJournal("the disk reports a fault", str(self.path), "check the disk")


class Given:
    """A thread with its disk, and batches for it."""

    def __init__(self, path: Path, ballast: Ballast | None = None) -> None:
        header = Header(
            fold=1, software="outby test", incident="0" * 32, use="exercise", opened_wall_ns=1_000
        )
        self.path = path
        self.disk = Disk.create(path, header)
        self.disk.commits = []
        self.disk.begin_session("boot one", 500, 1_000, "outby test")
        self.told = threading.Event()
        self.thread = WriterThread(lambda: self.disk, 0, lambda: 10 * S, ballast)
        self.t = 0

    def put(self, rows: int = 1) -> None:
        first = self.t + 1
        self.t += max(rows, 1)
        made = [Row(first + n, RowKind.FRAME, b"frame", 1) for n in range(rows)]
        self.thread.put(self.disk.sealer.seal(made, self.t, Stamp(self.t, self.t)))

    def wait(self, whole: Callable[[], bool]) -> None:
        for _ in range(int(WAIT_S)):
            self.told.clear()
            if whole():
                return
            self.told.wait(1.0)
        pytest.fail(f"not within {WAIT_S} s; last seen: {self.thread.seen}")

    def start(self) -> None:
        self.thread.start(self.told.set)

    def end(self) -> None:
        self.thread.end(final=False)
        assert self.thread.ended(WAIT_S)

    def rows(self) -> int:
        with JournalReader(self.path) as reader:
            return reader.last_batch().last_row


@pytest.fixture
def given(tmp_path: Path) -> Iterator[Given]:
    made = Given(tmp_path / "one.journal")
    yield made
    made.thread.end(final=False)
    if made.thread._thread.ident:
        made.thread.ended(WAIT_S)


def test_what_is_put_comes_into_the_journal_and_is_told(given: Given) -> None:
    given.start()
    for _ in range(5):
        given.put(3)
    given.wait(lambda: given.thread.seen.written == 5)
    assert given.thread.oldest() is None
    given.end()
    assert given.rows() == 15
    assert verify_digest(given.path) is None


def test_a_disk_that_hangs_keeps_nobody_and_takes_all_at_once_when_it_is_back(
    given: Given,
) -> None:
    given.disk.hangs = threading.Event()
    given.start()
    for _ in range(100):
        given.put()
    assert given.thread.seen.written == 0
    oldest = given.thread.oldest()
    assert oldest is not None
    assert oldest.batch.batch == 1
    assert len(given.thread.waiting()) == 100
    given.disk.hangs.set()
    given.wait(lambda: given.thread.seen.written == 100)
    given.end()
    assert given.rows() == 100
    # The first commit hung with what there was; the second took all the rest.
    assert len(given.disk.commits) <= 2
    assert verify_digest(given.path) is None


def test_so_many_rows_go_into_one_commit_and_no_more(given: Given) -> None:
    for _ in range(5):
        given.put(ROWS_A_COMMIT_MAX // 2)
    given.start()
    given.wait(lambda: given.thread.seen.written == 5)
    assert given.disk.commits == [2, 2, 1]


def test_a_disk_that_refuses_is_told_with_its_words_and_tried_again(given: Given) -> None:
    given.disk.refusals = ("no such luck", "no such luck")
    given.put()
    given.start()
    given.wait(lambda: "no such luck" in given.thread.seen.fault)
    given.put()
    given.wait(lambda: given.thread.seen.written == 2 and not given.thread.seen.fault)
    given.end()
    assert given.rows() == 2


def test_a_commit_that_seemed_to_fail_is_not_made_twice(given: Given) -> None:
    given.disk.lies = 1
    given.put(2)
    given.start()
    given.put(3)
    given.wait(lambda: given.thread.seen.written == 2)
    given.end()
    assert given.rows() == 5
    assert verify_digest(given.path) is None


def test_a_full_disk_is_given_the_reserve_at_once(tmp_path: Path) -> None:
    path = tmp_path / "one.journal"
    ballast = Ballast(path, 4_096)
    assert ballast.take()
    ballast.take_again = lambda: False  # type: ignore[method-assign]
    given = Given(path, ballast)
    given.disk.refusals = ("the disk is full",)
    given.put()
    given.start()
    given.wait(lambda: given.thread.seen.written == 1)
    assert given.thread.seen.was_full
    assert not given.thread.seen.reserve
    given.end()


def test_whatever_goes_wrong_with_a_disk_the_thread_lives_on(given: Given) -> None:
    def fail() -> str:
        raise PermissionError(13, "Permission denied")

    given.disk.lost = fail  # type: ignore[method-assign]
    given.put()
    given.start()
    given.wait(lambda: "Permission denied" in given.thread.seen.fault)
    given.put()
    given.wait(lambda: given.thread.seen.written == 2)


def test_a_file_that_vanishes_is_told(given: Given) -> None:
    given.path.rename(given.path.with_name("elsewhere"))
    given.put()
    given.start()
    given.wait(lambda: "moved or deleted" in given.thread.seen.gone)


def test_at_the_end_what_waits_is_written_first(given: Given) -> None:
    for _ in range(4):
        given.put(ROWS_A_COMMIT_MAX)
    given.start()
    given.end()
    assert given.rows() == 4 * ROWS_A_COMMIT_MAX


def test_a_disk_that_hangs_keeps_nobody_from_leaving(given: Given) -> None:
    given.disk.hangs = threading.Event()
    given.put()
    given.start()
    given.thread.end(final=True)
    assert not given.thread.ended(0.01)
    given.disk.hangs.set()
    assert given.thread.ended(WAIT_S)
