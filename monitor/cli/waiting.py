"""What a command does while a disk does not answer: it says so, and waits."""

import sys
import threading
from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

from monitor.journal.answering import answering

SAID_AFTER_S = 2.0
AGAIN_S = 30.0
STEP_S = 0.1
"""A key that leaves is heard so soon."""

T = TypeVar("T")


def wait_for(where: str, said_after_s: float = SAID_AFTER_S) -> "_Waited":
    """Wait for a place to answer, and tell of it if it does not.

    It is tried from outside: nobody could leave while a disk keeps this very process.
    """
    waited = _Waited(where, said_after_s)
    while answering([Path(where)], STEP_S)[1]:
        waited.step(_pause)
    return waited


def answered(work: Callable[[], T], where: str, said_after_s: float = SAID_AFTER_S) -> T:
    """Give what ``work`` gives, or raise what it raises, and tell of a disk that keeps it.

    First the place ``where`` is waited for; then it is done in a thread of its own.
    """
    waited = wait_for(where, said_after_s)
    done: list[T] = []
    failed: list[BaseException] = []

    def run() -> None:
        try:
            done.append(work())
        except BaseException as error:  # noqa: BLE001 - handed on to whoever waits
            failed.append(error)

    thread = threading.Thread(target=run, name="disk", daemon=True)
    thread.start()
    while thread.is_alive():
        waited.step(thread.join)
    if failed:
        raise failed[0]
    return done[0]


class _Waited:
    """How long has been waited for a disk, and when that is told next."""

    def __init__(self, where: str, said_after_s: float) -> None:
        self._where = where
        self._s, self._due_s = 0.0, said_after_s
        self._step_s = min(STEP_S, said_after_s)

    def step(self, wait: Callable[[float], object]) -> None:
        """Wait a little, and tell of it if it is time."""
        wait(self._step_s)
        self._s += self._step_s
        if self._s >= self._due_s:
            self._due_s = self._s + AGAIN_S
            print(_WORDS.format(where=self._where), file=sys.stderr, flush=True)


def _pause(seconds: float) -> None:
    threading.Event().wait(seconds)


_WORDS = """\
outby: THE DISK DOES NOT ANSWER: {where}
  USE VOICE AND PAPER. This waits until it does. A recorder that runs goes on
  hearing, sounding and sending orders. Ctrl-C leaves; a new incident on another
  disk: outby watch FOLDER/NAME.journal"""
