"""Wearers by the kind of work they do, for trials of many wears.

A population is data: the share of time at each level of work, and how long a spell at one lasts on
average. Spells follow one another at random, each as long as an exponential draw, so the next
never depends on the last. The levels are measured (``wearer``); the shares and the spells are
invented, so that the mean is what was measured of such work.
"""

from dataclasses import dataclass
from random import Random
from typing import Literal

from simulators.randoms import waiting
from simulators.wearer import Wearer, Work

SPELL_NS = 150_000_000_000
"""Work is done in spells of minutes (invented)."""


@dataclass(frozen=True, slots=True)
class Population:
    """A kind of work."""

    name: str
    shares: tuple[tuple[Work, float], ...]
    """Share of time at each level; they add up to 1."""
    spell_ns: int = SPELL_NS
    breathing: float = 1.0
    """Everyone breathes so many times the mean of their work."""


CALM = Population(
    "calm",
    (
        (Work.REST, 0.10), (Work.WALK, 0.40), (Work.SEARCH, 0.32), (Work.WAY_OUT, 0.10),
        (Work.TASKS, 0.08),
    ),
)  # fmt: skip
"""Search with hardly a hard task: 43 L/min."""
MIXED = Population(
    "mixed",
    (
        (Work.REST, 0.05), (Work.WALK, 0.35), (Work.SEARCH, 0.35), (Work.TASKS, 0.15),
        (Work.HEAVY, 0.05), (Work.CLIMB, 0.05),
    ),
)  # fmt: skip
"""The same with more peaks: 55 L/min."""
HARD = Population(
    "hard",
    ((Work.SEARCH, 0.25), (Work.TASKS, 0.42), (Work.HEAVY, 0.25), (Work.CLIMB, 0.08)),
)
"""Firefighters' tasks in a row, 82 +- 14 L/min over 22 minutes between people (Holmer & Gavhed,
Appl. Ergon. 38 (2007) 45-52)."""
LARGE = Population("large", CALM.shares, breathing=1.3)
"""Calm, and everyone breathes 30 % more than measured."""
STAIRS = Population(
    "stairs",
    ((Work.CLIMB, 0.52), (Work.WALK, 0.40), (Work.REST, 0.08)),
    spell_ns=20_000_000_000,
)
"""Climbing a high building, a flight or two at a time, 80 L/min: of 36 people the first used three
quarters of 1240 L in 8 min and 19 before 12 min (Williams-Bell et al., Appl. Ergon. 41 (2010)
251-259)."""
POPULATIONS = (CALM, MIXED, HARD, LARGE, STAIRS)

TaskName = Literal["calm", "mixed", "hard", "stairs"]
TASKS: dict[TaskName, Population] = {
    "calm": CALM, "mixed": MIXED, "hard": HARD, "stairs": STAIRS,
}  # fmt: skip
"""Kinds of work that a scenario can give."""


class Worker:
    """A wearer at one kind of work, moved through time by ``advance``."""

    __slots__ = ("_population", "_random", "_turn_ns", "wearer")

    def __init__(self, population: Population, wearer: Wearer, spells: Random) -> None:
        """Begin where the wearer is; ``spells`` is the generator of what they do."""
        self._population = population
        self._random = spells
        self.wearer = wearer
        wearer.work = self._next()
        self._turn_ns = wearer.now_ns + self._spell_ns()

    @classmethod
    def of(cls, population: Population, random: Random, spells: Random) -> "Worker":
        """One of many: a person of their own generator, at it for some time."""
        worker = cls(population, Wearer(random, 0), spells)
        worker.wearer.settle()
        worker.wearer.breathing *= population.breathing
        return worker

    def advance(self, to_ns: int) -> float:
        """Live on to a time; gives the litres breathed. Never backwards."""
        litres = 0.0
        while self._turn_ns <= to_ns:
            litres += self.wearer.advance(self._turn_ns)
            self.wearer.work = self._next()
            self._turn_ns += self._spell_ns()
        return litres + self.wearer.advance(to_ns)

    def _spell_ns(self) -> int:
        return round(waiting(self._random, self._population.spell_ns))

    def _next(self) -> Work:
        draw = self._random.random()
        for work, share in self._population.shares:
            draw -= share
            if draw < 0.0:
                return work
        return self._population.shares[-1][0]
