"""What was used last, kept and offered; a file that is not right is as none."""

import stat
from pathlib import Path

import pytest

from monitor.last_opening import LastOpening, file_path, keep, load


def test_what_is_kept_is_there_again(tmp_path: Path) -> None:
    path = tmp_path / "state" / "last-opening.json"
    assert load(path) == LastOpening()
    keep(path, LastOpening(procedure="plain", roster="/srv/crews.csv"))
    assert load(path) == LastOpening(procedure="plain", roster="/srv/crews.csv")
    keep(path, LastOpening(procedure="fwdv7"))
    assert load(path) == LastOpening(procedure="fwdv7")
    assert list(path.parent.iterdir()) == [path]
    assert stat.S_IMODE(path.parent.stat().st_mode) == 0o700


@pytest.mark.parametrize(
    "data", [b"", b"{", b"\xff", b'{"procedure": 7}', b'{"procedure": "' + b"x" * 5_000 + b'"}']
)
def test_a_file_that_is_not_right_is_as_none(tmp_path: Path, data: bytes) -> None:
    path = tmp_path / "last-opening.json"
    path.write_bytes(data)
    assert load(path) == LastOpening()


def test_a_place_that_cannot_be_written_holds_nothing_up(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    keep(tmp_path / "file" / "last-opening.json", LastOpening(procedure="plain"))


def test_it_is_in_the_users_folder_for_state() -> None:
    assert file_path().name == "last-opening.json"
    assert file_path().parent.name == "outby"
