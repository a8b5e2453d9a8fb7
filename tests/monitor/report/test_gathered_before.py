"""With what was gathered before, or without, whatever is wrong with it: one report to the byte."""

from collections.abc import Callable, Iterator
from datetime import UTC
from functools import cache
from pathlib import Path
from random import Random
from typing import Any

import pytest

from monitor.checkpoint.beside import checkpoints_of
from monitor.checkpoint.file import place_of
from monitor.checkpoint.keeper import Follow
from monitor.checkpoint.keeping import Series
from monitor.checkpoint.shelf import Folder, Memory, Shelf
from monitor.clock import Stamp
from monitor.errors import BadJournal
from monitor.journal.reader import JournalReader
from monitor.journal.schema import Header
from monitor.journal.writer import JournalWriter
from monitor.report import orders_log
from monitor.report.gathered_before import COUNT_MAX, ENDING, gatherings, gatherings_of
from monitor.report.gathering import Gathering
from monitor.report.reading import read
from monitor.report.report_page import report
from tests.depth import seeds
from tests.monitor.checkpoint.conftest import INCIDENT, WALL_NS, begun

APART = 20
"""Rows between two, so that a small history has many."""
SECRET = bytes(range(32))
Write = Callable[..., Path]


@pytest.fixture
def write(tmp_path: Path) -> Iterator[Write]:
    """Journal some commits of a history."""
    writers: list[JournalWriter] = []

    def make(history: Any, name: str = "kiln-lane.journal", commits: int | None = None) -> Path:
        path = tmp_path / name
        header = Header(fold=1, software="outby test", incident=INCIDENT, use="exercise",
                        opened_wall_ns=WALL_NS)  # fmt: skip
        writer = JournalWriter.create(path, header)
        writers.append(writer)
        writer.begin_session("boot one", 0, WALL_NS, "outby test")
        done = 0
        for batch in history.batches[:commits]:
            rows = history.rows[done : batch.last_row]
            writer.commit(rows, batch.horizon, Stamp(batch.boot_ns, batch.wall_ns))
            done = batch.last_row
        return path

    yield make
    for writer in writers:
        writer.close(final=False)


@cache
def history_of(seed: int, count: int = 150) -> Any:
    history = begun(Random(seed))
    history.go_on(count)
    return history


def near(journal: Path, shelf: Shelf | None = None) -> Series[Gathering]:
    with JournalReader(journal) as reader:
        header = reader.header()
    return gatherings(shelf or Folder(journal, ending=ENDING), header, apart_rows=APART)


def told(journal: Path, before: Series[Gathering] | None) -> tuple[object, ...]:
    """All that any command tells of a journal."""
    said = read(journal, before=before)
    page = "".join(report(said, UTC))
    found = said.gathered
    kept = found.lives.in_order(), found.wears.all, found.timeline.lines, found.acts
    return page, orders_log.orders_log(said), *kept


@pytest.mark.parametrize("seed", seeds(2))
def test_a_report_that_goes_on_from_one_is_the_same_to_the_byte(seed: int, write: Write) -> None:
    """Of every commit at which one is kept, as a recording leaves them."""
    journal = write(history_of(seed))
    wanted = told(journal, None)
    with JournalReader(journal) as reader:
        whole, header = Gathering(), reader.header()
        done, kept = 0, 0
        batch = reader.first_batch_reaching(APART)
        while batch is not None:
            for step in reader.steps(batch.last_row, done):
                whole.take(step)
            done = batch.last_row
            shelf = Memory()
            assert gatherings(shelf, header, apart_rows=APART).keep(place_of(batch), whole)
            before = near(journal, shelf)
            found = before.newest(reader.batch)
            assert found is not None, "so it is really gone on from"
            assert found.state.row == done
            assert told(journal, before) == wanted
            kept += 1
            batch = reader.first_batch_reaching(done + 2 * APART)
    assert kept > 2


