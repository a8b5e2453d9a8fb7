"""Whatever stands under a name that a person gave: one answer, at once, of bounded size."""

import os
import socket
from pathlib import Path

import pytest

from shared.reading import (
    NotThere,
    Unreadable,
    home,
    read_bytes,
    read_private,
    text_of,
    toml_of,
)

MAX = 100
GIB = 1024**3


def what(path: Path) -> str:
    with pytest.raises(Unreadable) as caught:
        read_bytes(path, MAX)
    assert caught.value.to_do
    return caught.value.what


def test_a_file_is_read_whole(tmp_path: Path) -> None:
    path = tmp_path / "a"
    path.write_bytes(b"x" * MAX)
    path.chmod(0o640)
    assert read_bytes(path, MAX) == b"x" * MAX
    assert read_private(path, MAX)[1] & 0o777 == 0o640
    (tmp_path / "link").symlink_to(path)
    assert read_bytes(tmp_path / "link", MAX) == b"x" * MAX


def test_what_is_no_file_is_not_waited_for(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Opening a pipe for reading waits until somebody writes: open(2)."""
    os.mkfifo(tmp_path / "pipe")
    assert what(tmp_path / "pipe") == "is a pipe"
    (tmp_path / "link").symlink_to("pipe")
    assert what(tmp_path / "link") == "is a pipe"
    assert what(tmp_path) == "is a folder"
    assert what(Path("/dev/zero")) == "is a device"
    (tmp_path / "round").symlink_to("round")
    assert what(tmp_path / "round").startswith("cannot be read (")
    # The name of a socket may have some hundred characters: it is bound from within.
    monkeypatch.chdir(tmp_path)
    with socket.socket(socket.AF_UNIX) as listening:
        listening.bind("socket")
        assert what(Path("socket")) == "is a socket"


def test_the_size_is_looked_at_before_reading(tmp_path: Path) -> None:
    path = tmp_path / "long"
    with path.open("wb") as file:
        file.truncate(20 * GIB)
    assert what(path) == "is too long"
    assert what(Path("/proc/self/smaps")) == "is too long"  # says 0 bytes and has thousands


@pytest.mark.parametrize(
    "name", ["n" * 300, "/".join(["n" * 200] * 30), "a\0b", "\ud800", "missing", "missing/x"]
)
def test_names_that_nothing_has(tmp_path: Path, name: str) -> None:
    said = what(tmp_path / name)
    assert said.startswith(("cannot be read (", "is not there", "has a name that no file can have"))


def test_nothing_there_is_told_apart(tmp_path: Path) -> None:
    with pytest.raises(NotThere):
        read_bytes(tmp_path / "none", MAX)


def test_text_in_another_encoding() -> None:
    assert text_of("Zürich".encode()) == "Zürich"
    with pytest.raises(Unreadable, match="is not in UTF-8 at byte 4, line 2"):
        text_of(b"a\n b\xff")


@pytest.mark.parametrize(
    "text",
    [
        "a = [",
        "a = " + "[" * 10_000,
        "a = " + "{b=" * 10_000,
        "a = " + "9" * 5_000,
        "a = 0x" + "f" * 5_000 + "\nb = 2000-13-41",
        "a = 1\x00",
    ],
    ids=["torn", "lists", "tables", "digits", "no date", "nul"],
)
def test_no_toml(text: str) -> None:
    with pytest.raises(Unreadable, match="is not TOML"):
        toml_of(text)


def test_the_folder_of_somebody_unknown() -> None:
    assert home("~nobody-of-that-name/x") == Path("~nobody-of-that-name/x")
    assert home("~/x") == Path.home() / "x"
