"""Where a wearer is: a point of the building, the way there, and the way back.

The way out takes the time that the way in took. Distances are metres, floors are counted from the
one that the ways in are on; between floors a wearer is on the stairs. Asked at times that never
go back.
"""

import math
from typing import NamedTuple

STOREY_M = 3.0
"""Height of a floor (invented)."""
PACE_M_S = 0.39
"""Searching blindfolded, way in: 420 m tunnel, full-scale search and rescue trials."""
STAIRS_S = 20.0
"""For a floor up or down, with equipment (invented)."""


class Point(NamedTuple):
    """A place as the radio sees it."""

    x_m: float
    y_m: float
    floor: float

    def metres_to(self, other: "Point") -> float:
        """As the crow flies, never under a metre: nearer the radio's figures do not reach."""
        up_m = (self.floor - other.floor) * STOREY_M
        return max(math.hypot(self.x_m - other.x_m, self.y_m - other.y_m, up_m), 1.0)

    def floors_to(self, other: "Point") -> int:
        """Ceilings between; on the stairs the nearer floor counts."""
        return math.floor(abs(self.floor - other.floor) + 0.5)


def pace_s(start: Point, end: Point) -> float:
    """How long a searching crew takes from one point to another, where a scenario does not say."""
    level_m = math.hypot(start.x_m - end.x_m, start.y_m - end.y_m)
    return level_m / PACE_M_S + abs(start.floor - end.floor) * STAIRS_S


class Whereabouts:
    """One leg of the way after the other, each walked evenly."""

    __slots__ = ("_from", "_from_ns", "_homeward", "_to", "_to_ns", "_way_ns", "door")

    def __init__(self, door: Point) -> None:
        """Stand at the door."""
        self.door = door
        self._from = self._to = door
        self._from_ns = self._to_ns = 0
        self._way_ns = 0
        self._homeward = False

    @property
    def arrives_ns(self) -> int:
        """When the present leg ends, or ended."""
        return self._to_ns

    @property
    def homeward(self) -> bool:
        """Whether the present leg leads, or led, back to the door."""
        return self._homeward

    def at(self, now_ns: int) -> Point:
        """The point."""
        if now_ns >= self._to_ns:
            return self._to
        gone = self._gone_ns(now_ns) / (self._to_ns - self._from_ns)
        start, end = self._from, self._to
        return Point(*(a + (b - a) * gone for a, b in zip(start, end, strict=True)))

    def way_back_ns(self, now_ns: int) -> int:
        """How long the way to the door takes from here."""
        gone_ns = self._gone_ns(now_ns)
        return max(self._way_ns - gone_ns, 0) if self._homeward else self._way_ns + gone_ns

    def go(self, now_ns: int, over_ns: int, to: Point, *, homeward: bool = False) -> None:
        """Set out for a point, there after so long; ``homeward``: it is the door."""
        self._set_out(now_ns, over_ns, to, homeward=homeward)

    def go_back(self, now_ns: int) -> None:
        """Set out for the door; the way takes what the way in took."""
        self._set_out(now_ns, self.way_back_ns(now_ns), self.door, homeward=True)

    def halt(self, now_ns: int, until_ns: int) -> None:
        """Stand where one is until an instant, then go on."""
        if now_ns < self._to_ns:
            left_ns = self._to_ns - max(now_ns, self._from_ns)
            self._set_out(now_ns, left_ns, self._to, homeward=self._homeward)
            self._from_ns, self._to_ns = until_ns, until_ns + left_ns

    def go_on(self, now_ns: int) -> None:
        """End a halt before its time."""
        if now_ns < self._from_ns:
            self._to_ns -= self._from_ns - now_ns
            self._from_ns = now_ns

    def _gone_ns(self, now_ns: int) -> int:
        return min(max(now_ns, self._from_ns), self._to_ns) - self._from_ns

    def _set_out(self, now_ns: int, over_ns: int, to: Point, *, homeward: bool) -> None:
        self._way_ns, self._from = self.way_back_ns(now_ns), self.at(now_ns)
        self._to, self._homeward = to, homeward
        self._from_ns, self._to_ns = now_ns, now_ns + over_ns
