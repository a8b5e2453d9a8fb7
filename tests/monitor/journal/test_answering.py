"""A folder that hangs is told from those that answer, and keeps nobody."""

import os
from pathlib import Path

import pytest

from monitor.journal.answering import _kept, answering

SOON_S = 1.0
LONG_S = 20.0


def test_one_that_hangs_keeps_none_of_the_others(tmp_path: Path) -> None:
    """A pipe keeps whoever opens it until somebody writes, as a dead disk does."""
    good, hung, other = (tmp_path / name for name in ("good", "hung", "other"))
    for folder in (good, hung, other):
        folder.mkdir()
    (good / "0.spill").write_bytes(b"x")
    pipe = hung / "1.spill-wal"
    os.mkfifo(pipe)
    assert answering([good, hung, other], SOON_S) == ([good, other], [hung])
    # It is known from then on, and costs nobody the time again, until it lets go.
    assert answering([good, hung, other], LONG_S) == ([good, other], [hung])
    os.close(os.open(pipe, os.O_WRONLY))
    pipe.unlink()
    _kept[hung].wait(LONG_S)
    assert answering([good, hung, other], LONG_S) == ([good, hung, other], [])
    assert answering([], SOON_S) == ([], [])


def test_nothing_is_left_where_it_was_tried(tmp_path: Path) -> None:
    (tmp_path / "0.spill").write_bytes(b"x")
    assert answering([tmp_path], LONG_S) == ([tmp_path], [])
    assert [one.name for one in tmp_path.iterdir()] == ["0.spill"]
    assert (tmp_path / "0.spill").read_bytes() == b"x"


@pytest.mark.parametrize("tried", ["touch $1/seen", "exit 3"])
def test_what_is_asked_of_it_is_its_own_matter(tmp_path: Path, tried: str) -> None:
    """However that ends, it has answered."""
    assert answering([tmp_path], LONG_S, tried) == ([tmp_path], [])
    assert (tmp_path / "seen").exists() is ("seen" in tried)


def test_one_that_is_not_there_or_refuses_has_answered(tmp_path: Path) -> None:
    file = tmp_path / "file"
    file.write_bytes(b"")
    places = [tmp_path / "no" / "such", tmp_path / "a $(touch b) 'c", file, Path("/proc/self")]
    assert answering(places, LONG_S) == (places, [])
    assert [one.name for one in tmp_path.iterdir()] == ["file"]
