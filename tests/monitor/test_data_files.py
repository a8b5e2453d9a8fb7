import os
from pathlib import Path

import pytest
from pydantic import BaseModel, ConfigDict

from monitor import data_files
from monitor.errors import BadFile


class Place(BaseModel):
    model_config = ConfigDict(extra="forbid")

    floors: list[int]


@pytest.mark.parametrize(
    ("text", "what", "where"),
    [
        ("floors = [1, 'two']\n", "procedure: Input should be a valid integer", ":1: floors.2"),
        ("floor = 1\n", "procedure: missing key", ": floors"),
        ("floors = []\nroof = 1\n", "procedure: unknown key", ":2: roof"),
        ("floors = [\n", "procedure is not TOML", ""),
        ("a=" + "[" * 90, "procedure is not TOML", ""),
        ("floors = [1, '\\u001b[2J\\u202e']\n", "procedure: Input should be", ":1: floors.2"),
        ("floors = [1]\n" + "#" * 100, "procedure is too long", ""),
    ],
)
def test_one_clear_error(tmp_path: Path, text: str, what: str, where: str) -> None:
    path = tmp_path / "place.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(BadFile) as caught:
        data_files.load(Place, "procedure", str(path), 100)
    assert caught.value.what.startswith(what)
    assert caught.value.where == f"{path}{where}"


def test_what_is_right_is_read(tmp_path: Path) -> None:
    path = tmp_path / "place.toml"
    path.write_text("floors = [1, 2]\n", encoding="utf-8")
    assert data_files.load(Place, "procedure", str(path), 100) == Place(floors=[1, 2])


def test_what_is_no_file_is_one_line_at_once(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    for name in ("pipe", "", "n" * 300, "a\0b", "\x1b[2J"):
        with pytest.raises(BadFile) as caught:
            data_files.load(Place, "procedure", str(tmp_path / name), 100)
        assert str(caught.value).isprintable()
    with pytest.raises(BadFile, match=r"no such procedure: .*there: give a path, or one of"):
        data_files.load(Place, "procedure", "~nobody-of-that-name/there", 100)
