"""What is right of a damaged journal: the golden incident, cut and changed, against itself."""

import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

import shared
from monitor.archive.salvage import Salvaged, salvage
from monitor.cli import main
from monitor.errors import BadFile, BadJournal, Exit
from monitor.journal.lock import Lock
from monitor.journal.reader import JournalReader
from monitor.journal.verify import examine

GOLDEN = shared.path("journals", "kiln-lane.journal")
ROWS = "SELECT t, kind, link, late_ns, signal_dbm, data FROM rows WHERE id <= ? ORDER BY id"


def rows_of(path: Path, last: int) -> list[tuple[object, ...]]:
    """Rows as any SQLite tool reads them."""
    with closing(sqlite3.connect(f"{path.as_uri()}?mode=ro", uri=True)) as connection, connection:
        return connection.execute(ROWS, (last,)).fetchall()


def change(path: Path, sql: str, *values: object) -> None:
    connection = sqlite3.connect(path)
    connection.execute(sql, values)
    connection.commit()
    connection.close()


@pytest.fixture
def damaged(tmp_path: Path) -> Path:
    """One row in the middle is missing."""
    path = tmp_path / "kiln.journal"
    shutil.copy(GOLDEN, path)
    change(path, "DELETE FROM rows WHERE id = 300")
    return path


def made(path: Path, key: bytes = b"") -> Salvaged:
    return salvage(path, examine(path, key), path.with_name("whole.journal"), key)


def test_all_before_the_missing_row_is_there_and_right(damaged: Path) -> None:
    whole = made(damaged)
    assert 0 < whole.last.last_row < 300
    found = examine(whole.path)
    assert found.fault is None
    assert found.last == whole.last
    last = whole.last.last_row
    assert rows_of(whole.path, 1_000_000) == rows_of(GOLDEN, last)
    with JournalReader(GOLDEN) as reader:
        there = reader.batch(whole.last.batch)
        after = reader.batch(whole.last.batch + 1)
    assert there is not None
    assert after is not None
    assert after.last_row >= 300, "no commit that is right was left out"
    assert whole.last[:-1] == there[:-1]


def test_it_says_what_it_was_made_from(damaged: Path) -> None:
    whole = made(damaged)
    with JournalReader(whole.path) as reader:
        header = reader.header()
    assert header.salvaged.startswith(f"from kiln.journal, up to row {whole.last.last_row} of")
    assert header.salvaged.endswith("row 300: the row is missing")
    with JournalReader(GOLDEN) as reader:
        assert header.incident == reader.header().incident


@pytest.mark.parametrize("share", [0.3, 0.6, 0.95])
def test_a_file_that_was_cut_off_gives_what_it_has(tmp_path: Path, share: float) -> None:
    path = tmp_path / "cut.journal"
    whole = GOLDEN.read_bytes()
    path.write_bytes(whole[: int(len(whole) * share)])
    found = examine(path)
    assert found.fault is not None
    if found.last is None or not found.last.last_row:
        with pytest.raises(BadJournal, match="nothing of it is provably right"):
            made(path)
        return
    saved = made(path)
    assert rows_of(saved.path, 1_000_000) == rows_of(GOLDEN, found.last.last_row)
    assert examine(saved.path).fault is None


def test_nothing_is_written_over(damaged: Path) -> None:
    damaged.with_name("whole.journal").write_text("mine")
    with pytest.raises(BadFile, match="there is a file already"):
        made(damaged)
    assert damaged.with_name("whole.journal").read_text() == "mine"


def test_nothing_is_left_where_it_is_recorded(damaged: Path) -> None:
    lock = Lock.take(damaged)
    assert lock is not None
    try:
        with pytest.raises(Exception, match="being recorded"):
            made(damaged)
    finally:
        lock.release()
    assert not damaged.with_name("whole.journal").exists()


def test_a_first_commit_that_is_wrong_gives_nothing(damaged: Path) -> None:
    change(damaged, "UPDATE header SET value = 'x' WHERE key = 'software'")
    with pytest.raises(BadJournal, match="nothing of it is provably right"):
        made(damaged)
    assert not damaged.with_name("whole.journal").exists()


def test_by_the_command_every_command_reads_it(
    damaged: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    target = damaged.with_name("whole.journal")
    assert main(["verify", str(damaged)]) == Exit.CHANGED
    assert "--salvage FILE makes a journal of what is right" in capsys.readouterr().err
    assert main(["verify", str(damaged), "--salvage", str(target)]) == Exit.CHANGED
    assert f"{target}: " in capsys.readouterr().out
    assert main(["verify", str(target)]) == Exit.OK
    assert main(["orders", str(target)]) == Exit.OK
    assert "SALVAGED from a damaged journal" in capsys.readouterr().out