@pytest.mark.parametrize("seed", seeds(2))
def test_whatever_is_wrong_with_one_the_report_is_the_same(seed: int, write: Write) -> None:
    rng = Random(seed)
    journal, other = write(history_of(seed)), write(history_of(seed + 100), "other.journal")
    wanted = told(journal, None)
    Follow(journal, near(journal), Gathering).look()
    Follow(other, near(other), Gathering).look()
    shelf, foreign = Folder(journal, ending=ENDING), Folder(other, ending=ENDING)
    assert 0 < len(shelf.sizes()) <= COUNT_MAX
    sound = {name: shelf.get(name) for name in shelf.sizes()}
    for _ in range(4):
        for name, raw in sound.items():
            harmed = bytearray(raw)
            match rng.choice(["byte", "cut", "gone", "foreign", "empty", "old program"]):
                case "byte":
                    harmed[rng.randrange(len(harmed))] ^= 1 << rng.randrange(8)
                case "cut":
                    del harmed[rng.randrange(len(harmed)) :]
                case "foreign":
                    harmed = bytearray(foreign.get(rng.choice(sorted(foreign.sizes()))))
                case "empty":
                    harmed.clear()
                case "old program":
                    harmed = bytearray(bytes(harmed).replace(b'"code":"', b'"code":"0', 1))
                case "gone":
                    shelf.drop(name)
                    continue
            shelf.put(name, bytes(harmed))
        assert told(journal, near(journal)) == wanted


def test_a_reader_of_the_incident_never_takes_one_for_its_own(write: Write) -> None:
    journal = write(history_of(5))
    Follow(journal, near(journal), Gathering).look()
    with JournalReader(journal) as reader:
        board = checkpoints_of(journal, reader.header())
        assert board.newest(reader.batch) is None
        for name in Folder(journal, ending=ENDING).sizes():
            Folder(journal).put(name, Folder(journal, ending=ENDING).get(name))
        assert board.newest(reader.batch) is None, "nor under the name of its own"


def test_a_long_journal_leaves_one_for_the_next_command(write: Write) -> None:
    journal = write(history_of(6))
    assert read(journal, before=near(journal)).gathered.rows > APART
    with JournalReader(journal) as reader:
        found = near(journal).newest(reader.batch)
        last = reader.last_batch()
    assert found is not None
    assert found.place == place_of(last)
    assert told(journal, near(journal)) == told(journal, None)


def test_one_that_goes_further_than_the_journal_is_not_gone_on_from(write: Write) -> None:
    """A copy of the journal from before; what lies beside it is of the longer one."""
    history = history_of(7)
    longer = write(history)
    Follow(longer, near(longer), Gathering).look()
    shorter = write(history, "shorter.journal", commits=5)
    for name in Folder(longer, ending=ENDING).sizes():
        raw = Folder(longer, ending=ENDING).get(name)
        Folder(shorter, ending=ENDING).put(name, raw)
    assert told(shorter, near(shorter)) == told(shorter, None)


def test_rows_that_are_gone_are_found_though_nobody_reads_them_again(
    tmp_path: Path, write: Write
) -> None:
    import sqlite3  # noqa: PLC0415 - as anybody who spoils a journal

    journal = write(history_of(8))
    before = near(journal)
    Follow(journal, before, Gathering).look()
    with JournalReader(journal) as reader:
        assert near(journal).newest(reader.batch) is not None
        copy = tmp_path / "copy.journal"
        with sqlite3.connect(copy) as to, sqlite3.connect(journal) as made:
            made.backup(to)
    with sqlite3.connect(copy) as spoilt:
        spoilt.execute("DELETE FROM rows WHERE id = 50")
    for name in Folder(journal, ending=ENDING).sizes():
        Folder(copy, ending=ENDING).put(name, Folder(journal, ending=ENDING).get(name))
    assert read(copy, before=near(copy)).left_out == read(copy).left_out != ""
    assert told(copy, near(copy)) == told(copy, None)


def test_where_the_journal_has_a_key_only_one_with_its_tag_begins_a_report(write: Write) -> None:
    journal = write(history_of(9))
    with JournalReader(journal) as reader:
        header = reader.header()
        Follow(journal, near(journal), Gathering).look()
        assert gatherings_of(journal, header).newest(reader.batch) is not None
        assert gatherings_of(journal, header, SECRET).newest(reader.batch) is None


def test_an_empty_journal_and_one_of_one_row(tmp_path: Path, write: Write) -> None:
    history = history_of(10)
    one = write(history, commits=1)
    assert told(one, near(one)) == told(one, None)
    path = tmp_path / "empty.journal"
    header = Header(fold=1, software="outby test", incident=INCIDENT, use="exercise",
                    opened_wall_ns=WALL_NS)  # fmt: skip
    writer = JournalWriter.create(path, header)
    writer.begin_session("boot one", 0, WALL_NS, "outby test")
    writer.commit([], 0, Stamp(0, WALL_NS))
    writer.close(final=True)
    with pytest.raises(BadJournal, match="no incident was opened"):
        read(path, before=near(path))
