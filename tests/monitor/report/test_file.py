import stat
from collections.abc import Iterator
from pathlib import Path

import pytest

from monitor.errors import BadFile
from monitor.report.file import must_be_new, write


def test_it_is_the_owners_alone(tmp_path: Path) -> None:
    path = tmp_path / "a.html"
    write(path, iter(["one", " Ü"]))
    assert path.read_text("utf-8") == "one Ü"
    assert stat.S_IMODE(path.stat().st_mode) == 0o600


def test_it_writes_over_nothing(tmp_path: Path) -> None:
    path = tmp_path / "a.html"
    path.write_text("mine")
    with pytest.raises(BadFile, match="there is a file already"):
        write(path, ["x"])
    with pytest.raises(BadFile):
        must_be_new(path)
    assert path.read_text() == "mine"


def test_what_could_not_be_made_leaves_nothing(tmp_path: Path) -> None:
    def broken() -> Iterator[str]:
        yield "half"
        raise KeyError("x")

    with pytest.raises(KeyError):
        write(tmp_path / "a.html", broken())
    assert list(tmp_path.iterdir()) == []


def test_left_overs_of_one_that_was_killed_do_no_harm(tmp_path: Path) -> None:
    (tmp_path / "a.html.making").write_text("half")
    write(tmp_path / "a.html", ["whole"])
    assert [path.name for path in tmp_path.iterdir()] == ["a.html"]


def test_a_place_that_cannot_be_written_is_told(tmp_path: Path) -> None:
    with pytest.raises(BadFile, match="nothing can be written there"):
        write(tmp_path / "nowhere" / "a.html", ["x"])
