"""The lock's disk may hang; whoever asks never does."""

import threading
import time

import pytest

from monitor.board.session.lock_look import LockLook


def test_a_disk_that_is_well_answers_at_once() -> None:
    answers = iter([True, False])
    look = LockLook(lambda: next(answers))
    assert (look(), look()) == (True, False)


def test_what_it_refuses_with_is_handed_on() -> None:
    def refuses() -> bool:
        raise PermissionError(13, "permission denied")

    look = LockLook(refuses)
    for _ in range(2):
        with pytest.raises(PermissionError):
            look()


def test_a_disk_that_hangs_is_asked_once_and_answers_when_it_is_back() -> None:
    back, asked = threading.Event(), []

    def hangs() -> bool:
        asked.append(1)
        return back.wait(10.0)

    look = LockLook(hangs)
    began = time.monotonic()
    assert [look() for _ in range(3)] == [None] * 3
    assert time.monotonic() - began < 5.0
    assert len(asked) == 1
    back.set()
    for _ in range(100):
        answer = look()
        if answer is not None:
            break
    assert answer is True
