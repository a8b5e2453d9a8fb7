"""What a wearer has before them: deeds in order of their time, and such as come up meanwhile."""

import heapq
from collections.abc import Iterable

from simulators.deeds import Deed
from simulators.movement import FOREVER_NS

SECOND_NS = 1_000_000_000


def seconds(value_s: float) -> int:
    """Seconds as in a scenario, in ns."""
    return round(value_s * SECOND_NS)


class Agenda:
    """Deeds at the same instant come in the order in which they were put down."""

    __slots__ = ("_deeds", "_put")

    def __init__(self, planned: Iterable[Deed]) -> None:
        """Begin with what the scenario plans."""
        self._deeds: list[tuple[int, int, bool, Deed]] = []
        self._put = 0
        for deed in planned:
            self._add(seconds(deed.at_s), deed, planned=True)

    @property
    def next_ns(self) -> int:
        """When the next one is due."""
        return self._deeds[0][0] if self._deeds else FOREVER_NS

    def put(self, at_ns: int, deed: Deed) -> None:
        """Put down what comes up: an inject, or what follows from a deed."""
        self._add(at_ns, deed, planned=False)

    def take(self) -> tuple[Deed, bool]:
        """Give the next one, and whether it was planned."""
        _, _, planned, deed = heapq.heappop(self._deeds)
        return deed, planned

    def _add(self, at_ns: int, deed: Deed, *, planned: bool) -> None:
        heapq.heappush(self._deeds, (at_ns, self._put, planned, deed))
        self._put += 1
