"""Fakes that several parts' tests share, handed out as fixtures."""

import sys

import pytest
from hypothesis import settings

from monitor.clock import Clock, Stamp
from tests.depth import DEPTH

# No test fails because a machine is slow, and the gate draws the same each time: what is found by
# luck is looked for by `make search`.
settings.register_profile("outby", deadline=None, derandomize=DEPTH == 1)
settings.load_profile("outby")


class FakeClock(Clock):
    """A clock that moves only when told, and counts how often it was read."""

    def __init__(
        self, boot_ns: int = 1_000_000_000, wall_ns: int = 1_700_000_000_000_000_000
    ) -> None:
        super().__init__()
        self.now_boot_ns = boot_ns
        self.now_wall_ns = wall_ns
        self.now_boot_id = "00000000-0000-4000-8000-000000000001"
        self.readings = 0

    def boot_ns(self) -> int:
        self.readings += 1
        return self.now_boot_ns

    def wall_ns(self) -> int:
        self.readings += 1
        return self.now_wall_ns

    def boot_id(self) -> str:
        return self.now_boot_id

    def stamp(self) -> Stamp:
        return Stamp(self.boot_ns(), self.wall_ns())

    def pass_ns(self, by_ns: int) -> None:
        """Let time pass on both clocks."""
        self.now_boot_ns += by_ns
        self.now_wall_ns += by_ns

    def set_wall_by_ns(self, by_ns: int) -> None:
        """Somebody sets the wall clock; the boot clock knows nothing of it."""
        self.now_wall_ns += by_ns


@pytest.fixture
def clock() -> FakeClock:
    """Return a clock of the test's own."""
    return FakeClock()


@pytest.fixture
def without_signing(monkeypatch: pytest.MonkeyPatch) -> None:
    """An installation without the extra: an entry of None cannot be imported."""
    for name in [name for name in sys.modules if name.startswith("cryptography")]:
        monkeypatch.delitem(sys.modules, name)
    monkeypatch.setitem(sys.modules, "cryptography", None)
