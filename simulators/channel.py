"""The air between one pack and the base: each frame gets through, or does not.

Losses are independent, of a given share; a shadow sets another share for a while. Every frame
draws its own numbers whether or not they decide anything, so that a shadow does not shift what
happens after it. Up and down draw from generators of their own.
"""

from random import Random

from simulators.randoms import normal

LEVEL_SPREAD_DB = 3.0
SHADOW_DB = 25.0
"""How much weaker a signal is that only just comes through a shadow (invented)."""


class Channel:
    """One pack's radio path, both ways."""

    __slots__ = (
        "_down", "_level_dbm", "_loss_down", "_loss_up", "_shadow_loss", "_shadow_to_ns", "_up",
    )  # fmt: skip

    def __init__(
        self, up: Random, down: Random, *, loss_up: float, loss_down: float, level_dbm: int
    ) -> None:
        """Losses are shares of frames, 0 to 1; the level is what the base hears in the open."""
        self._up = up
        self._down = down
        self._loss_up = loss_up
        self._loss_down = loss_down
        self._level_dbm = level_dbm
        self._shadow_loss = 0.0
        self._shadow_to_ns = 0

    def shade(self, now_ns: int, for_ns: int, loss: float) -> None:
        """Walk into a shadow; the last one asked for holds."""
        self._shadow_loss = loss
        self._shadow_to_ns = now_ns + for_ns

    def up(self, now_ns: int) -> int | None:
        """Level in dBm at which the base hears a frame sent now; None if it is lost."""
        shadow = self._shadow(now_ns)
        lost = self._up.random() < max(self._loss_up, shadow)
        level = normal(self._up, self._level_dbm - SHADOW_DB * shadow, LEVEL_SPREAD_DB)
        return None if lost else round(level)

    def down(self, now_ns: int) -> bool:
        """Whether the pack hears a frame of the base now."""
        return self._down.random() >= max(self._loss_down, self._shadow(now_ns))

    def _shadow(self, now_ns: int) -> float:
        return self._shadow_loss if now_ns < self._shadow_to_ns else 0.0
