"""Whether a wearer moves: short pauses of their own, and the stillness a scenario asks for."""

from random import Random

from simulators.randoms import between, waiting

SECOND_NS = 1_000_000_000
FOREVER_NS = 1 << 62
"""Longer than any run: a collapse."""
PAUSE_APART_S = 40.0
"""Mean time between short pauses (invented)."""
PAUSE_S = (2.0, 9.0)
"""How long one lasts: shorter than any motion sensor waits."""


class Movement:
    """Asked at times that never go back; a stillness is a stretch [from, to) without a move."""

    __slots__ = ("_held_from_ns", "_held_to_ns", "_pause_from_ns", "_pause_to_ns", "_random")

    def __init__(self, random: Random, now_ns: int) -> None:
        """Start moving."""
        self._random = random
        self._held_from_ns = self._held_to_ns = now_ns
        self._pause_from_ns = self._pause_to_ns = now_ns
        self._draw_pause()

    def last_moved_ns(self, now_ns: int) -> int:
        """When they last moved: ``now_ns`` itself unless they are still."""
        while self._pause_to_ns <= now_ns:
            self._draw_pause()
        if self._held_from_ns <= now_ns < self._held_to_ns:
            return self._held_from_ns
        if self._pause_from_ns <= now_ns:
            return max(self._pause_from_ns, self._held_to_ns)
        return now_ns

    def moves_again_ns(self, now_ns: int) -> int:
        """When the present stillness ends: ``now_ns`` itself if they move."""
        if self.held(now_ns):
            return self._held_to_ns
        return self._pause_to_ns if self.last_moved_ns(now_ns) < now_ns else now_ns

    def held(self, now_ns: int) -> bool:
        """Still because the scenario says so, not for a pause."""
        return self._held_from_ns <= now_ns < self._held_to_ns

    def hold(self, now_ns: int, for_ns: int) -> None:
        """Be still from now on, for so long."""
        self._held_from_ns = now_ns
        self._held_to_ns = min(now_ns + for_ns, FOREVER_NS)

    def release(self, now_ns: int) -> None:
        """Move again now, whatever was asked before."""
        self._held_to_ns = min(self._held_to_ns, now_ns)
        self._pause_to_ns = min(self._pause_to_ns, now_ns)

    def _draw_pause(self) -> None:
        start_s = waiting(self._random, PAUSE_APART_S)
        self._pause_from_ns = self._pause_to_ns + round(start_s * SECOND_NS)
        length_s = between(self._random, *PAUSE_S)
        self._pause_to_ns = self._pause_from_ns + round(length_s * SECOND_NS)
