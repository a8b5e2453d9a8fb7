"""What others can lay where this program makes its files."""

import errno
import os
import stat
from collections.abc import Callable
from pathlib import Path

import pytest

from monitor.own_file import give_name, is_missing, make_anew, open_own, open_to_all

WANTED = os.O_RDWR | os.O_CREAT


@pytest.fixture
def other(tmp_path: Path) -> Path:
    """A file that must stay as it is."""
    path = tmp_path / "other"
    path.write_text("mine")
    return path


def soft(place: Path, other: Path) -> None:
    place.symlink_to(other)


def dangling(place: Path, other: Path) -> None:
    place.symlink_to(other.with_name("not there"))


def hard(place: Path, other: Path) -> None:
    os.link(other, place)


def pipe(place: Path, _other: Path) -> None:
    os.mkfifo(place)


@pytest.mark.parametrize("lay", [soft, dangling, hard, pipe])
def test_what_somebody_has_laid_there_is_not_opened(
    tmp_path: Path, other: Path, lay: Callable[[Path, Path], None]
) -> None:
    lay(tmp_path / "lock", other)
    with pytest.raises(OSError, match="lock was not made by this program"):
        open_own(tmp_path / "lock", WANTED)
    assert other.read_text() == "mine"
    assert not (tmp_path / "not there").exists()


def test_a_pipe_that_nobody_reads_keeps_nobody_waiting(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "log")
    with pytest.raises(OSError, match="no plain file"):
        open_own(tmp_path / "log", os.O_WRONLY | os.O_APPEND)


def test_one_made_here_is_the_owners_alone_and_opens_again(tmp_path: Path) -> None:
    path = tmp_path / "lock"
    for _ in range(2):
        os.close(open_own(path, WANTED))
    assert stat.S_IMODE(path.stat().st_mode) == 0o600


@pytest.mark.parametrize("lay", [soft, hard])
def test_one_made_anew_takes_the_place_and_not_the_file(
    tmp_path: Path, other: Path, lay: Callable[[Path, Path], None]
) -> None:
    lay(tmp_path / "reserve", other)
    os.close(make_anew(tmp_path / "reserve", os.O_WRONLY))
    assert (tmp_path / "reserve").is_file()
    assert not (tmp_path / "reserve").is_symlink()
    assert other.read_text() == "mine"


@pytest.mark.parametrize(
    ("mode", "said"), [(0o700, False), (0o775, False), (0o1777, False), (0o777, True)]
)
def test_a_folder_that_everybody_can_write_is_told(
    tmp_path: Path, mode: int, *, said: bool
) -> None:
    """The sticky bit keeps files from all but their owners: unlink(2), EPERM."""
    folder = tmp_path / "folder"
    folder.mkdir()
    folder.chmod(mode)
    assert open_to_all(folder) is said


def test_a_name_that_something_has_is_not_given_again(tmp_path: Path, other: Path) -> None:
    made = tmp_path / "made"
    made.write_text("new")
    with pytest.raises(FileExistsError):
        give_name(made, other)
    assert (made.read_text(), other.read_text()) == ("new", "mine")
    give_name(made, tmp_path / "free")
    assert (tmp_path / "free").read_text() == "new"
    assert not made.exists()
    assert (tmp_path / "free").stat().st_nlink == 1


def test_missing_is_what_is_not_there_and_not_what_cannot_be_looked_at(tmp_path: Path) -> None:
    assert is_missing(tmp_path / "none")
    (tmp_path / "to nowhere").symlink_to(tmp_path / "none")
    assert not is_missing(tmp_path / "to nowhere")
    (tmp_path / "circle").symlink_to(tmp_path / "circle")
    assert not (tmp_path / "circle" / "one").exists()  # as the library has it
    with pytest.raises(OSError) as caught:  # noqa: PT011 - its number is looked at
        is_missing(tmp_path / "circle" / "one")
    assert caught.value.errno == errno.ELOOP
