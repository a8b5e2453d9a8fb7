"""Files beside a journal: the owner's alone, whole or not there, and never an error."""

import stat
from pathlib import Path

import pytest

from monitor.checkpoint.file import FILE_BYTES_MAX
from monitor.checkpoint.shelf import Both, Folder, Memory, clear, folder_of


@pytest.fixture(autouse=True)
def there(journal: Path) -> None:
    """Of a journal that is not there nothing is kept."""
    journal.touch()


def mode_of(path: Path) -> int:
    return stat.S_IMODE(path.stat().st_mode)


def test_files_are_the_owners_alone(journal: Path) -> None:
    shelf = Folder(journal)
    assert shelf.sizes() == {}
    assert shelf.put("one", b"12345")
    assert shelf.put("one", b"1234")
    folder = journal.parent / ".checkpoints" / "kiln-lane.journal"
    assert folder == folder_of(journal) == shelf.path
    assert [path.name for path in folder.iterdir()] == ["one.checkpoint"]
    assert mode_of(folder) == mode_of(folder.parent) == 0o700
    assert mode_of(folder / "one.checkpoint") == 0o600
    assert shelf.sizes() == {"one": 4}
    assert shelf.get("one") == b"1234"
    shelf.drop("one")
    shelf.drop("one")
    assert shelf.get("one") == b""
    assert shelf.sizes() == {}


def test_a_folder_that_takes_nothing_is_no_error(journal: Path) -> None:
    (journal.parent / ".checkpoints").write_text("a file is in its place")
    shelf = Folder(journal)
    assert not shelf.put("one", b"1")
    assert shelf.sizes() == {}
    assert shelf.get("one") == b""
    shelf.drop("one")
    clear(journal.parent / ".checkpoints")


def test_the_last_of_a_disk_is_the_journals(journal: Path) -> None:
    assert not Folder(journal, room_bytes=1 << 60).put("one", b"1")
    assert Folder(journal).sizes() == {}


def test_what_could_not_be_written_leaves_nothing(journal: Path) -> None:
    shelf = Folder(journal)
    assert shelf.put("one", b"1")
    (shelf.path / "two.checkpoint").mkdir()
    (shelf.path / "two.checkpoint" / "in the way").touch()
    assert not shelf.put("two", b"2")
    names = sorted(path.name for path in shelf.path.iterdir())
    assert names == ["one.checkpoint", "two.checkpoint"]
    assert shelf.sizes() == {"one": 1}


def test_one_that_is_longer_than_any_may_be_is_none(journal: Path) -> None:
    shelf = Folder(journal)
    shelf.put("long", bytes(FILE_BYTES_MAX + 1))
    assert shelf.get("long") == b""
    shelf.put("longest", bytes(FILE_BYTES_MAX))
    assert len(shelf.get("longest")) == FILE_BYTES_MAX


def test_those_of_a_journal_that_has_gone_go_with_the_next_one(journal: Path) -> None:
    gone = journal.with_name("gone.journal")
    for path in (journal, gone):
        path.touch()
        Folder(path).put("one", b"1")
    gone.unlink()
    other = journal.with_name("other.journal")
    other.touch()
    Folder(other).put("one", b"1")
    left = sorted(path.name for path in (journal.parent / ".checkpoints").iterdir())
    assert left == ["kiln-lane.journal", "other.journal"]


def test_what_the_first_does_not_take_the_second_does(journal: Path) -> None:
    first, second = Folder(journal), Memory()
    both = Both(first, second)
    assert both.put("one", b"1")
    assert (first.sizes(), second.sizes()) == ({"one": 1}, {})
    shut = Both(Folder(journal / "no folder"), second)
    assert shut.put("two", b"22")
    assert second.sizes() == {"two": 2}
    assert Both(first, second).sizes() == {"one": 1, "two": 2}
    assert [Both(first, second).get(name) for name in ("one", "two", "six")] == [b"1", b"22", b""]
    for name in ("one", "two"):
        Both(first, second).drop(name)
    assert Both(first, second).sizes() == {}
