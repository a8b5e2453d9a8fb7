"""Air that goes faster than anybody breathes: a burst hose, a valve blown open.

Theory: the one-sided cumulative sum of Page (Biometrika 41 (1954) 100-115),

    S <- max(0, S + litres used - r0 x seconds)         alarm when S > h, at two readings running,
                                                        the second of which still adds to S
r0 stands half-way between the hardest work (92 L/min held, times 1.5 for a large person) and a
free flow of 300 L/min. The second reading keeps one bad one from being taken for a loss: after one
that was too low the next gives its litres back, after one that was too high the next is as it was,
and what goes on is only breath. Found after about h / (flow - r0) and one interval, whatever the
interval is; lost readings cost their own time and nothing more.

A leak under about 100 L/min cannot be told from work by pressure alone: it shows as a high rate.
Gas that cools loses pressure, not litres; what a temperature not told makes of it stays under r0.
"""

FREE_FLOW_L_S = 200.0 / 60.0
"""r0."""
LEAST_L = 20.0
"""h where the gauge is fine enough: 12 s of a flow 100 L/min above r0."""
STEPS = 2.5
"""h in steps of the gauge where it is not: rounding alone makes two steps out of nothing."""
GROWS = 0.2
"""Share of h by which the second reading must add to S: half a step of the gauge in 6.8 L, which
rounding alone makes of hard breath."""
LITRES_PER_BAR_MOST = 1.1
"""Free air that a bar is at most, in each litre of water volume: 1.01 at 15 C, 1.10 at -10 C."""


def limit_l(water_volume_l: float, step_bar: float) -> float:
    """The limit h for a cylinder and the step in which its pressure is told."""
    return max(LEAST_L, STEPS * step_bar * water_volume_l * LITRES_PER_BAR_MOST)


class LossOfPressure:
    """The sum of one wear. One ``take`` a reading."""

    __slots__ = ("_runs", "_sum_l")

    def __init__(self) -> None:
        self._sum_l = 0.0
        self._runs = False
        """It was told, and the sum has been over the limit since."""

    def take(self, used_l: float, seconds: float, limit_l: float) -> bool:
        """Add the litres used since the reading before; true where air runs away.

        That is where the sum is over the limit, was at the reading before, and has grown again; and
        from then on as long as it is over.
        """
        more_l = used_l - FREE_FLOW_L_S * seconds
        if more_l <= 0.0 and not self._sum_l:
            return False  # nearly every reading: nobody breathes so much
        was_over = self._sum_l > limit_l
        self._sum_l = max(0.0, self._sum_l + more_l)
        over = self._sum_l > limit_l
        self._runs = over and (self._runs or (was_over and more_l > GROWS * limit_l))
        return self._runs
