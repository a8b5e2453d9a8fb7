"""Whether a gauge can be believed, by itself: what it reads while its wearer breathes from the set.

    unreadable   the pack tells no pressure
    outside      under zero, or above what a full cylinder can come to
    rising       above the lowest reading by more than warming can do: another cylinder, refilled
    stuck        the same value although the wearer moved so long that the least breathing shows

A fault is told at each reading while it lasts. To rise, or to be low, takes two readings running:
one bad reading is noise. Not for a wearer who breathes from another supply, whose gauge rests
rightly.
"""

import math
from enum import StrEnum

SECOND_NS = 1_000_000_000
USUAL_STEP_BAR = 1.0
"""Most gauges tell whole bars (common practice)."""
FULL_MOST = 1.25
"""A 300 bar cylinder filled at 15 C reads 374 bar at 60 C, at constant contents (equation of state
of air, Lemmon et al. 2000)."""
WARMING = 0.11
"""Rise of pressure at constant contents by 20 K, as a share: 1.02 bar/K at 200 bar, 1.65 at 300,
2.15 at 379 (same source), so up to 0.57 % a kelvin. Whoever breathes meanwhile sees less."""
RISING_STEPS = 3
LEAST_L_MIN = 10.0
"""Nobody who moves breathes less: 8 to 12 L/min is rest (teaching table of a maritime school)."""
LARGEST_L = 13.6
"""Water volume of the largest usual set, two cylinders of 6.8 L: its gauge falls slowest."""
LITRES_PER_BAR_MOST = 1.1
"""Free air that a bar is at most, in each litre of water volume."""
STUCK_STEPS = 2
UNHEARD_S_MAX = 60.0
"""Nobody knows whether a wearer moved in a longer silence."""
STUCK_S_MIN = 60.0
"""However fine the step: a wearer may hold their breath, a pack may read its gauge seldom."""


class GaugeFault(StrEnum):
    """What is wrong."""

    UNREADABLE = "unreadable"
    OUTSIDE = "outside"
    RISING = "rising"
    STUCK = "stuck"


def stuck_after_s(step_bar: float) -> float:
    """How long a gauge may rest while its wearer moves: three minutes for whole bars."""
    litres = STUCK_STEPS * step_bar * LARGEST_L * LITRES_PER_BAR_MOST
    return max(STUCK_S_MIN, litres / LEAST_L_MIN * 60.0)


class GaugeCheck:
    """The gauge of one wear with one cylinder. One ``take`` a reading, in order of time."""

    __slots__ = ("_before_bar", "_held_bar", "_last_ns", "_lowest_bar", "_moved_s")

    def __init__(self) -> None:
        self._last_ns = 0
        self._held_bar = self._before_bar = self._lowest_bar = math.inf
        self._moved_s = 0.0

    def take(
        self,
        bar: float | None,
        t_ns: int,
        moving: bool,  # noqa: FBT001 - a reading is these three
        rated_bar: float | None,
        step_bar: float = USUAL_STEP_BAR,
    ) -> GaugeFault | None:
        """Judge a reading. ``bar`` None: the pack could not tell it."""
        passed_s = (t_ns - self._last_ns) / SECOND_NS
        self._last_ns = t_ns
        if bar is None or not math.isfinite(bar):
            return GaugeFault.UNREADABLE
        if bar < 0.0 or (rated_bar is not None and bar > FULL_MOST * rated_bar):
            return GaugeFault.OUTSIDE
        if abs(bar - self._held_bar) >= step_bar:
            self._held_bar = bar
            self._moved_s = 0.0
        elif moving:
            self._moved_s += min(passed_s, UNHEARD_S_MAX)
        before, self._before_bar = self._before_bar, bar
        if before == math.inf:
            return None
        self._lowest_bar = min(self._lowest_bar, max(before, bar))
        most = self._lowest_bar * (1.0 + WARMING) + RISING_STEPS * step_bar
        if min(before, bar) > most:
            return GaugeFault.RISING
        if self._moved_s <= STUCK_S_MIN or self._moved_s <= stuck_after_s(step_bar):
            return None
        return GaugeFault.STUCK
