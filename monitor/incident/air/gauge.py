"""Whether a gauge can be believed, by itself: what it reads while its wearer breathes from the set.

    unreadable   the pack tells no pressure
    outside      under zero, or above what a full cylinder can come to
    rising       above the lowest reading by more than warming can do: another cylinder, refilled
    stuck        it rests, or falls by less than the least breathing, over so long that that shows

A fault is told at each reading while it lasts. To rise, or to be low, takes two readings running:
one bad reading is noise. Not for a wearer who breathes from another supply, whose gauge rests
rightly.

Least breathing is taken by the motion that is told: whoever moves breathes ``LEAST_L_MIN``; whoever
is still, half of it; whose motion nobody knows is taken to move. A gauge that was stuck is believed
again once it falls as breathing makes it fall, and has come down by what the least breathing has
used since it was last believed, within what two gauges may differ by: one that only starts to move
again stays in doubt.
"""

import math
from enum import StrEnum

from protocol.packets import Motion

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
BREATHES = {
    Motion.UNKNOWN: 1.0,
    Motion.MOVING: 1.0,
    Motion.STILL: 0.5,
    Motion.PRE_ALARM: 0.0,
    Motion.ALARM: 0.0,
}
"""Least breathing as a share of ``LEAST_L_MIN``. Complete rest is 6 to 8 L/min (textbook
physiology, from memory). Whoever lies still may not breathe at all, and has an alarm for it."""
LARGEST_L = 13.6
"""Water volume of the largest usual set, two cylinders of 6.8 L: its gauge falls slowest."""
LITRES_PER_BAR_MOST = 1.1
"""Free air that a bar is at most, in each litre of water volume."""
STUCK_STEPS = 2
UNHEARD_S_MAX = 60.0
"""Nobody knows whether a wearer moved in a longer silence."""
STUCK_S_MIN = 60.0
"""However fine the step: a wearer may hold their breath, a pack may read its gauge seldom."""
WINDOW_S = 300.0
"""Over so much motion a gauge must have fallen by the least breathing, less one step; it is looked
at twice in each."""
AGREE_BAR = 10.0
"""Two readings of one gauge so close agree: one mark of a usual gauge (common practice)."""


class GaugeFault(StrEnum):
    """What is wrong."""

    UNREADABLE = "unreadable"
    OUTSIDE = "outside"
    RISING = "rising"
    STUCK = "stuck"


NOT_BELIEVED = frozenset({GaugeFault.UNREADABLE, GaugeFault.OUTSIDE, GaugeFault.STUCK})
"""Faults in which what the gauge tells is no reading."""


def most_bar(rated_bar: float | None) -> float:
    """The most that a cylinder of this rated pressure can come to; infinite if that is not told."""
    return math.inf if rated_bar is None else FULL_MOST * rated_bar


def is_outside(bar: float, rated_bar: float | None) -> bool:
    """Whether no cylinder of this rated pressure can hold it."""
    return not 0.0 <= bar <= most_bar(rated_bar)


def stuck_after_s(step_bar: float) -> float:
    """How long a gauge may rest while its wearer moves: three minutes for whole bars."""
    litres = STUCK_STEPS * step_bar * LARGEST_L * LITRES_PER_BAR_MOST
    return max(STUCK_S_MIN, litres / LEAST_L_MIN * 60.0)


_STUCK = GaugeFault.STUCK
Point = tuple[int, float, float, bytes]
"""A reading: when, in ns, the pressure, the motion until then, what the caller notes with it."""


