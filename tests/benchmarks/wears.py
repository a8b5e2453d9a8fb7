"""Wears of which all is known: what a pack told of each, and what was true.

Wearers and cylinders are the simulators' own, with their own gas; the pack tells whole bars,
rounded down, about every 5 s, and every fifth report is lost. Drawing cools the gas.

The first wears of each kind, by number, are those that are scored. Nothing is settled by them: who
tries a constant takes others.
"""

import math
from bisect import bisect_left
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from random import Random

from simulators.cylinder import Cylinder
from simulators.pack import SPREAD
from simulators.populations import Population, Worker
from simulators.randoms import between, child, waiting
from simulators.wearer import Work

S = 1_000_000_000
FILL_BAR = 300.0
LOW_BAR = 105.0
"""35 % of the rated pressure."""
INTERVAL_S = 5
LOSS = 0.2
LONGEST_S = 7200
RECKONED_C = 30.0
"""Gas temperature of all counting, and of contents where the pack does not tell it: the rules'."""
EARLIER, EARLIER_S = 3, 1200.0
LEAKS_AT_S = (60.0, 600.0)
HIGH_BAR = 10.0
EMPTY_L = 1.0
"""Less is less than a breath. An empty cylinder warms again, and never quite stays so."""
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
    rest_s: float = 0.0
    """On air at rest at the door, before the way in begins and the work."""
    history: Population | None = None
    """The work of earlier wears; None: the same."""
    stuck_s: float = 0.0
    """For so long the gauge stands still, once, from a random time on."""
    high_each_s: float = 0.0
    """One reading 10 bar too high about so often."""
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
    told_c: list[int | None] = field(default_factory=list)
    """Gas temperature as told."""
    arrived: list[bool] = field(default_factory=list)
    left_l: list[float] = field(default_factory=list)
    """True usable air."""
    rate_l_min: list[float] = field(default_factory=list)
    """True rate."""
    leak_s: float = math.inf
    """When the leak began."""
    low_s: float = math.inf
    """When the true pressure came to the low-air value."""

    def gas_c(self, n: int) -> float:
        """As told in a report, else the rules' value."""
        told = self.told_c[n]
        return RECKONED_C if told is None else float(told)

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
        (_earlier_worker(wear, n).advance(round(EARLIER_S * S)), EARLIER_S) for n in range(EARLIER)
    ]


def _earlier_worker(wear: Wear, n: int) -> Worker:
    kind = wear.kind
    work = kind.population if kind.history is None else kind.history
    return _worker(replace(kind, population=work), wear.seed, f"earlier {n}")


class _Resting:
    """Somebody who rests at the door for a while, and then works."""

    def __init__(self, worker: Worker, until_s: float) -> None:
        self._worker, self._until_ns = worker, round(until_s * S)
        if until_s:
            self._work = worker.wearer.work
            worker.wearer.work = Work.REST
            worker.wearer.settle()

    def advance(self, to_ns: int) -> float:
        """Live on to a time; gives the litres breathed."""
        wearer = self._worker.wearer
        if to_ns <= self._until_ns:
            return wearer.advance(to_ns)
        litres = 0.0
        if wearer.now_ns < self._until_ns:
            litres = wearer.advance(self._until_ns)
            wearer.work = self._work
        return litres + self._worker.advance(to_ns)


def _worker(kind: Kind, seed: int, which: str) -> Worker:
    name = (seed, "air", kind.population.name)
    return Worker.of(kind.population, child(*name, "wearer"), child(*name, "spells", which))


class _Gauge:
    """What it shows of the true pressure."""

    def __init__(self, kind: Kind, random: Random) -> None:
        self._kind, self._random = kind, random
        self._from_s = between(random, *LEAKS_AT_S) if kind.stuck_s else math.inf
        self._stuck_bar: float | None = None
        self._high_s = waiting_s(random, kind.high_each_s)

    def shows(self, t_s: float, bar: float) -> float:
        """The pressure as told."""
        if self._from_s <= t_s < self._from_s + self._kind.stuck_s:
            self._stuck_bar = bar if self._stuck_bar is None else self._stuck_bar
            return self._stuck_bar
        if t_s >= self._high_s:
            self._high_s = t_s + waiting_s(self._random, self._kind.high_each_s)
            return bar + HIGH_BAR
        return bar


def waiting_s(random: Random, each_s: float) -> float:
    """Until the next of what comes about so often; never for 0."""
    return waiting(random, round(each_s * S)) / S if each_s else math.inf


def _wear(kind: Kind, seed: int) -> Wear:
    person = _worker(kind, seed, "now")
    worker = _Resting(person, kind.rest_s)
    radio = child(seed, "air", kind.population.name, "radio")
    cylinder = Cylinder(kind.water_volume_l, FILL_BAR, kind.gas_c)
    wear = Wear(kind, seed)
    if kind.leak_l_min:
        wear.leak_s = between(radio, *LEAKS_AT_S)
    gauge = _Gauge(kind, child(seed, "air", kind.population.name, "gauge"))
    t_s, bar, span_s = 0.0, FILL_BAR, 0.0
    while t_s < LONGEST_S:
        wear.t_s.append(t_s)
        wear.bar.append(gauge.shows(t_s, float(math.floor(max(0.0, bar + SETTLED_BAR)))))
        wear.told_c.append(round(cylinder.temperature_c) if kind.tells_c else None)
        wear.arrived.append(radio.random() >= LOSS)
        wear.left_l.append(cylinder.usable_l)
        wear.rate_l_min.append(person.wearer.rate_l_min)
        if cylinder.usable_l <= EMPTY_L:
            break
        span_s = between(radio, *SPREAD) * INTERVAL_S
        t_s += span_s
        leaked = max(0.0, min(span_s, t_s - wear.leak_s)) / 60.0 * kind.leak_l_min
        cylinder.live(worker.advance(round(t_s * S)) + leaked, kind.around_c, span_s)
        before, bar = bar, cylinder.pressure_bar
        if bar <= LOW_BAR < before:
            wear.low_s = t_s - span_s * (LOW_BAR - bar) / (before - bar)
    return wear
