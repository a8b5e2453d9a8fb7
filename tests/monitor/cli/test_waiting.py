"""A command at a disk that does not answer says so, and goes on once it does."""

import os
import threading
from pathlib import Path

import pytest

from monitor.cli.waiting import answered
from monitor.errors import BadJournal


def test_what_comes_at_once_is_given_without_a_word(capfd: pytest.CaptureFixture[str]) -> None:
    assert answered(lambda: 7, "one.journal") == 7
    assert capfd.readouterr().err == ""


def test_an_error_is_the_same_error() -> None:
    def fails() -> int:
        raise BadJournal("the journal is damaged", "one.journal", "keep the file")

    with pytest.raises(BadJournal, match="damaged"):
        answered(fails, "one.journal")


def test_a_disk_that_hangs_is_told_with_what_to_do(capfd: pytest.CaptureFixture[str]) -> None:
    back = threading.Event()
    threading.Timer(0.3, back.set).start()
    assert answered(lambda: back.wait(10.0), "/media/card/one.journal", said_after_s=0.01)
    said = capfd.readouterr().err
    assert said.count("THE DISK DOES NOT ANSWER: /media/card/one.journal") == 1
    assert "USE VOICE AND PAPER" in said
    assert all(len(line) <= 80 for line in said.splitlines() if "/media" not in line)


def test_nothing_is_asked_of_a_disk_that_hangs_by_a_process_that_somebody_may_want_to_leave(
    tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    """A pipe keeps who opens it as such a disk does, until somebody writes; a thread would stay."""
    pipe = tmp_path / "x.spill"
    os.mkfifo(pipe)
    back = threading.Event()

    def let_go() -> None:
        """Opened once somebody waits at its other end."""
        writer = os.open(pipe, os.O_WRONLY)
        back.set()
        os.close(writer)

    threading.Timer(0.3, let_go).start()
    assert answered(back.is_set, str(tmp_path), said_after_s=0.01)
    assert "THE DISK DOES NOT ANSWER" in capfd.readouterr().err
