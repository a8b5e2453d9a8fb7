"""How long the air lasts: a bound that one wearer in ten would pass earlier, and the median.

Litres here are by one fixed temperature of the gas, from first to last, whatever the pack tells.
Drawing cools the gas, by 15 to 25 K in a wear: pressure falls faster than air is used, so does the
count, and the mark comes by pressure. Counted at the temperature told, the cooling still to come
would be forgotten, and the time be too late.

Theory. A wearer has a long-run rate m that nobody knows yet, and works about it in spells. The
rate now is m + x, where x is an Ornstein-Uhlenbeck process: it fades with time constant tau and
is stirred so that its standard deviation stays S. Over the next s seconds, with
g = tau (1 - e^(-s / tau)),

    used(s) = m s + x g
    var(s)  = S^2 tau^2 [2 s / tau - 3 + 4 e^(-s / tau) - e^(-2 s / tau)]   spells yet to come
            + UNSEEN S^2 g^2                                               x is not known exactly
            + s^2 v_m                                                      nor is m
            + the variance of the gauge

The first line of var is the variance of the integral of such a process from a known start
(Gillespie, Phys. Rev. E 54 (1996) 2084). Time to a pressure is the first s with
used(s) + z sqrt(var(s)) equal to the litres above it.

m is a prior mean shrunk to what was seen: m = (m0 t0 + U) / (t0 + T). The mean of such a process
over T >> tau has variance 2 S^2 tau / T, so the prior, of spread s_m m0, weighs as much as
t0 = 2 tau (sigma / s_m)^2 seconds; v_m = 1 / [1 / (s_m m)^2 + T / (2 S^2 tau)] is the usual sum of
two precisions. x is the recent rate less m, the recent rate shrunk to m by 20 s. S^2 is shrunk as
well: nu minutes of a typical wearer against the n seen.

That worth, T seconds for T, is what the bounds of safety are reckoned by. It is right for a long T
and too little for a short one: exactly the variance of such a mean is 2 S^2 (y - 1 + e^-y) / y^2
with y = T / tau (the double integral of the covariance e^(-|u - v| / tau)), so that T seconds are
worth tau y^2 / (y - 1 + e^-y): 180 s as much as 431. The time that is as likely as not, and the
upper bound, are reckoned so, and from a narrower prior about the usual rate: ``Outlooks``.

What was breathed at the door, and in earlier wears, may be rest before work or another kind of
work: it may make the earliest time earlier, never later (``earlier_of``).

The constants were settled on simulated wearers of another make than this project's simulators,
and were then left alone. Litres are free air, times seconds, rates litres a second.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from monitor.incident.air import gas
from monitor.incident.air.rate import NOTHING, Consumption, Sums

TAU_S = 150.0
"""Spells of work fade from a rate so fast."""
SIGMA = 0.42
"""Standard deviation of the rate about m, as a share of m, before a wearer has shown their own."""
NU_MINUTES = 10.0
"""What SIGMA weighs against the minutes seen."""
SHRINK_S = 20.0
"""What m weighs in the recent rate."""
UNSEEN = 0.35
"""Variance of x about its estimate, as a share of S^2. A fading mean with memory 60 s follows a
process of time constant 150 s with an error of 1 - 150 / 210 = 0.29; the shrinking by 20 s and the
steps of a gauge bring it up."""
MINUTE_MEAN = 0.88
"""Variance of means over h = 60 s as a share of S^2: 2 (y - 1 + e^-y) / y^2 with y = h / tau."""
LEAST_L_S = 5.0 / 60.0
"""No long-run rate is taken to be under 5 L/min: an adult at complete rest breathes 6 to 8
(textbook physiology, from memory). Keeps every forecast finite."""

GAUGE_NOISE_BAR2 = 0.09
"""Variance of a pressure sensor beside its rounding: 0.3 bar (assumed)."""
GAUGE_REST_BAR2 = 0.05
"""What else may be off in one reading, gas out of balance with its cylinder (assumed)."""

MEDIAN = 0.0
LOWER_10 = 1.2816
LOWER_5 = 1.6449
LOWER_1 = 2.3263
"""Quantiles of the normal distribution: one in ten, twenty, a hundred is worse."""

LONGEST_S = 24 * 3600.0
"""Nothing is forecast beyond; also where a search for a time ends."""
EXACT_S = 0.01
"""Times are found so closely, and given so much early."""
STEPS_MAX = 60
"""Halving alone takes 24 from LONGEST_S to EXACT_S; Newton about five."""
_SMALL = 1e-3
_MARCH_S = 15.0
_MARCH_GROWTH = 1.2


class Prior(NamedTuple):
    """What is thought of a wearer's long-run rate before they breathe."""

    mean_l_min: float
    spread: float
    """Standard deviation as a share of the mean."""