class GaugeCheck:
    """The gauge of one wear with one cylinder. One ``take`` a reading, in order of time.

    Times of motion are seconds of a wearer who moves: at rest they count half.
    """

    __slots__ = (
        "_before_bar",
        "_held",
        "_last_ns",
        "_later",
        "_lowest_bar",
        "_moved_s",
        "_slow",
        "_window",
        "trusted",
    )

    def __init__(self) -> None:
        self._last_ns = 0
        self._moved_s = 0.0
        self._before_bar = self._lowest_bar = math.inf
        self._held: Point = (0, math.inf, 0.0, b"")
        """Where it came to rest."""
        self._window = self._later = self._held
        """Where the window began that is judged next, and the one half a window after it."""
        self._slow = False
        self.trusted: Point | None = None
        """While it is stuck, its last reading that is believed; None: it is not stuck."""

    def take(
        self,
        bar: float | None,
        t_ns: int,
        motion: Motion,
        rated_bar: float | None,
        step_bar: float = USUAL_STEP_BAR,
        litres_per_bar: float = LARGEST_L * LITRES_PER_BAR_MOST,
        note: bytes = b"",
    ) -> GaugeFault | None:
        """Judge a reading. ``bar`` None: the pack could not tell it.

        ``litres_per_bar``: free air that a bar is at most in this cylinder; ``note``: given back
        with ``trusted``.
        """
        if bar is None or not math.isfinite(bar):
            self._last_ns = t_ns
            return GaugeFault.UNREADABLE
        if is_outside(bar, rated_bar):
            self._last_ns = t_ns
            return GaugeFault.OUTSIDE
        return self.read(bar, t_ns, motion, step_bar, litres_per_bar, note)

    def read(
        self,
        bar: float,
        t_ns: int,
        motion: Motion,
        step_bar: float,
        litres_per_bar: float,
        note: bytes,
    ) -> GaugeFault | None:
        """The same for a pressure that a cylinder can have."""
        heard_s = min((t_ns - self._last_ns) / SECOND_NS, UNHEARD_S_MAX)
        self._last_ns = t_ns
        before, self._before_bar = self._before_bar, bar
        if before == math.inf:
            self._held = self._window = self._later = (t_ns, bar, self._moved_s, note)
            return None
        moved_s = self._moved_s = self._moved_s + heard_s * BREATHES[motion]
        held = self._held
        if not -step_bar < bar - held[1] < step_bar:
            held = self._held = (t_ns, bar, moved_s, note)
        if bar > self._window[1] + RISING_STEPS * step_bar:
            self._window = self._later = (t_ns, bar, moved_s, note)  # it rose: that is no rest
        if moved_s - self._later[2] >= WINDOW_S / 2:
            self._judge((t_ns, bar, moved_s, note), step_bar, litres_per_bar)
        rests_s = moved_s - held[2]
        if self._slow or (rests_s > STUCK_S_MIN and rests_s > stuck_after_s(step_bar)):
            self.trusted = self.trusted or held
        elif self.trusted is not None and self.is_low_enough(bar, litres_per_bar):
            self.trusted = None
        if self.trusted is not None:
            return _STUCK
        if bar <= self._lowest_bar and before <= self._lowest_bar:
            self._lowest_bar = max(bar, before)
            return None  # nearly every reading: it falls
        lower, higher = (before, bar) if before < bar else (bar, before)
        self._lowest_bar = min(self._lowest_bar, higher)
        most = self._lowest_bar * (1.0 + WARMING) + RISING_STEPS * step_bar
        return GaugeFault.RISING if lower > most else None

    def _judge(self, now: Point, step_bar: float, litres_per_bar: float) -> None:
        """Half a window is over: look at the whole one that ends now, and go on by a half."""
        moved_s = now[2] - self._window[2]
        if moved_s >= WINDOW_S:
            used_l = (self._window[1] - now[1] + step_bar) * litres_per_bar
            self._slow = used_l < LEAST_L_MIN / 60.0 * moved_s
            if self._slow:
                self.trusted = self.trusted or self._window
        self._window, self._later = self._later, now

    def is_low_enough(self, bar: float, litres_per_bar: float) -> bool:
        """Whether the least breathing since it was last believed shows. Of a stuck one alone."""
        assert self.trusted is not None, "only asked of a gauge that was stuck"
        least_l = LEAST_L_MIN / 60.0 * (self._moved_s - self.trusted[2])
        return (self.trusted[1] - bar + AGREE_BAR) * litres_per_bar >= least_l
