"""The forecast and its peers, asked at the same instants of the same wears, against the truth.

Asked each three minutes from the third on, one, three and five minutes in, and five, ten and
fifteen minutes before the low-air value truly comes. A peer gives one time; ours a median and its
bounds.
"""

from collections import defaultdict
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from statistics import fmean, median

from monitor.incident.air import gas
from monitor.incident.air.forecast import (
    LOWER_5,
    LOWER_10,
    MEDIAN,
    Outlook,
    Prior,
    gauge_variance_l2,
    outlook,
)
from monitor.incident.air.rate import Consumption
from tests.benchmarks.wears import LOW_BAR, Wear

CLOCK_S = 180.0
EARLY_MIN = (1, 3, 5)
AHEAD_MIN = (5, 10, 15)
LATE_S = 120.0
"""A time shown is late by more than this, or it is well enough."""
LONGEST_S = 3600.0
"""No peer is held to more than an hour: two equal readings would mean for ever."""
LINE_S = 300.0
STEP_BAR = 1.0


@dataclass(slots=True)
class Readings:
    """What arrived of a wear so far."""

    volume_l: float
    gas_c: float = 15.0
    t_s: list[float] = field(default_factory=list)
    bar: list[float] = field(default_factory=list)
    litres: list[float] = field(default_factory=list)

    @property
    def above_l(self) -> float:
        """Litres above the low-air value at the last reading."""
        return self.litres[-1] - gas.usable_l(LOW_BAR, self.volume_l, self.gas_c)


Peer = Callable[[Readings], float]


def _table(rate_l_min: float) -> Peer:
    """Pressure times volume by a fixed rate, from the last reading: the card by the door."""
    return lambda seen: (seen.bar[-1] - LOW_BAR) * seen.volume_l / rate_l_min * 60.0


def _average(seen: Readings) -> float:
    """All litres by all seconds since connecting."""
    return _at_rate(seen, seen.litres[0] - seen.litres[-1], seen.t_s[-1] - seen.t_s[0])


def _last_two(seen: Readings) -> float:
    return _at_rate(seen, seen.litres[-2] - seen.litres[-1], seen.t_s[-1] - seen.t_s[-2])


def _line(seen: Readings) -> float:
    """Least squares through the litres of the last five minutes."""
    first = next(i for i, t in enumerate(seen.t_s) if t >= seen.t_s[-1] - LINE_S)
    t, litres = seen.t_s[first:], seen.litres[first:]
    t_mean, l_mean = fmean(t), fmean(litres)
    square = sum((at - t_mean) ** 2 for at in t)
    fall = sum((at - t_mean) * (l_mean - left) for at, left in zip(t, litres, strict=True))
    return _at_rate(seen, fall, square)


def _at_rate(seen: Readings, litres: float, seconds: float) -> float:
    return seen.above_l / litres * seconds if litres > 0.0 else LONGEST_S


PEERS: dict[str, Peer] = {
    "average": _average,
    "table 40": _table(40),
    "table 50": _table(50),
    "last two": _last_two,
    "line 5 min": _line,
}


@dataclass(slots=True)
class Score:
    """Seconds said less seconds true, at one kind of instant."""

    errors: dict[str, list[float]] = field(default_factory=lambda: defaultdict(list))
    within_90: list[bool] = field(default_factory=list)
    within_80: list[bool] = field(default_factory=list)

    def error_s(self, who: str) -> float:
        """Mean absolute error."""
        return fmean(abs(error) for error in self.errors[who])

    def late_percent(self, who: str) -> float:
        """Share said more than two minutes late."""
        return 100.0 * fmean(error > LATE_S for error in self.errors[who])

    def early_s(self, who: str) -> float:
        """Median of what was given away."""
        return -median(self.errors[who])


Scores = dict[str, Score]
CLOCK = "each 3 min"


def score(wears: Iterable[Wear], prior_of: Callable[[Wear], Prior]) -> Scores:
    """Ask at every instant of every wear, with the prior that its wearer has."""
    scores: Scores = defaultdict(Score)
    for wear in wears:
        _score(wear, prior_of(wear), scores)
    return scores


def _instants(wear: Wear) -> list[tuple[float, str]]:
    """When to ask, in order, and for which score. Nothing once the value has come."""
    asked = [(at * CLOCK_S, CLOCK) for at in range(1, int(wear.low_s / CLOCK_S) + 1)]
    asked += [(minutes * 60.0, early(minutes)) for minutes in EARLY_MIN]
    asked += [(wear.low_s - minutes * 60.0, ahead(minutes)) for minutes in AHEAD_MIN]
    return sorted(instant for instant in asked if 60.0 <= instant[0] < wear.low_s)


def early(minutes: int) -> str:
    """Name of the score so many minutes in."""
    return f"{minutes} min in"


def ahead(minutes: int) -> str:
    """Name of the score so many minutes before the value comes."""
    return f"{minutes} min ahead"


def _score(wear: Wear, prior: Prior, scores: Scores) -> None:
    seen, used = Readings(wear.kind.water_volume_l), Consumption()
    instants = iter(_instants(wear))
    instant = next(instants, None)
    for t, bar, gas_c, arrived in zip(wear.t_s, wear.bar, wear.gas_c, wear.arrived, strict=True):
        while instant is not None and t > instant[0]:
            true_s = wear.low_s - instant[0]
            _ask(seen, outlook(used.sums, prior), instant[0], true_s, scores[instant[1]])
            instant = next(instants, None)
        if instant is None:
            return
        if arrived or not seen.t_s:
            litres = gas.usable_l(bar, seen.volume_l, gas_c)
            if seen.t_s:
                used.take(seen.litres[-1] - litres, t - seen.t_s[-1])
            seen.t_s.append(t)
            seen.bar.append(bar)
            seen.gas_c = gas_c
            seen.litres.append(litres)


def _ask(seen: Readings, state: Outlook, now_s: float, true_s: float, into: Score) -> None:
    age_s = now_s - seen.t_s[-1]
    gauge = gauge_variance_l2(seen.bar[-1], seen.volume_l, seen.gas_c, STEP_BAR)

    def ours(z: float) -> float:
        return state.seconds_until(seen.above_l, gauge, z) - age_s

    shown = ours(LOWER_10)
    into.errors["median"].append(min(LONGEST_S, ours(MEDIAN)) - true_s)
    into.errors["shown"].append(shown - true_s)
    into.within_90.append(ours(LOWER_5) <= true_s <= ours(-LOWER_5))
    into.within_80.append(shown <= true_s <= ours(-LOWER_10))
    for name, peer in PEERS.items():
        said = min(LONGEST_S, peer(seen)) - age_s
        into.errors[name].append(said - true_s)
