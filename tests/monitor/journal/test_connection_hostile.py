"""A journal that somebody made to do harm: one line, at once, whatever it holds.

What is done about it follows SQLite's own advice, "Defense Against The Dark Arts" (sqlite.org,
security.html, section 1.1): limits lowered, the schema not trusted, cells checked as they are read.
"""

import os
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest

from monitor.clock import Stamp
from monitor.errors import BadJournal
from monitor.incident.rows import Row
from monitor.journal import connection as files
from monitor.journal.reader import JournalReader
from monitor.journal.schema import DATA_BYTES_MAX, HEADER_KEYS_MAX, HORIZON_NS_MAX, TABLES
from monitor.journal.verify import examine
from monitor.journal.writer import JournalWriter

Writing = Callable[..., JournalWriter]
ENDLESS = "WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n)"


@pytest.fixture
def journal(begin: Writing, path: Path, frames: Callable[..., list[Row]]) -> Path:
    writer = begin()
    writer.commit(frames(500), 10**10, Stamp(1, 1))
    writer.close(final=True)
    return path


def change(path: Path, *statements: str) -> None:
    with closing(sqlite3.connect(path)) as connection:
        for sql in statements:
            connection.execute(sql)
        connection.commit()


def read_all(path: Path) -> None:
    with JournalReader(path) as reader:
        last = reader.last_batch()
        reader.sessions()
        for _ in reader.steps(last.last_row):
            pass


@pytest.mark.parametrize(
    "statements",
    [
        ("CREATE VIEW more AS SELECT 1",),
        ("DROP TABLE sessions", f"CREATE VIEW sessions AS {ENDLESS} SELECT i FROM n"),
        ("DROP TABLE header", f"CREATE VIEW header AS {ENDLESS} SELECT i, i FROM n"),
        ("CREATE TRIGGER t AFTER INSERT ON rows BEGIN DELETE FROM rows; END",),
        ("CREATE TABLE more(a)",),
        ("CREATE INDEX more ON rows(t)",),
        ("ALTER TABLE rows ADD COLUMN more AS (zeroblob(1000000000))",),
        ("ALTER TABLE rows ADD COLUMN more",),
        ("DROP TABLE rows", TABLES[2].replace(" data BLOB NOT NULL", " data BLOB")),
        ("ANALYZE",),
    ],
    ids=["a view", "endless sessions", "endless header", "a trigger", "a table", "an index",
         "a column that is made up", "a column", "a table of another kind", "statistics"],
)  # fmt: skip
def test_only_the_tables_of_a_journal_are_ever_asked(
    journal: Path, statements: tuple[str, ...]
) -> None:
    change(journal, *statements)
    for opening in (read_all, examine, JournalWriter.open):
        with pytest.raises(BadJournal, match="its tables are not those of a journal"):
            opening(journal)


@pytest.mark.parametrize(
    "sql",
    [
        "UPDATE rows SET t = 'soon' WHERE id = 7",
        "UPDATE rows SET t = 1.5 WHERE id = 7",
        "UPDATE rows SET data = 'text' WHERE id = 7",
        "UPDATE rows SET kind = 'x' WHERE id = 7",
        "UPDATE rows SET link = x'00' WHERE id = 7",
        "UPDATE rows SET signal_dbm = 'x' WHERE id = 7",
        "UPDATE rows SET t = -5 WHERE id = 1",
        "UPDATE rows SET t = 0 WHERE id = 7",
        f"UPDATE rows SET t = {HORIZON_NS_MAX + 1} WHERE id = 500",
        f"UPDATE rows SET data = zeroblob({DATA_BYTES_MAX + 1}) WHERE id = 7",
        "UPDATE batches SET horizon = 'x' WHERE batch = 1",
        f"UPDATE batches SET horizon = {HORIZON_NS_MAX + 1} WHERE batch = 1",
        "UPDATE batches SET digest = 'x' WHERE batch = 1",
        "UPDATE batches SET last_row = 1.5 WHERE batch = 1",
        "UPDATE sessions SET origin_boot_ns = 'x'",
        "UPDATE sessions SET software = x'72'",
    ],
)
def test_a_value_that_no_recorder_writes(journal: Path, sql: str) -> None:
    change(journal, sql)
    with pytest.raises(BadJournal) as caught:
        read_all(journal)
    assert str(caught.value).isprintable()
    assert examine(journal).fault is not None