POPULATION = Prior(60.0, 0.40)
"""Between calm search (about 43 L/min) and hard work (82 +- 14: Holmer and Gavhed, Appl. Ergon. 38
(2007) 45-52), wide enough to hold both. A mean of 50 with spread 0.30 was over two minutes late
with 14 % of hard workers one minute in; this with 0.5 %."""
MIDDLE = Prior(50.0, 0.30)
"""The usual wearer, for the time that is as likely as not: the rate of the middle of the duration
tables in use, and what was measured of search (49.9 L/min, 420 m tunnel). It would be late for hard
work as a bound, see above."""
OWN_SPREAD = 0.20
"""How far one wear of a person stands off from their own mean over many."""


def own_prior(earlier: Iterable[tuple[float, float]], population: Prior) -> Prior:
    """Sharpen the population's prior by a wearer's earlier wears, each litres and seconds.

    The more was seen, the nearer its mean is theirs and its spread ``OWN_SPREAD``; little seen, as
    a minute at rest, changes little.
    """
    wears = list(earlier)
    seconds = sum(max(0.0, wear_s) for _, wear_s in wears)
    litres = sum(max(0.0, wear_l) for wear_l, wear_s in wears if wear_s > 0.0)
    mean = _long_run(litres, seconds, population)
    unsure = _mean_variance(mean, (SIGMA * mean) ** 2, seconds, population.spread)
    spread = math.hypot(OWN_SPREAD, math.sqrt(unsure) / mean)
    return Prior(mean * 60.0, min(population.spread, spread))


@dataclass(frozen=True, slots=True)
class Outlook:
    """What is thought of a wearer's use of air from the last reading on."""

    m: float
    """Long-run rate."""
    x: float
    """Present deviation from it; m + x is never under 0."""
    s: float
    """Standard deviation of such deviations."""
    v_m: float
    """Variance of m."""

    def used_l(self, seconds: float) -> float:
        """Litres expected to be used in so long."""
        return self.m * seconds - self.x * TAU_S * math.expm1(-seconds / TAU_S)

    def variance(self, seconds: float) -> float:
        """Variance of that, in litres squared, without the gauge's own."""
        faded = math.exp(-seconds / TAU_S)
        g = TAU_S * (1.0 - faded)
        spells = 2.0 * seconds / TAU_S - 3.0 + faded * (4.0 - faded)
        # Rounding alone could take the difference of near equals under 0.
        stirred = (self.s * TAU_S) ** 2 * max(0.0, spells)
        return stirred + UNSEEN * (self.s * g) ** 2 + seconds * seconds * self.v_m

    def least_left_l(
        self, contents_l: float, gauge_variance_l2: float, seconds: float, z: float = LOWER_1
    ) -> float:
        """Litres left after so long in silence, but for one case in a hundred (with this z).

        Falls as time goes on, down to 0.
        """
        spread = math.sqrt(self.variance(seconds) + gauge_variance_l2)
        return max(0.0, contents_l - self.used_l(seconds) - z * spread)

    def seconds_until(self, litres_above: float, gauge_variance_l2: float, z: float) -> float:
        """Seconds until so many litres are used, at the bound that z stands for.

        0 if they may be used already, infinite if not within a day. Up to two hundredths of a
        second early, never late. A negative z gives an upper bound.
        """
        if self._worst(0.0, gauge_variance_l2, z)[0] >= litres_above:
            return 0.0
        bracket = self._bracket(litres_above, gauge_variance_l2, z)
        if bracket is None:
            return math.inf
        low, high = bracket
        s = min(high, max(low, litres_above / (self.m + max(z, 0.0) * math.sqrt(self.v_m))))
        for _ in range(STEPS_MAX):
            value, slope = self._worst(s, gauge_variance_l2, z)
            if value < litres_above:
                low = s
            else:
                high = s
            aim = s + (litres_above - value) / slope if slope > 0.0 else -math.inf
            if abs(aim - s) < EXACT_S or high - low < EXACT_S:
                break
            # Newton's step where it stays between the bounds, else halve them.
            s = aim if low < aim < high else (low + high) / 2.0
        return max(0.0, min(max(low, aim), high) - EXACT_S)

    def _worst(self, seconds: float, gauge_variance_l2: float, z: float) -> tuple[float, float]:
        """Litres used at the bound, and how fast they grow."""
        faded = math.exp(-seconds / TAU_S)
        spread = math.sqrt(self.variance(seconds) + gauge_variance_l2)
        half = self.s * self.s * TAU_S * (1.0 - faded)
        growth = half * (1.0 - faded + UNSEEN * faded) + seconds * self.v_m
        value = self.used_l(seconds) + z * spread
        return value, self.m + self.x * faded + (z * growth / spread if spread else 0.0)

    def _bracket(self, litres: float, gauge_l2: float, z: float) -> tuple[float, float] | None:
        """Two times between which the litres are used up; None if there are none in a day."""
        if z >= 0.0:
            # used(s) >= m (s - tau) whatever x is, and the bound lies above it.
            high = litres / self.m + TAU_S
            return (0.0, high) if high < LONGEST_S else self._marched(litres, gauge_l2, z)
        return self._marched(litres, gauge_l2, z)

    def _marched(self, litres: float, gauge_l2: float, z: float) -> tuple[float, float] | None:
        """Step by step, each a little longer: an upper bound may fall before it rises."""
        low, step = 0.0, _MARCH_S
        while low < LONGEST_S:
            high = low + step
            if self._worst(high, gauge_l2, z)[0] >= litres:
                return low, high
            low, step = high, step * _MARCH_GROWTH
        return None


