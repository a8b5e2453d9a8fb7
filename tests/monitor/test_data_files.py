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
        ("floors = [1]\n" + "#" * 100, "procedure too long", ""),
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
