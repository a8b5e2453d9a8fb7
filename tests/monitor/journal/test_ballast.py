import os
from pathlib import Path

import pytest

from monitor.journal.ballast import BALLAST_BYTES, Ballast, ballast_path

SMALL = 1024 * 1024


@pytest.fixture
def journal(tmp_path: Path) -> Path:
    return tmp_path / "kiln.journal"


def blocks(path: Path) -> int:
    """Bytes that the disk has really put by (stat(2): st_blocks counts 512 bytes each)."""
    return path.stat().st_blocks * 512


def test_it_really_holds_the_space_and_is_its_owners_alone(journal: Path) -> None:
    ballast = Ballast(journal, SMALL)
    assert not ballast.held
    assert ballast.take()
    assert ballast.held
    assert blocks(ballast_path(journal)) >= SMALL
    assert ballast_path(journal).stat().st_mode & 0o777 == 0o600


def test_taken_twice_and_given_back_twice(journal: Path) -> None:
    ballast = Ballast(journal, SMALL)
    assert ballast.take()
    assert ballast.take()
    ballast.give_back()
    ballast.give_back()
    assert not ballast.held
    assert not ballast_path(journal).exists()


def test_one_that_a_killed_recorder_left_behind_is_held(journal: Path) -> None:
    Ballast(journal, SMALL).take()
    assert Ballast(journal, SMALL).held


def test_a_disk_that_is_too_small_holds_none_and_keeps_nothing(journal: Path) -> None:
    free = os.statvfs(journal.parent)
    too_much = free.f_blocks * free.f_frsize * 2
    ballast = Ballast(journal, too_much)
    assert not ballast.take_again()
    assert not ballast.take()
    assert not ballast.held
    assert not ballast_path(journal).exists()


def test_it_is_taken_again_only_with_plenty_of_room(journal: Path) -> None:
    assert Ballast(journal, SMALL).take_again()


def test_a_folder_that_cannot_be_written_is_a_fault(tmp_path: Path) -> None:
    with pytest.raises(FileNotFoundError):
        Ballast(tmp_path / "none" / "kiln.journal", SMALL).take()


def test_sixty_four_mebibytes() -> None:
    """Half a million frames of at most 128 bytes of journal each: 2^19 x 2^7 = 2^26."""
    assert BALLAST_BYTES == 2**19 * 2**7


def test_a_recorder_that_starts_on_a_full_disk_gets_the_room(journal: Path) -> None:
    Ballast(journal, SMALL).take()
    roomy = Ballast(journal, SMALL)
    roomy.make_room(1)
    assert (roomy.held, roomy.in_use) == (True, False)
    free = os.statvfs(journal.parent)
    full = Ballast(journal, SMALL)
    full.make_room(free.f_blocks * free.f_frsize + 1)
    assert (full.held, full.in_use) == (False, True)
    assert not ballast_path(journal).exists()
    full.in_use = False
    full.make_room(free.f_blocks * free.f_frsize + 1)
    assert not full.in_use


def test_a_link_in_its_place_is_replaced_and_not_followed(journal: Path, tmp_path: Path) -> None:
    """64 MiB of nothing must not land in whatever it points to."""
    other = tmp_path / "other"
    other.write_text("mine")
    ballast_path(journal).symlink_to(other)
    ballast = Ballast(journal, SMALL)
    assert not ballast.held
    assert ballast.take()
    assert other.read_text() == "mine"
    assert not ballast_path(journal).is_symlink()
