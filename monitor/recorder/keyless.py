"""What stands in for the keys of an incident that was opened with keys which cannot be had now.

A base that heard nothing would be the worse evil: packs are heard as before, but nothing that they
send proves anything, and every frame stands as not proven. Open frames are refused as they were.
Orders cannot be sent to them; the board says so (alarm KEYS LOST). Pure.
"""

from protocol.freshness import Proof
from protocol.integrity import Keyring, Use

_NO_KEY = bytes(32)
"""Makes no tag that anything is compared with."""


class LostKeys(Keyring):
    """Lets every keyed frame through, whatever its tag."""

    __slots__ = ()

    def __init__(self, use: Use) -> None:
        super().__init__({1: _NO_KEY}, use, 1)

    def holds(self, epoch: int) -> bool:
        """Any."""
        assert epoch >= 0, "a byte of a frame"
        return True

    def genuine(self, frame: bytes) -> bool:
        """Nobody can tell."""
        assert frame, "a frame that was long enough"
        return True


class NothingProven(Proof):
    """No pack is ever proven live."""

    __slots__ = ()

    def take(self, identity: int, boot: int, beacon_heard: int, now: int) -> bool:
        """Never."""
        del identity, boot, beacon_heard, now
        return False
