"""A follower as a source: what was announced, or ordered, is urgent once."""

from pathlib import Path
from types import SimpleNamespace
from typing import Any

from monitor.board.session.source import JournalSource


class FakeFollower:
    """Counts polls; hands out announcements once."""

    def __init__(self, announcements: tuple[int, ...]) -> None:
        self.waiting = announcements
        self.polls = 0
        self.horizon = 7
        self.catching_up = False
        self.path = Path("x.journal")
        self.incident = SimpleNamespace(
            take_announcements=self.take, air_detail=self.detail, orders_given=1
        )

    def take(self) -> tuple[int, ...]:
        taken, self.waiting = self.waiting, ()
        return taken

    def poll(self) -> bool:
        self.polls += 1
        return True

    def picture(self) -> str:
        return "picture"

    def detail(self, wearer: int) -> str:
        return f"all of {wearer}"


def test_everything_is_handed_on() -> None:
    follower: Any = FakeFollower((1,))
    source = JournalSource(follower)
    assert source.poll()
    assert follower.polls == 1
    assert source.urgent()
    assert not source.urgent()
    follower.incident.orders_given = 2
    assert source.urgent()
    assert not source.urgent()
    assert source.horizon == 7
    assert not source.catching_up
    picture: Any = source.picture()
    assert picture == "picture"
    detail: Any = source.air_detail(4)
    assert detail == "all of 4"
