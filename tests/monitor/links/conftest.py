"""An inbox that a test can wait on, with a limit and without sleeping."""

import threading
from collections.abc import Callable

import pytest

from monitor.links.chunk import Chunk, Item
from monitor.links.inbox import Inbox

WAIT_S = 5.0


class Waiting:
    """An inbox and the event that its wake-up sets."""

    def __init__(self) -> None:
        self.woken = threading.Event()
        self.wakes = 0
        self.inbox = Inbox(self._wake)
        self.items: list[Item] = []

    def _wake(self) -> None:
        self.wakes += 1
        self.woken.set()

    def until(self, enough: Callable[[list[Item]], bool]) -> list[Item]:
        """Take until ``enough`` of all that has come; fails after 5 s without anything."""
        while not enough(self.items):
            assert self.woken.wait(WAIT_S), f"nothing more came; so far {self.items!r}"
            self.woken.clear()
            self.items += self.inbox.take()
        return self.items

    def stream(self, length: int) -> bytes:
        """Everything read, joined, once it is so long."""
        self.until(lambda items: sum(len(i.data) for i in items if isinstance(i, Chunk)) >= length)
        return b"".join(i.data for i in self.items if isinstance(i, Chunk))


@pytest.fixture
def waiting() -> Waiting:
    return Waiting()
