"""A wearer: how hard they work, what they breathe, whether they move.

Minute volumes are means measured on firefighters; a person stands off from the mean by a factor
of their own (spread 13.7 % at one standardised pace: Langford et al., JOEM 66 (2024) 932-942).
After a change of work, ventilation follows as a first-order exponential of rate constant
0.93 a minute, half-time 45 s (Stein, man tests for breathing apparatus, NIOSH 1980).
The slow wander of the work itself is invented.

A crew works as one: its members share half of what makes them stand off from the mean, both of
the person and of the wander (invented: no measured figure was found). Each draws the crew's share
from a generator of the crew's name, so none depends on who else is there.

Time is integer ns of the run. A minute volume is counted as free air.
"""

import math
from enum import StrEnum
from random import Random

from simulators.movement import Movement
from simulators.randoms import normal

MINUTE_NS = 60_000_000_000
LAG_PER_MIN = 0.93
PERSON_SPREAD = 0.137
WANDER_NS = 10_000_000_000
"""The work wanders a little this often ..."""
WANDER_KEPT = 0.8
"""... keeping so much of where it was ..."""
WANDER_SPREAD = 0.05
"""... so that it stays about a twelfth of the mean off: .05 / sqrt(1 - .8 x .8)."""
CREW_SHARE = 0.5
"""Of the variance, what is the crew's: the correlation between two of its members."""


class Work(StrEnum):
    """What a wearer does, by how hard it is."""

    REST = "rest"
    WALK = "walk"
    SEARCH = "search"
    WAY_OUT = "way_out"
    TASKS = "tasks"
    HEAVY = "heavy"
    CLIMB = "climb"


MINUTE_VOLUME_L = {
    Work.REST: 10.0,  # 8 to 12 at rest, teaching table of a maritime school
    Work.WALK: 38.0,  # Medbo et al., JOSE (2019): the lightest of five tasks
    Work.SEARCH: 49.9,  # 420 m tunnel, blindfolded search, way in
    Work.WAY_OUT: 38.9,  # the same, way out
    Work.TASKS: 82.0,  # Holmer & Gavhed, Appl. Ergon. 38 (2007): 22 min of simulated tasks
    Work.HEAVY: 102.0,  # the same: the heaviest task
    Work.CLIMB: 124.0,  # Medbo et al.: ladder climb, the heaviest of the five
}
"""Mean minute volume of each, L/min."""


class Wearer:
    """One person, moved through time by ``advance``; the deeds between are the scenario's."""

    __slots__ = (
        "_crew", "_next_wander_ns", "_random", "_wander",
        "breathing", "movement", "now_ns", "rate_l_min", "work",
    )  # fmt: skip

    def __init__(
        self,
        random: Random,
        now_ns: int,
        *,
        crew: Random | None = None,
        work: Work = Work.REST,
        breathing: float | None = None,
    ) -> None:
        """Be at steady work. ``breathing`` is the person's factor to the mean; None draws it.

        ``crew`` is a generator that each member begins anew; None: works alone.
        """
        self._random = random
        self._crew = crew
        drawn = self._stand_off(1.0, PERSON_SPREAD, within=2.0)
        self.breathing = drawn if breathing is None else breathing
        self.movement = Movement(random, now_ns)
        self.work = work
        self._wander = 0.0
        self.now_ns = now_ns
        self._next_wander_ns = now_ns + WANDER_NS
        self.rate_l_min = self._target_l_min()

    def advance(self, to_ns: int) -> float:
        """Live on to a time; gives the litres breathed. Never backwards."""
        litres = 0.0
        while self._next_wander_ns <= to_ns:
            litres += self._breathe(self._next_wander_ns)
            step = self._stand_off(0.0, WANDER_SPREAD, within=3.0)
            self._wander = WANDER_KEPT * self._wander + step
            self._next_wander_ns += WANDER_NS
        return litres + self._breathe(to_ns)

    def settle(self) -> None:
        """Breathe as if at this work for long."""
        self.rate_l_min = self._target_l_min()

    def _stand_off(self, mean: float, spread: float, *, within: float) -> float:
        """Draw from a normal distribution, in part with the crew."""
        own = normal(self._random, mean, spread, within=within)
        if self._crew is None:
            return own
        crew = normal(self._crew, 0.0, spread, within=within)
        off = math.sqrt(1.0 - CREW_SHARE) * (own - mean) + math.sqrt(CREW_SHARE) * crew
        return mean + off

    def _breathe(self, to_ns: int) -> float:
        """Follow the first-order lag exactly over a stretch of steady work."""
        span_min = (to_ns - self.now_ns) / MINUTE_NS
        if span_min <= 0.0:
            return 0.0
        target = self._target_l_min()
        faded = (self.rate_l_min - target) * -math.expm1(-LAG_PER_MIN * span_min)
        self.rate_l_min -= faded
        self.now_ns = to_ns
        return target * span_min + faded / LAG_PER_MIN

    def _target_l_min(self) -> float:
        work = Work.REST if self.movement.held(self.now_ns) else self.work
        return MINUTE_VOLUME_L[work] * self.breathing * (1.0 + self._wander)
