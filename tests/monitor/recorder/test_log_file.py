"""The log: lines in their order, in a file of the owner's; nobody waits for it."""

import logging
import os
import threading
from pathlib import Path

from monitor.recorder import log_file
from monitor.recorder.log_file import LINES_MAX, LogFile

WAIT_S = 10.0


def record(words: str) -> logging.LogRecord:
    return logging.LogRecord("outby", logging.INFO, __file__, 1, words, None, None)


def test_lines_are_written_in_their_order_for_the_owner_alone(tmp_path: Path) -> None:
    path = tmp_path / "one.log"
    log = LogFile(path)
    for number in range(1_000):
        log.handle(record(f"line {number}"))
    log.close()
    lines = path.read_text("utf-8").splitlines()
    assert [line.rsplit(": ", 1)[1] for line in lines] == [f"line {n}" for n in range(1_000)]
    assert path.stat().st_mode & 0o777 == 0o600


def test_a_log_without_a_line_is_no_file(tmp_path: Path) -> None:
    """What could not begin says why, and leaves nothing beside a journal that is not there."""
    path = tmp_path / "one.log"
    log = LogFile(path)
    log.close()
    log._thread.join(WAIT_S)
    assert not path.exists()


def test_a_log_that_cannot_be_written_stops_nobody_and_comes_when_it_can(tmp_path: Path) -> None:
    path = tmp_path / "folder" / "one.log"
    log = LogFile(path)
    log.handle(record("lost"))
    for _ in range(1_000):
        if log.fault:
            break
        threading.Event().wait(0.01)
    assert log.fault == "No such file or directory"
    path.parent.mkdir()
    log.handle(record("kept"))
    log.close()
    assert path.read_text("utf-8").endswith("kept\n")


def test_a_disk_that_hangs_keeps_nobody_and_what_is_missing_is_counted(tmp_path: Path) -> None:
    path, let_go = tmp_path / "one.log", threading.Event()

    def hang(path: Path) -> int:
        let_go.wait(WAIT_S)
        return os.open(path, os.O_WRONLY | os.O_CREAT)

    log = LogFile(path, hang)
    log.handle(record("first"))
    while log._lines:
        threading.Event().wait(0.001)
    for number in range(LINES_MAX + 7):
        log.handle(record(f"line {number}"))
    let_go.set()
    log.close()
    log._thread.join(WAIT_S)
    lines = path.read_text("utf-8").splitlines()
    assert len(lines) == 1 + LINES_MAX + 1
    assert lines[-1] == "7 lines are missing here: the disk took none"


def test_closing_waits_no_longer_than_it_says() -> None:
    assert log_file.CLOSE_WAIT_S <= 0.5
