"""The folder is there whole or not at all."""

import os
import stat
from pathlib import Path

import pytest

from monitor.errors import BadFile
from monitor.export.dictionary import dictionary
from monitor.export.folder import DICTIONARY, new_folder, told


def test_it_gets_its_name_at_the_end(tmp_path: Path) -> None:
    path = tmp_path / "deeper" / "out"
    with new_folder(path) as making:
        assert not path.exists()
        (making / "one.csv").write_text("1")
    assert sorted(p.name for p in path.iterdir()) == [DICTIONARY, "one.csv"]
    assert (path / DICTIONARY).read_text("utf-8") == dictionary()
    assert stat.S_IMODE(path.stat().st_mode) == 0o700
    assert list(path.parent.iterdir()) == [path]


def test_an_empty_folder_is_filled(tmp_path: Path) -> None:
    with new_folder(tmp_path / "out"):
        (tmp_path / "out").mkdir()
    assert (tmp_path / "out" / DICTIONARY).exists()


@pytest.mark.parametrize("as_file", [True, False])
def test_what_is_there_stays(tmp_path: Path, as_file: bool) -> None:
    path = tmp_path / "out"
    mine = path if as_file else path / "mine"
    mine.parent.mkdir(exist_ok=True)
    mine.write_text("mine")
    with pytest.raises(BadFile, match="there is something already"), new_folder(path):
        pass
    assert mine.read_text() == "mine"


def test_what_could_not_be_filled_goes(tmp_path: Path) -> None:
    def half() -> None:
        with new_folder(tmp_path / "out") as making:
            (making / "half.csv").write_text("half")
            raise ValueError("row 7")

    with pytest.raises(ValueError, match="row 7"):
        half()
    assert list(tmp_path.iterdir()) == []


def test_what_a_killed_export_left_is_made_anew(tmp_path: Path) -> None:
    left = tmp_path / "out.making"
    left.mkdir()
    (left / "half.csv").write_text("half")
    with new_folder(tmp_path / "out"):
        pass
    assert [p.name for p in (tmp_path / "out").iterdir()] == [DICTIONARY]


def test_a_full_disk_is_told(tmp_path: Path) -> None:
    with pytest.raises(BadFile, match="No space left"), told(tmp_path):
        raise OSError(28, os.strerror(28))
