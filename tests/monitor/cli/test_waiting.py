"""A command at a disk that does not answer says so, and goes on once it does."""

import threading

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
