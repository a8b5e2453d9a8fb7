"""A recorder that was killed while it made its journal, at each step of that."""

from collections.abc import Callable
from pathlib import Path

import pytest

from monitor.clock import Stamp
from monitor.incident.rows import Row
from monitor.journal.half_made import discard, discard_unmade, is_half_made, making_path
from monitor.journal.writer import JournalWriter


def not_begun(path: Path) -> None:
    making_path(path).touch()


def not_whole(path: Path) -> None:
    """SQLite has begun to write; its rollback journal lies beside."""
    making_path(path).write_bytes(bytes(100))
    path.with_name(making_path(path).name + "-journal").write_bytes(bytes(100))


@pytest.mark.parametrize("left", [not_begun, not_whole])
def test_one_that_is_not_whole(path: Path, left: Callable[[Path], None]) -> None:
    left(path)
    assert is_half_made(path)
    discard(path)
    assert list(path.parent.iterdir()) == []
    assert not is_half_made(path)


def test_one_without_a_row(path: Path, begin: Callable[[], JournalWriter]) -> None:
    begin().close(final=False)
    path.with_name(path.name + ".log").touch()
    assert is_half_made(path)
    discard(path)
    assert list(path.parent.iterdir()) == []


@pytest.mark.parametrize("left", [not_begun, not_whole])
def test_of_one_that_never_got_its_name_nothing_else_goes(
    path: Path, begin: Callable[[], JournalWriter], left: Callable[[Path], None]
) -> None:
    """The journal itself stays, though a failing disk had said that there is none."""
    begin().close(final=False)
    before = path.read_bytes()
    left(path)
    discard_unmade(path)
    assert not making_path(path).exists()
    assert path.read_bytes() == before


def test_one_with_a_row_is_whole(
    path: Path, begin: Callable[[], JournalWriter], frames: Callable[[int], list[Row]]
) -> None:
    writer = begin()
    writer.commit(frames(1), 0, Stamp(1, 1))
    assert not is_half_made(path)


def test_what_is_no_journal_is_none_of_ours(path: Path) -> None:
    path.write_bytes(b"something else")
    assert not is_half_made(path)
