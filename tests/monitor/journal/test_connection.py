"""SQLite's faults in plain words, and the ones that pass by themselves."""

import sqlite3
from collections.abc import Callable
from pathlib import Path

import pytest

from monitor.clock import Stamp
from monitor.errors import BadJournal
from monitor.incident.rows import Row
from monitor.journal import connection as files
from monitor.journal.reader import JournalReader
from monitor.journal.verify import verify_digest
from monitor.journal.writer import JournalWriter, tidy


@pytest.fixture
def closed(
    begin: Callable[[], JournalWriter], path: Path, frames: Callable[..., list[Row]]
) -> Path:
    writer = begin()
    writer.commit(frames(1_000), 10**10, Stamp(1, 1))
    writer.close(final=True)
    return path


def test_each_kind_of_fault_says_what_where_and_what_to_do() -> None:
    for code, (what, to_do) in files._PLAIN.items():
        error = sqlite3.OperationalError("as SQLite says it")
        error.sqlite_errorcode = code | 5 << 8  # An extended code keeps the kind in its low byte.
        plain = files.in_plain_words(error, Path("/x/j"))
        assert plain.what == f"{what} (as SQLite says it)"
        assert (plain.where, plain.to_do) == ("/x/j", to_do)


def test_a_fault_of_no_known_kind() -> None:
    plain = files.in_plain_words(sqlite3.ProgrammingError("odd"), Path("/x/j"))
    assert plain.what == "the journal cannot be used (odd)"


def test_a_file_that_is_busy_for_a_moment_is_nothing_new(closed: Path) -> None:
    other = sqlite3.connect(closed, isolation_level=None)
    with JournalReader(closed) as reader:
        other.execute("BEGIN EXCLUSIVE")
        assert not reader.changed()
        step = reader.read(0)
        assert (step.rows, step.last_row, step.horizon, step.complete) == ([], 0, -1, False)
        other.execute("ROLLBACK")
        assert reader.changed()
        assert reader.read(0).complete
    other.close()


def test_opening_a_file_that_stays_busy_is_told(closed: Path) -> None:
    other = sqlite3.connect(closed, isolation_level=None)
    other.execute("BEGIN EXCLUSIVE")
    for opening in (JournalReader, JournalWriter.open, tidy, verify_digest):
        with pytest.raises(BadJournal, match="in use"):
            opening(closed)
    other.close()


@pytest.mark.parametrize(
    "reading",
    [
        lambda reader: reader.read(0),
        lambda reader: reader.last_batch(),
    ],
)
def test_a_damaged_file_is_told(closed: Path, reading: Callable[[JournalReader], object]) -> None:
    raw = bytearray(closed.read_bytes())
    # Every page after the first, which holds the marks and the names of the tables, and the
    # second, which holds the header.
    raw[2 * 2048 :] = b"\xa5" * (len(raw) - 2 * 2048)
    closed.write_bytes(raw)
    with JournalReader(closed) as reader, pytest.raises(BadJournal, match="damaged"):
        reading(reader)


def test_a_closed_reader_is_told_of(closed: Path) -> None:
    reader = JournalReader(closed)
    reader.close()
    for asking in (reader.changed, reader.sessions, reader.last_batch, lambda: reader.read(0)):
        with pytest.raises(BadJournal, match="cannot be used"):
            asking()