class Outlooks(NamedTuple):
    """The two of one wearer: the one that times to act by come from, and the middle one."""

    earliest: Outlook
    """For lower bounds, and for air that nobody reads."""
    likely: Outlook
    """For the median and for upper bounds."""


def outlooks(
    consumption: Consumption,
    before: Sums | None,
    population: Prior,
    earlier: Sequence[tuple[float, float]],
) -> Outlooks:
    """What is thought of a wearer.

    ``before``: the sums at entering, None before it. ``earlier``: litres and seconds of each
    earlier wear.
    """
    whole = consumption.sums
    inside = NOTHING if before is None else whole.since(before)
    earliest = outlook(inside, population)
    if before is None or before.seconds:
        earliest = _not_later(earliest, outlook(whole, population))
    middle = MIDDLE if population == POPULATION else population
    if earlier:
        earliest = _not_later(earliest, outlook(inside, own_prior(earlier, population)))
        middle = own_prior(earlier, middle)
    return Outlooks(earliest, likely(inside, middle))


def _not_later(known: Outlook, other: Outlook) -> Outlook:
    """Let what was breathed otherwise count, where it was more."""
    return earlier_of(known, other) if other.m > known.m else known


def outlook(sums: Sums, prior: Prior) -> Outlook:
    """What a wearer's use so far, and the prior, say of the use to come; for lower bounds."""
    return _outlook(sums, prior, sums.litres, sums.seconds)


def likely(sums: Sums, prior: Prior) -> Outlook:
    """The same for the median and upper bounds: each second seen at its full worth."""
    seconds = mean_worth_s(sums.seconds)
    litres = sums.litres / sums.seconds * seconds if sums.seconds else 0.0
    return _outlook(sums, prior, litres, seconds)


def earlier_of(one: Outlook, other: Outlook) -> Outlook:
    """An outlook by which no lower bound is later than by either of the two."""
    m = max(one.m, other.m)
    # With g <= s, m s + x g = m (s - g) + (m + x) g grows with m and with the rate now.
    return Outlook(
        m, max(one.m + one.x, other.m + other.x) - m, max(one.s, other.s), max(one.v_m, other.v_m)
    )


def mean_worth_s(seconds: float) -> float:
    """How many seconds of a long watch a mean over so many is worth, 0 for none.

    In the first half minute the steps of the gauge weigh as much as breath: ``SHRINK_S``.
    """
    y = seconds / TAU_S
    if y <= 0.0:
        return 0.0
    # Of two rounding errors the quotient says nothing; there it is 2 + 2 y / 3.
    whole = 2.0 + y * (2.0 / 3.0) if y < _SMALL else y * y / (y + math.expm1(-y))
    return TAU_S * whole * seconds / (seconds + SHRINK_S)


def _outlook(sums: Sums, prior: Prior, litres: float, seconds: float) -> Outlook:
    m = _long_run(litres, seconds, prior)
    recent = (sums.recent_l + SHRINK_S * m) / (sums.recent_s + SHRINK_S)
    variance = _deviation_variance(sums, m)
    return Outlook(
        m=m,
        x=max(0.0, recent) - m,
        s=math.sqrt(variance),
        v_m=_mean_variance(m, variance, seconds, prior.spread),
    )


def gauge_variance_l2(
    bar: float, water_volume_l: float, temperature_c: float, step_bar: float
) -> float:
    """Variance of the contents by one reading, litres squared.

    A value rounded to steps of q is off by up to half of one, evenly: variance q^2 / 12.
    """
    variance = GAUGE_NOISE_BAR2 + step_bar * step_bar / 12.0 + GAUGE_REST_BAR2
    return gas.litres_per_bar(bar, water_volume_l, temperature_c) ** 2 * variance


def _long_run(litres: float, seconds: float, prior: Prior) -> float:
    """The prior mean and what was seen, each by its weight in seconds."""
    weight_s = 2.0 * TAU_S * (SIGMA / prior.spread) ** 2
    mean = (prior.mean_l_min / 60.0 * weight_s + litres) / (weight_s + seconds)
    return max(LEAST_L_S, mean)


def _deviation_variance(sums: Sums, m: float) -> float:
    about_m = sums.squares - 2.0 * m * sums.rates + sums.minutes * m * m
    typical = NU_MINUTES * (SIGMA * m) ** 2
    return (typical + max(0.0, about_m) / MINUTE_MEAN) / (NU_MINUTES + sums.minutes)


def _mean_variance(m: float, deviation: float, seconds: float, spread: float) -> float:
    return 1.0 / (1.0 / (spread * m) ** 2 + seconds / (2.0 * deviation * TAU_S))
