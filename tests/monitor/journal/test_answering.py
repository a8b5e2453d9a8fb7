"""A folder that hangs is told from those that answer, and keeps nobody."""

import os
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest

from monitor.journal.answering import answering

SOON_S = 0.05
LONG_S = 10.0


@pytest.fixture
def let_go() -> Iterator[threading.Event]:
    """Set at the end, so that no thread outlives its test."""
    event = threading.Event()
    yield event
    event.set()


def test_one_that_hangs_keeps_none_of_the_others(let_go: threading.Event) -> None:
    good, hung, refuses = Path("good"), Path("hung"), Path("refuses")

    def tried(folder: Path) -> None:
        if folder == hung:
            let_go.wait(LONG_S)

    found = answering([good, hung, refuses], SOON_S, tried)
    assert found == ([good, refuses], [hung])
    assert answering([], SOON_S, tried) == ([], [])


def test_a_spill_whose_end_cannot_be_read_is_one_that_hangs(tmp_path: Path) -> None:
    """A pipe keeps whoever opens it until somebody writes, as a dead disk does."""
    good, hung = tmp_path / "good", tmp_path / "hung"
    for folder in (good, hung):
        folder.mkdir()
        (folder / "0.spill").write_bytes(b"x")
    pipe = hung / "1.spill-wal"
    os.mkfifo(pipe)
    assert answering([good, hung], SOON_S) == ([good], [hung])
    os.close(os.open(pipe, os.O_RDWR))
    assert sorted(one.name for one in good.iterdir()) == ["0.spill"]


def test_one_that_is_not_there_or_refuses_has_answered(tmp_path: Path) -> None:
    file = tmp_path / "file"
    file.write_bytes(b"")
    places = [tmp_path / "no" / "such", file, Path("/proc/self")]
    assert answering(places, LONG_S) == (places, [])
    assert not (tmp_path / "no").exists()
