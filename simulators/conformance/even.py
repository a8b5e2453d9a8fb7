"""Whether what should be at random is, and how fast a clock runs. Pure.

A pack that keeps the format fails a test here with a chance of at most ``FALSE_ALARM`` each.

* Evenly over a span: Kolmogorov's largest distance between what was seen and the straight line,
  with the bound of Dvoretzky, Kiefer and Wolfowitz with Massart's constant, which holds for every
  number of samples: P(D > d) <= 2 exp(-2 n d^2) (P. Massart, "The tight constant in the
  Dvoretzky-Kiefer-Wolfowitz inequality", Annals of Probability 18, 1990).
* Not always the same: the range R of n even samples has P(R <= r) = n r^(n-1) - (n-1) r^n
  (H. A. David and H. N. Nagaraja, "Order Statistics", section 2.3). It does not mind a constant
  delay.
* The right mean: P(|mean - expected| >= t) <= 2 exp(-2 n t^2) for samples within a span of 1
  (W. Hoeffding, "Probability inequalities for sums of bounded random variables", Journal of the
  American Statistical Association 58, 1963).
"""

import math
from collections.abc import Sequence

FALSE_ALARM = 1e-6
"""Of each test."""
SAMPLES_LEAST = 8
SAMPLES_MAX = 1_000
"""Beyond that every second one is dropped."""


def distance_limit(count: int) -> float:
    """Beyond which a distance, or a mean's error, comes by chance in one of a million trials."""
    return math.sqrt(math.log(2 / FALSE_ALARM) / (2 * count))


def uneven(samples: Sequence[float], *, early: float = 0.0, late: float = 0.0) -> str:
    """Say why samples are not spread evenly from 0 to 1; empty: they may be, or are too few.

    Each may have been moved, on its way here, down by ``early`` and up by ``late`` at most.
    """
    count = len(samples)
    if count < SAMPLES_LEAST:
        return ""
    if why := alike(samples):
        return why
    limit = distance_limit(count)
    for at, sample in enumerate(sorted(samples)):
        if (at + 1) / count - _even(sample + early) > limit:
            return f"{at + 1} of {count} within the first {max(sample, 0):.2f} of the span"
        if _even(sample - late) - at / count > limit:
            return f"{count - at} of {count} beyond the first {sample:.2f} of the span"
    return ""


def alike(samples: Sequence[float]) -> str:
    """Say why samples from any span of 1 are too much alike; empty: they are not, or too few."""
    if len(samples) < SAMPLES_LEAST:
        return ""
    apart = max(samples) - min(samples)
    if apart >= 1 or chance_of_range(len(samples), apart) >= FALSE_ALARM:
        return ""
    return f"{len(samples)} alike to {apart:.2f} of the span"


def chance_of_range(count: int, span: float) -> float:
    """How likely all of ``count`` even samples lie within some ``span`` of 1."""
    return count * span ** (count - 1) - (count - 1) * span**count


def off_mean(samples: Sequence[float], expected: float, width: float) -> str:
    """Say why samples drawn from a span of ``width`` have not that mean; empty: they may have."""
    if len(samples) < SAMPLES_LEAST:
        return ""
    mean = sum(samples) / len(samples)
    if abs(mean - expected) <= width * distance_limit(len(samples)):
        return ""
    return f"{len(samples)} of them are {mean:.3f} on average, where {expected:.2f} is right"


def _even(value: float) -> float:
    return min(max(value, 0.0), 1.0)


class Clock:
    """How fast a pack's uptime runs, from when its frames came.

    A frame comes a little later than it was made and never sooner, so the least delay of the first
    third and of the last third are compared.
    """

    def __init__(self) -> None:
        """Nothing has come."""
        self._seen: list[tuple[int, int]] = []
        """When, and that less the uptime; ns."""

    def take(self, t: int, uptime_ns: int) -> None:
        """Take in one frame, not a copy."""
        self._seen.append((t, t - uptime_ns))
        if len(self._seen) > SAMPLES_MAX:
            del self._seen[1:-1:2]

    def measured(self) -> tuple[float, float] | None:
        """How much too slowly it runs, parts in a million, and over how many seconds; or None."""
        if len(self._seen) < SAMPLES_LEAST:
            return None
        first, last = self._seen[0][0], self._seen[-1][0]
        third = (last - first) // 3
        begin = min((late, t) for t, late in self._seen if t <= first + third)
        end = min((late, -t) for t, late in self._seen if t >= last - third)
        apart = -end[1] - begin[1]
        if apart <= 0:
            return None
        return (end[0] - begin[0]) * 1e6 / apart, apart / 1e9
