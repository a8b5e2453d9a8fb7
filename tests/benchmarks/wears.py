"""Wears of which all is known: what a pack told of each, and what was true.

Wearers and cylinders are the simulators' own, with their own gas; the pack tells whole bars,
rounded down, about every 5 s, and every fifth report is lost.
"""

import math
from bisect import bisect_left
from collections.abc import Iterator
from dataclasses import dataclass, field

from simulators.cylinder import Cylinder
from simulators.pack import SPREAD
from simulators.populations import Population, Worker
from simulators.randoms import between, child

S = 1_000_000_000
FILL_BAR = 300.0
LOW_BAR = 105.0
"""35 % of the rated pressure."""
INTERVAL_S = 5
LOSS = 0.2
LONGEST_S = 7200
UNTOLD_C = 30.0
"""Gas temperature taken where the pack does not tell it, the warm side."""
EARLIER, EARLIER_S = 3, 1200.0
LEAKS_AT_S = (60.0, 600.0)
SETTLED_BAR = 1e-6
"""A cylinder at 300 bar reads 300."""


@dataclass(frozen=True, slots=True)
class Kind:
    """What kind of wear."""

    name: str
    population: Population
    water_volume_l: float = 6.8
    gas_c: float = 15.0
    around_c: float = 15.0
    """The gas follows slowly."""
    tells_c: bool = True
    """The pack tells the temperature of its gas, in whole degrees."""
    leak_l_min: float = 0.0
    """From a random time on, beside what is breathed."""


@dataclass(slots=True)
class Wear:
    """One of them, from connecting to empty. Lists run side by side."""

    kind: Kind
    seed: int
    t_s: list[float] = field(default_factory=list)
    """Each report, arrived or lost."""
    bar: list[float] = field(default_factory=list)
    """As told."""
    gas_c: list[float] = field(default_factory=list)
    """What the monitor reckons with: as told, else the usual value."""
    arrived: list[bool] = field(default_factory=list)
    left_l: list[float] = field(default_factory=list)
    """True usable air."""
    rate_l_min: list[float] = field(default_factory=list)
    """True rate."""
    leak_s: float = math.inf
    """When the leak began."""
    low_s: float = math.inf
    """When the true pressure came to the low-air value."""

    def true_left_l(self, t_s: float) -> float:
        """Usable air at a time: at the first report from then on; nothing after the last."""
        at = bisect_left(self.t_s, t_s)
        return self.left_l[at] if at < len(self.t_s) else 0.0


def wears(kind: Kind, count: int) -> Iterator[Wear]:
    """So many, always the same."""
    return (_wear(kind, seed) for seed in range(count))


def earlier(wear: Wear) -> list[tuple[float, float]]:
    """Litres and seconds of other wears of the same person at the same kind of work."""
    return [
        (_worker(wear.kind, wear.seed, f"earlier {n}").advance(round(EARLIER_S * S)), EARLIER_S)
        for n in range(EARLIER)
    ]


def _worker(kind: Kind, seed: int, which: str) -> Worker:
    name = (seed, "air", kind.population.name)
    return Worker.of(kind.population, child(*name, "wearer"), child(*name, "spells", which))


def _wear(kind: Kind, seed: int) -> Wear:
    worker = _worker(kind, seed, "now")
    radio = child(seed, "air", kind.population.name, "radio")
    cylinder = Cylinder(kind.water_volume_l, FILL_BAR, kind.gas_c)
    wear = Wear(kind, seed)
    if kind.leak_l_min:
        wear.leak_s = between(radio, *LEAKS_AT_S)
    t_s, bar, span_s = 0.0, FILL_BAR, 0.0
    while t_s < LONGEST_S:
        wear.t_s.append(t_s)
        wear.bar.append(float(math.floor(max(0.0, bar + SETTLED_BAR))))
        wear.gas_c.append(round(cylinder.temperature_c) if kind.tells_c else UNTOLD_C)
        wear.arrived.append(radio.random() >= LOSS)
        wear.left_l.append(cylinder.usable_l)
        wear.rate_l_min.append(worker.wearer.rate_l_min)
        if cylinder.usable_l <= 0.0:
            break
        span_s = between(radio, *SPREAD) * INTERVAL_S
        t_s += span_s
        leaked = max(0.0, min(span_s, t_s - wear.leak_s)) / 60.0 * kind.leak_l_min
        cylinder.live(worker.advance(round(t_s * S)) + leaked, kind.around_c, span_s)
        before, bar = bar, cylinder.pressure_bar
        if bar <= LOW_BAR < before:
            wear.low_s = t_s - span_s * (LOW_BAR - bar) / (before - bar)
    return wear
