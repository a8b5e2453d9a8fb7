"""What walls, bodies and smoke add to the loss of a path: log-normal, correlated in place and time.

One field for each base radio, the same for everybody: two wearers who stand together are shaded
together, and who stands in a hole stays in it until they move or it passes. The field is a sum of
waves in place and time, drawn once from the seed, so it needs no memory and nobody's questions
change it. In decibels its spread is the one asked for, and the correlation between two places and
times falls as exp(-r), r = sqrt((metres / over_m)^2 + (seconds / over_s)^2): exponential in the
distance as Gudmundson has it (Electronics Letters 27 (1991) 2145-2146, from memory).

A wave vector that is a normal vector over the size of a normal number is drawn from the Cauchy
distribution in as many dimensions, and that one's transform is exp(-r).
"""

import math
from random import Random

from simulators.radio import Shadowing
from simulators.randoms import normal
from simulators.whereabouts import STOREY_M, Point

WAVES = 32
"""Enough to be near normal; each costs a cosine a frame."""
_TURN = 2.0 * math.pi
_SECOND_NS = 1e9
_LEAST = 1e-6
"""Keeps the longest draw of a wave vector finite."""


class Field:
    """The shadowing of one base radio's surroundings."""

    __slots__ = ("_over_m", "_over_ns", "_scale_db", "_waves")

    def __init__(self, random: Random, plan: Shadowing) -> None:
        """Draw it."""
        self._over_m = plan.over_m
        self._over_ns = plan.over_s * _SECOND_NS
        self._scale_db = plan.spread_db * math.sqrt(2.0 / WAVES)
        self._waves = [_wave(random) for _ in range(WAVES)]

    def db(self, where: Point, now_ns: int) -> float:
        """What is added to the level at a place and time; mean 0."""
        x, y = where.x_m / self._over_m, where.y_m / self._over_m
        z, t = where.floor * STOREY_M / self._over_m, now_ns / self._over_ns
        total = 0.0
        for a, b, c, d, phase in self._waves:
            total += math.cos(a * x + b * y + c * z + d * t + phase)
        return self._scale_db * total


def _wave(random: Random) -> tuple[float, float, float, float, float]:
    a, b, c, d, size = (normal(random, 0.0, 1.0, within=6.0) for _ in range(5))
    size = max(abs(size), _LEAST)
    return a / size, b / size, c / size, d / size, _TURN * random.random()
