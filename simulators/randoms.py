"""One seed for a run, one child generator for each thing in it.

A child's numbers depend on the seed and its own name alone, so that adding a pack to a scenario, or
asking one for more numbers, never shifts the others. Only ``random()`` of the standard generator
is used: its sequence is fixed for a seed in every version of Python.
"""

import hashlib
import math
from random import Random
from statistics import NormalDist

_STANDARD = NormalDist()
_EDGE = 1e-12
"""Keeps a draw of exactly 0 out of functions that have no value there."""


def child(seed: int, *name: str | int) -> Random:
    """Give the generator of ``name`` in the run of ``seed``, always the same."""
    text = "/".join(str(part) for part in (seed, *name))
    digest = hashlib.blake2s(text.encode(), digest_size=16).digest()
    return Random(int.from_bytes(digest, "big"))


def between(random: Random, low: float, high: float) -> float:
    """Draw evenly between two values."""
    return low + (high - low) * random.random()


def normal(random: Random, mean: float, deviation: float, *, within: float = 3.0) -> float:
    """Draw from a normal distribution, held to ``within`` deviations of its mean."""
    standard = _STANDARD.inv_cdf(max(random.random(), _EDGE))
    return mean + deviation * min(max(standard, -within), within)


def waiting(random: Random, mean: float) -> float:
    """Draw the time to the next of events that come ``mean`` apart, at random."""
    return -mean * math.log(1.0 - random.random())
