"""Journal and second place: nothing is lost, whatever the disk does, and it is told."""

import os
import shutil
import threading
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Any

import pytest

from monitor.clock import Stamp
from monitor.errors import BadJournal
from monitor.incident.rows import Row, RowKind
from monitor.journal import spill
from monitor.journal.ballast import Ballast
from monitor.journal.making import wal_path
from monitor.journal.reader import JournalReader
from monitor.journal.schema import Header
from monitor.journal.sealing import Sealed
from monitor.journal.verify import verify_digest
from monitor.journal.writer import JournalWriter
from monitor.recorder.places import SPILL_NS, WELL_NS, Places

WAIT_S = 10.0
MS = 1_000_000
S = 1_000_000_000


class Disk(JournalWriter):
    """Hangs, or refuses, while it is told to."""

    free: threading.Event
    refuses = ""
    takes: Callable[[], None] = staticmethod(lambda: None)
    """Lets time go by with each commit."""

    def write(self, batches: Sequence[Sealed]) -> None:
        self.free.wait(WAIT_S)
        self.takes()
        if self.refuses:
            raise BadJournal(self.refuses, str(self.path), "see to the disk")
        super().write(batches)


class Given:
    """Two places, and a clock moved by hand."""

    def __init__(
        self, folder: Path, *, second: bool = True, seconds: Sequence[spill.Spill] = ()
    ) -> None:
        header = Header(
            fold=1, software="outby test", incident="0" * 32, use="exercise", opened_wall_ns=1_000
        )
        self.path, self.second = folder / "one.journal", folder / "elsewhere" / "one.spill"
        self.second.parent.mkdir(parents=True)
        self.disk = Disk.create(self.path, header)
        self.disk.free = threading.Event()
        self.disk.free.set()
        self.disk.begin_session("boot one", 500, 1_000, "outby test")
        self.now = 10 * S
        ballast = Ballast(self.path, 4_096)
        places = seconds or ([spill.Spill(self.second)] if second else [])
        self.places = Places(self.disk, ballast, places, lambda: self.now)
        self.told = threading.Event()
        self.places.start(self.told.set)
        self.t = self.made = 0
        self.facts: list[str] = []

    def put(self, rows: int = 1, after_ns: int = 50 * MS) -> None:
        self.now += after_ns
        first = self.t + 1
        self.t += max(rows, 1)
        made = [Row(first + n, RowKind.FRAME, f"row {first + n}".encode(), 1) for n in range(rows)]
        self.places.put(self.places.sealer.seal(made, self.t, Stamp(self.now, self.now)))
        self.made += 1
        self.places.look(self.now)
        self.facts += [fact.state for fact in self.places.take_news()]

    def live(self, ns: int) -> None:
        """A row every 50 ms."""
        for _ in range(ns // (50 * MS)):
            self.put()

    def steady(self, ns: int) -> None:
        """The same, on a disk that is well: each is in the journal before the next."""
        for _ in range(ns // (50 * MS)):
            self.put()
            self.wait(lambda: self.places.journal.seen.written == self.made)

    def wait(self, whole: Callable[[], bool]) -> None:
        for _ in range(1_000):
            if whole():
                return
            self.told.wait(0.01)
            self.told.clear()
        pytest.fail(f"it did not come; {self.places.journal.seen}")

    def safe(self) -> None:
        """Wait until everything is in one of the places."""
        self.wait(lambda: self.places.written == self.made)

    def end(self) -> None:
        self.places.end(final=False)
        self.places.ended(WAIT_S)

    def whole(self) -> list[bytes]:
        """What the journal holds once the spill, if there is one, is merged."""
        # As the next process finds it: without what this one has open.
        path = self.path.with_name("found.journal")
        for ending in ("", "-wal"):
            if (there := self.path.with_name(self.path.name + ending)).exists():
                shutil.copy(there, path.with_name(path.name + ending))
        writer = JournalWriter.open(path)
        if self.second.exists():
            spill.merge(writer, self.second)
        writer.close(final=False)
        assert verify_digest(path) is None
        with JournalReader(path) as reader:
            last = reader.last_batch().last_row
            return [row.data for step in reader.steps(last) for row in step]

    def everything(self) -> list[bytes]:
        return [f"row {n}".encode() for n in range(1, self.t + 1)]


@pytest.fixture
def given(tmp_path: Path) -> Iterator[Given]:
    made = Given(tmp_path)
    yield made
    made.disk.free.set()
    made.end()


def test_on_a_disk_that_is_well_nothing_goes_elsewhere(given: Given) -> None:
    given.steady(5 * S)
    assert given.facts == ["ready"]
    given.end()
    assert list(given.second.parent.iterdir()) == []
    assert given.whole() == given.everything()


def test_a_disk_that_hangs_for_0_3_s_and_what_was_told_meanwhile(given: Given) -> None:
    given.steady(1 * S)
    given.disk.free.clear()
    given.live(SPILL_NS)
    assert given.places.spilling is None
    given.live(100 * MS)
    assert given.places.spilling == spill.Spill(given.second)
    given.safe()
    given.live(20 * S)
    given.safe()
    assert given.facts == ["ready", "in use"]
    with JournalReader(given.path) as reader:
        assert reader.last_batch().batch == 20
    # A reader finds every row behind the journal's in the spill, and its horizon.
    with JournalReader(given.second) as reader:
        assert reader.last_batch().last_row == given.t
        assert reader.read(20).rows[0].data == b"row 21"


@pytest.mark.parametrize(("takes_ms", "facts"), [(39, ["ready"]), (41, ["ready", "in use"])])
def test_a_disk_that_is_slow_commit_after_commit_keeps_no_screen(
    given: Given, takes_ms: int, facts: list[str]
) -> None:
    """Over 40 ms and 20 us a row five times in a row: then screens read the second place."""

    def take() -> None:
        given.now += takes_ms * MS

    given.disk.takes = take
    given.steady(4 * 50 * MS)
    given.disk.takes = lambda: None
    given.steady(100 * MS)
    assert given.facts == ["ready"]
    given.disk.takes = take
    given.steady(500 * MS)
    assert given.facts == facts
    given.disk.takes = lambda: None
    given.steady(WELL_NS + 200 * MS)
    assert given.facts == [*facts, *(["left"] if len(facts) > 1 else [])]
    given.end()
    given.wait(lambda: not given.second.exists())
    assert given.whole() == given.everything()


def test_when_the_disk_is_back_the_second_place_is_left_and_taken_away(given: Given) -> None:
    given.disk.free.clear()
    given.live(2 * S)
    given.safe()
    given.disk.free.set()
    given.wait(lambda: given.places.journal.seen.written == given.made)
    for _ in range(WELL_NS // (50 * MS) + 10):
        given.put()
        given.wait(lambda: given.places.journal.seen.written == given.made)
    assert given.facts == ["ready", "in use", "left"]
    given.wait(lambda: not given.second.exists())
    given.end()
    assert given.whole() == given.everything()


def test_it_is_used_again_for_the_next_hang(given: Given) -> None:
    for _ in range(3):
        given.disk.free.clear()
        given.live(1 * S)
        given.safe()
        given.disk.free.set()
        for _ in range(WELL_NS // (50 * MS) + 10):
            given.put()
            given.wait(lambda: given.places.journal.seen.written == given.made)
        retiring = given.places._seconds[0].retiring
        assert retiring is not None
        assert retiring.ended(WAIT_S)
    assert given.facts == ["ready", *(["in use", "left"] * 3)]


def test_a_recorder_that_was_stopped_does_not_blame_the_disk(given: Given) -> None:
    given.disk.free.clear()
    given.put()
    given.put(after_ns=30 * S)
    assert given.facts == ["ready"]
    given.disk.free.set()
    given.safe()


def test_a_disk_that_refuses_goes_the_same_way(given: Given) -> None:
    given.disk.refuses = "the disk reports a fault"
    given.live(1 * S)
    given.safe()
    assert given.facts == ["ready", "in use"]
    given.end()
    assert given.whole() == given.everything()


def test_without_a_second_place_rows_wait_in_memory_and_that_is_told(tmp_path: Path) -> None:
    given = Given(tmp_path, second=False)
    given.disk.free.clear()
    given.live(5 * S)
    assert given.facts == ["none"]
    assert given.places.written == 0
    given.disk.free.set()
    given.safe()
    given.end()
    assert given.whole() == given.everything()


def hung_at_the_end(given: Given) -> None:
    """The disk still hangs as the recorder ends."""
    given.steady(1 * S)
    given.disk.free.clear()
    given.live(100 * MS)
    given.places.begin()
    given.safe()
    given.places.end(final=True)
    assert not given.places.ended(0.05)


def test_at_the_end_what_waits_is_in_the_second_place(given: Given) -> None:
    hung_at_the_end(given)
    with JournalReader(given.second) as reader:
        assert reader.last_batch().last_row == given.t
    given.disk.free.set()
    given.end()
    assert given.whole() == given.everything()


class Slow(spill.Spill):
    """A second place whose disk hangs before the file is made."""

    free = threading.Event()

    def make(self, *args: Any, **named: Any) -> JournalWriter:
        self.free.wait(WAIT_S)
        return super().make(*args, **named)


def test_if_the_second_place_hangs_too_memory_has_everything(tmp_path: Path) -> None:
    memory = spill.Spill(tmp_path / "memory.spill", lasting=False)
    slow = Slow(tmp_path / "card.spill")
    given = Given(tmp_path, seconds=[slow, memory])
    given.disk.free.clear()
    given.live(3 * S)
    given.wait(lambda: given.places.written == given.made)
    assert given.places.lasting == 0
    given.put()
    given.wait(lambda: given.places.written == given.made)
    assert given.places.spilling == memory
    with JournalReader(memory.path) as reader:
        assert reader.last_batch().last_row == given.t
    slow.free.set()
    given.wait(lambda: given.places.lasting == given.made)
    given.put()
    assert given.places.spilling == slow
    given.disk.free.set()
    given.wait(lambda: given.places.journal.seen.written == given.made)
    for _ in range(WELL_NS // (50 * MS) + 10):
        given.put()
        given.wait(lambda: given.places.journal.seen.written == given.made)
    assert given.facts == ["ready", "in use", "left"]
    given.wait(lambda: not memory.path.exists() and not slow.path.exists())
    given.end()
    assert given.whole() == given.everything()


# ---------------------------------------------------------------- files lost


def log_removed(given: Given) -> None:
    wal_path(given.path).unlink()


def log_cut(given: Given) -> None:
    os.truncate(wal_path(given.path), 0)


def log_overwritten(given: Given) -> None:
    size = wal_path(given.path).stat().st_size
    with wal_path(given.path).open("r+b") as file:
        file.write(b"\0" * size)


def journal_removed(given: Given) -> None:
    given.path.unlink()


def journal_moved(given: Given) -> None:
    given.path.rename(given.path.with_name("moved"))


LOSSES = [log_removed, log_cut, log_overwritten, journal_removed, journal_moved]


@pytest.mark.parametrize("lose", LOSSES)
def test_files_lost_are_found_within_a_second_and_cost_nothing(
    given: Given, lose: Callable[[Given], None]
) -> None:
    given.steady(3 * S)
    lose(given)
    began = given.now
    while not given.places.journal.seen.gone:
        assert given.now - began <= 1_000 * MS + 100 * MS, "not found within a second"
        given.put()
        journal = given.places.journal
        given.wait(lambda: bool(journal.seen.gone) or journal.seen.written == given.made)  # noqa: B023
    given.live(1 * S)
    given.safe()
    assert given.facts == ["ready", "in use"]
    given.end()
    assert given.whole() == given.everything()


@pytest.mark.parametrize("lose", [log_removed, log_cut, journal_removed, journal_moved])
def test_what_is_written_into_a_file_that_nobody_will_find_counts_nowhere(
    given: Given, lose: Callable[[Given], None]
) -> None:
    """The next commit tells, not the next look: nothing of it is said to be kept before it is."""
    given.steady(1 * S)
    # The look of this second is behind it, so only the commit itself can tell.
    while given.places.journal._looked_ns < given.now - 400 * MS:
        given.steady(50 * MS)
    before = given.places.journal.seen.written
    lose(given)
    given.put()
    given.wait(lambda: bool(given.places.journal.seen.gone))
    assert given.places.journal.seen.written == before
    given.put()
    given.safe()
    given.end()
    assert given.whole() == given.everything()


def test_another_file_in_its_place_is_found_and_not_touched(given: Given) -> None:
    given.steady(1 * S)
    given.path.unlink()
    given.path.write_bytes(b"another file")
    given.live(3 * S)
    given.wait(lambda: "another file" in given.places.journal.seen.gone)
    given.live(1 * S)
    given.safe()
    given.end()
    assert given.path.read_bytes() == b"another file"
    with JournalReader(given.second) as reader:
        rows = reader.last_batch().last_row
        assert [row.data for step in reader.steps(rows) for row in step] == given.everything()


# ---------------------------------------------------------------- memory


def test_what_the_second_place_has_need_not_wait_in_memory_for_ever(given: Given) -> None:
    given.places._waiting_rows_max = 1_000
    given.disk.free.clear()
    given.live(1 * S)
    for _ in range(30):
        given.put(50)
        given.safe()
    given.live(1 * S)
    given.safe()
    waiting = sum(len(one.rows.t) for one in given.places.journal.waiting())
    assert waiting < 1_000 < given.t
    given.disk.free.set()
    given.wait(lambda: given.places.journal.seen.written == given.made)
    given.end()
    assert given.whole() == given.everything()
