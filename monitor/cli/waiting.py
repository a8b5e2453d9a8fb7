"""What a command does while a disk does not answer: it says so, and waits."""

import sys
import threading
from collections.abc import Callable
from typing import TypeVar

SAID_AFTER_S = 2.0
AGAIN_S = 30.0
STEP_S = 0.1
"""A key that leaves is heard so soon."""

T = TypeVar("T")


def answered(work: Callable[[], T], where: str, said_after_s: float = SAID_AFTER_S) -> T:
    """Give what ``work`` gives, or raise what it raises, and tell of a disk that keeps it.

    It is done in a thread of its own, which is left to itself if somebody leaves meanwhile.
    """
    done: list[T] = []
    failed: list[BaseException] = []

    def run() -> None:
        try:
            done.append(work())
        except BaseException as error:  # noqa: BLE001 - handed on to whoever waits
            failed.append(error)

    thread = threading.Thread(target=run, name="disk", daemon=True)
    thread.start()
    waited_s, due_s = 0.0, said_after_s
    while thread.is_alive():
        thread.join(min(STEP_S, said_after_s))
        waited_s += min(STEP_S, said_after_s)
        if thread.is_alive() and waited_s >= due_s:
            due_s = waited_s + AGAIN_S
            print(_WORDS.format(where=where), file=sys.stderr, flush=True)
    if failed:
        raise failed[0]
    return done[0]


_WORDS = """\
outby: THE DISK DOES NOT ANSWER: {where}
  USE VOICE AND PAPER. This waits until it does. A recorder that runs goes on
  hearing, sounding and sending orders. Ctrl-C leaves; a new incident on another
  disk: outby watch FOLDER/NAME.journal"""