@pytest.mark.parametrize("value", ["9" * 5_000, str(2**63), "-1", "nan", "1e400", ""])
def test_years_and_numbers_that_cannot_be(journal: Path, value: str) -> None:
    """Of the wall clock 63 bits of nanoseconds are the year 2262; 10000 has no calendar here."""
    change(journal, f"UPDATE header SET value = '{value}' WHERE key = 'opened_wall_ns'")
    for opening in (read_all, examine):
        with pytest.raises(BadJournal, match=r"header is not right.*opened_wall_ns") as caught:
            opening(journal)
        assert len(str(caught.value)) < 500


def test_a_header_that_redraws_a_screen_is_shown_escaped(journal: Path) -> None:
    change(journal, "UPDATE header SET value = 'x' || char(27, 8238) WHERE key = 'software'")
    with JournalReader(journal) as reader:
        assert reader.header().software == "x\\x1b\\u202e"


def test_a_header_without_end(journal: Path) -> None:
    change(
        journal,
        f"{ENDLESS} INSERT INTO header SELECT 'k' || i, '' FROM n LIMIT {HEADER_KEYS_MAX}",
    )
    for opening in (read_all, examine):
        with pytest.raises(BadJournal, match="damaged"):
            opening(journal)


def test_a_question_that_never_ends_is_broken_off(journal: Path) -> None:
    with closing(files.connect(journal, "ro")) as connection:
        with pytest.raises(sqlite3.OperationalError, match="interrupted") as caught:
            connection.execute(f"{ENDLESS} SELECT count(*) FROM n").fetchall()
        assert isinstance(files.in_plain_words(caught.value, journal), files.Damaged)
        # The next one has the whole time again.
        assert connection.execute("SELECT count(*) FROM rows").fetchall() == [(500,)]


def test_the_schema_is_not_trusted_and_values_are_short(journal: Path) -> None:
    with closing(files.connect(journal, "ro")) as connection:
        assert files.number(connection, "trusted_schema") == 0
        assert files.number(connection, "cell_size_check") == 1
        assert connection.getlimit(sqlite3.SQLITE_LIMIT_LENGTH) == DATA_BYTES_MAX
        assert connection.getlimit(sqlite3.SQLITE_LIMIT_ATTACHED) == 0
        with pytest.raises(sqlite3.DatabaseError):
            connection.execute("ATTACH ':memory:' AS other")


def test_what_is_no_file_is_told_at_once(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.journal")
    for name, what in (
        ("pipe.journal", "the journal is a pipe"),
        ("", "the journal is a folder"),
        ("n" * 300, "the journal cannot be read"),
        ("a\0b", "the journal has a name that no file can have"),
        ("none", "there is no such journal"),
    ):
        with pytest.raises(BadJournal, match=what):
            JournalReader(tmp_path / name)


@pytest.mark.parametrize("ending", ["-wal", "-shm", "-journal"])
def test_what_stands_beside_a_journal_is_a_file(journal: Path, ending: str) -> None:
    """SQLite opens them too, and a pipe opened for reading waits for a writer: open(2)."""
    beside = journal.with_name(journal.name + ending)
    for make in (os.mkfifo, os.mkdir, lambda place: place.symlink_to(journal)):
        make(beside)
        with pytest.raises(BadJournal, match="what stands beside the journal is no file"):
            JournalReader(journal)
        (beside.rmdir if beside.is_dir() else beside.unlink)()
