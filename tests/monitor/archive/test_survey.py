"""Each state of an incident, told from its file alone."""

from pathlib import Path

import pytest

from monitor.archive.survey import Entry, State, entry_of, survey
from monitor.clock import Stamp
from monitor.incident.decoding import row_of
from monitor.incident.events import Close, Note
from monitor.incident.rows import Row, RowKind
from monitor.journal.lock import Lock, lock_path
from monitor.journal.making import wal_path
from monitor.journal.schema import Header
from monitor.journal.writer import JournalWriter
from tests.monitor.archive.conftest import GOLDEN, Remade

S = 1_000_000_000
WALL_NS = 1_700_000_000 * S
"""Of the golden journal's opening."""


def test_what_a_journal_tells_of_itself() -> None:
    """The scenario lasts 610 s; the file is one file."""
    entry = entry_of(GOLDEN)
    assert (entry.name, entry.use, entry.state) == ("Kiln Lane", "exercise", State.OPEN)
    assert entry.opened_wall_ns == WALL_NS
    assert entry.length_ns // S == 610
    assert entry.changed_wall_ns == WALL_NS + entry.length_ns
    assert entry.size_bytes == GOLDEN.stat().st_size
    assert entry.fault == ""


def test_recorded_now_then_interrupted_then_open(remade: Remade) -> None:
    """A lock that is held; its file left behind by a death; taken away in good order."""
    path = remade()
    with Lock.take(path) or pytest.fail("the lock was not free"):
        assert entry_of(path).state is State.RECORDED
    assert entry_of(path).state is State.OPEN
    lock_path(path).touch()
    assert entry_of(path).state is State.INTERRUPTED


def test_half_made_before_and_after_it_has_its_name(tmp_path: Path) -> None:
    """A kill while the file is made, and one before the first commit."""
    header = Header(
        fold=1, software="outby test", incident="0" * 32, use="real", opened_wall_ns=WALL_NS
    )
    JournalWriter.create(tmp_path / "whole.journal", header).close(final=False)
    (tmp_path / "not.journal.making").touch()
    found = {entry.path.name: entry.state for entry in survey(tmp_path)}
    assert found == dict.fromkeys(("whole.journal", "not.journal"), State.HALF_MADE)
    with Lock.take(tmp_path / "not.journal") or pytest.fail("the lock was not free"):
        assert [entry.path.name for entry in survey(tmp_path)] == ["whole.journal"]


def test_closed(remade: Remade) -> None:
    close = Close(id="close-0001", by="R. Harrow", override="test")
    path = remade(lambda rows: [*rows, row_of(rows[-1].t + 1, close)])
    lock_path(path).touch()
    assert entry_of(path).state is State.CLOSED


@pytest.mark.parametrize(
    "row",
    [
        row_of(0, Note(id="note-0001", by="R. Harrow", text='{"what":"close"}')),
        Row(0, RowKind.ANNOUNCED, b'{"what":"close"}'),
        Row(0, RowKind.ACT, b"\xff"),
        Row(0, RowKind.ACT, b'["close"]'),
    ],
)
def test_what_only_looks_like_a_close(remade: Remade, row: Row) -> None:
    def with_it(rows: list[Row]) -> list[Row]:
        row.t = rows[-1].t + 1
        return [*rows, row]

    assert entry_of(remade(with_it)).state is State.OPEN


@pytest.mark.parametrize("first", [None, Row(0, RowKind.FACT, b"{}"), Row(0, RowKind.ACT, b"x")])
def test_a_journal_without_its_first_row_has_no_name(remade: Remade, first: Row | None) -> None:
    entry = entry_of(remade(lambda _: [first] if first else []))
    assert (entry.name, entry.use, entry.fault) == ("", "exercise", "")


def test_a_log_beside_it_counts_too(remade: Remade) -> None:
    path = remade(final=True)
    writer = JournalWriter.open(path)
    writer.begin_session("boot", 0, 0, "outby test")
    end = writer.last.horizon + 1
    writer.commit([], end, Stamp(0, 5))
    entry = entry_of(path)
    assert entry.size_bytes == path.stat().st_size + wal_path(path).stat().st_size
    assert (entry.length_ns, entry.changed_wall_ns) == (end, 5)
    writer.close(final=False)


def test_a_list_begins_with_what_changed_last_and_leaves_nothing_out(
    remade: Remade, tmp_path: Path
) -> None:
    newest = remade()
    older = tmp_path / "older.journal"
    newest.rename(older)
    later = Row(0, RowKind.ANNOUNCED, b"{}")

    def longer(rows: list[Row]) -> list[Row]:
        later.t = rows[-1].t + 3_600 * S
        return [*rows, later]

    newest = remade(longer)
    (tmp_path / "torn.journal").write_bytes(newest.read_bytes()[:5_000])
    (tmp_path / "letter.journal").write_text("Dear all")
    (tmp_path / "folder.journal").mkdir()
    (tmp_path / "notes.txt").touch()
    found = survey(tmp_path)
    assert [entry.path.name for entry in found] == [
        "again.journal", "older.journal", "letter.journal", "torn.journal",
    ]  # fmt: skip
    assert [entry.state for entry in found[2:]] == [State.UNREADABLE] * 2
    assert all(entry.fault for entry in found[2:])


def test_a_half_made_one_whose_lock_cannot_be_looked_at_spoils_no_list(tmp_path: Path) -> None:
    (tmp_path / "bad.journal.making").touch()
    lock_path(tmp_path / "bad.journal").symlink_to("bad.journal.lock")
    assert [found.state for found in survey(tmp_path)] == [State.HALF_MADE]


def test_no_folder_is_an_empty_list(tmp_path: Path) -> None:
    none: list[Entry] = []
    assert survey(tmp_path / "never") == none
