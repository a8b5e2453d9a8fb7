"""Of a damaged journal what is right is told, and what is left out is said.

The golden one is damaged in three ways: a row is missing, a row was changed, the end is cut off.
"""

import csv
import json
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest

from monitor.archive.damage import look_at, look_through, whole_part
from monitor.cli import main
from monitor.errors import BadJournal, Exit
from monitor.journal.reader import JournalReader
from monitor.report.reading import read
from tests.monitor.archive.conftest import GOLDEN

Damage = Callable[[Path], None]


def missing(path: Path) -> None:
    with closing(sqlite3.connect(path)) as db, db:
        db.execute("DELETE FROM rows WHERE id = 300")


def changed(path: Path) -> None:
    with closing(sqlite3.connect(path)) as db, db:
        db.execute("UPDATE rows SET data = x'00' WHERE id = 300")


def cut_off(path: Path) -> None:
    raw = path.read_bytes()
    path.write_bytes(raw[: len(raw) * 6 // 10])


@pytest.fixture(params=[missing, changed, cut_off])
def damaged(tmp_path: Path, request: pytest.FixtureRequest) -> Path:
    path = tmp_path / "kiln.journal"
    path.write_bytes(GOLDEN.read_bytes())
    request.param(path)
    return path


def rows_of(path: Path) -> int:
    """All that were written."""
    with JournalReader(path, damaged=True) as reader:
        return reader.last_batch().last_row


def test_a_report_tells_what_is_right_and_says_the_rest(
    damaged: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    told = read(damaged)
    whole = read(GOLDEN)
    assert told.left_out
    assert told.last.last_row < whole.last.last_row
    assert told.gathered.rows == told.last.last_row
    with JournalReader(GOLDEN) as reader:
        assert reader.batch(told.last.batch) == told.last
    page = tmp_path / "page.html"
    assert main(["report", str(damaged), "-o", str(page)]) == Exit.CHANGED
    assert "the journal is damaged" in capsys.readouterr().err
    assert "The journal is damaged. Not told: " in page.read_text("utf-8")


def test_so_do_orders_and_alarms(damaged: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["orders", str(damaged)]) == Exit.CHANGED
    assert "DAMAGED: not told: " in capsys.readouterr().out
    assert main(["report", str(damaged), "--alarms", "--json"]) == Exit.CHANGED
    assert json.loads(capsys.readouterr().out)["left_out"]
    assert main(["report", str(GOLDEN), "--alarms", "--json"]) == Exit.OK
    assert json.loads(capsys.readouterr().out)["left_out"] is None


def test_tables_hold_what_is_right(
    damaged: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out, frames = tmp_path / "out", tmp_path / "one.pcapng"
    assert main(["export", str(damaged), str(out), "--frames", str(frames)]) == Exit.CHANGED
    assert "the journal is damaged" in capsys.readouterr().err
    with (out / "incident.csv").open(encoding="utf-8", newline="") as file:
        (row,) = csv.DictReader(file)
    assert row["left_out"]
    assert int(row["rows"]) == read(damaged).last.last_row
    with (out / "readings.csv").open(encoding="utf-8", newline="") as file:
        assert max(int(one["row"]) for one in csv.DictReader(file)) <= int(row["rows"])


def test_a_replay_goes_as_far_as_that(damaged: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["replay", str(damaged), "--plain"]) == Exit.CHANGED
    out, err = capsys.readouterr()
    assert "DAMAGED from here: not told: " in out
    assert "the journal is damaged" in err


def test_what_is_left_out_is_counted(tmp_path: Path) -> None:
    path = tmp_path / "kiln.journal"
    path.write_bytes(GOLDEN.read_bytes())
    missing(path)
    found = look_at(path)
    assert found is not None
    there = rows_of(path) - 1
    assert found.left_out == (
        f"{there - found.last.last_row:,} of {there:,} rows from row {found.last.last_row + 1:,} on"
        " (row 300: the row is missing)"
    )


def test_a_last_row_that_cannot_be_keeps_nobody_waiting(tmp_path: Path) -> None:
    """The newest commit says that there are nine million million million rows."""
    path = tmp_path / "kiln.journal"
    path.write_bytes(GOLDEN.read_bytes())
    rows = rows_of(path)
    with closing(sqlite3.connect(path)) as db, db:
        (last,) = db.execute("SELECT max(batch) FROM batches").fetchone()
        db.execute("UPDATE batches SET last_row = 9000000000000000000 WHERE batch = ?", (last,))
    found = look_at(path)
    assert found is not None
    assert found.last.batch == last - 1
    assert "000,000,000" not in found.left_out
    assert found.last.last_row <= rows


def test_a_changed_row_is_found_by_a_look_through_all_of_them(tmp_path: Path) -> None:
    path = tmp_path / "kiln.journal"
    path.write_bytes(GOLDEN.read_bytes())
    assert look_through(path) is None
    changed(path)
    assert look_at(path) is None
    found = look_through(path)
    assert found is not None
    assert found.last.last_row < 300


def test_one_that_is_whole_has_nothing_left_out() -> None:
    assert look_at(GOLDEN) is None
    assert read(GOLDEN).left_out == ""
    error = BadJournal("what", "where")
    with pytest.raises(BadJournal, match="what: where"):
        whole_part(GOLDEN, error)


def test_nothing_right_is_an_error_as_before(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "kiln.journal"
    path.write_bytes(GOLDEN.read_bytes())
    with closing(sqlite3.connect(path)) as db, db:
        db.execute("DELETE FROM batches WHERE batch = 0")
        db.execute("DELETE FROM rows WHERE id = 1")
    assert main(["orders", str(path)]) == Exit.JOURNAL
    assert capsys.readouterr().err.count("\n") == 1
