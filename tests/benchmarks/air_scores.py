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
from monitor.incident.air.breathing import Breathing
from monitor.incident.air.forecast import (
    LOWER_5,
    LOWER_10,
    MEDIAN,
    POPULATION,
    Prior,
    outlooks,
)
from monitor.incident.air.next_mark import Standing, forecast_s
from monitor.incident.air.shown import Cylinder, Reading
from monitor.incident.picture import AirFrom
from protocol.packets import Motion
from tests.benchmarks.wears import FILL_BAR, LOW_BAR, RECKONED_C, Wear

CLOCK_S = 180.0
EARLY_MIN = (1, 3, 5)
AHEAD_MIN = (5, 10, 15)
LATE_S = 120.0
"""A time shown is late by more than this, or it is well enough."""
LONGEST_S = 3600.0
"""No peer is held to more than an hour: two equal readings would mean for ever."""
LINE_S = 300.0
STEP_BAR = 1.0
S = 1_000_000_000
FRESH_NS = 16 * S


@dataclass(slots=True)
class Readings:
    """What arrived of a wear so far."""

    volume_l: float
    t_s: list[float] = field(default_factory=list)
    bar: list[float] = field(default_factory=list)
    litres: list[float] = field(default_factory=list)

    def take(self, t_s: float, bar: float) -> None:
        """Keep one."""
        self.t_s.append(t_s)
        self.bar.append(bar)
        self.litres.append(gas.usable_l(bar, self.volume_l, RECKONED_C))

    @property
    def above_l(self) -> float:
        """Litres above the low-air value at the last reading."""
        return self.litres[-1] - gas.usable_l(LOW_BAR, self.volume_l, RECKONED_C)


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

    def late_percent(self, who: str, by_s: float = LATE_S) -> float:
        """Share said so much too late: two minutes."""
        return 100.0 * fmean(error > by_s for error in self.errors[who])

    def early_s(self, who: str) -> float:
        """Median of what was given away."""
        return -median(self.errors[who])


Scores = dict[str, Score]
CLOCK = "each 3 min"
History = list[tuple[float, float]]


def score(
    wears: Iterable[Wear],
    population: Prior = POPULATION,
    history: Callable[[Wear], History] | None = None,
) -> Scores:
    """Ask at every instant of every wear, with the prior that is told and the wears before."""
    scores: Scores = defaultdict(Score)
    for wear in wears:
        _score(wear, population, history(wear) if history else [], scores)
    return scores


def _instants(wear: Wear) -> list[tuple[float, str]]:
    """When to ask, in order, and for which score: from entering on, until the value has come."""
    begin = wear.kind.rest_s
    asked = [(begin + n * CLOCK_S, CLOCK) for n in range(1, int(wear.low_s / CLOCK_S) + 1)]
    asked += [(begin + minutes * 60.0, early(minutes)) for minutes in EARLY_MIN]
    asked += [(wear.low_s - minutes * 60.0, ahead(minutes)) for minutes in AHEAD_MIN]
    return sorted(instant for instant in asked if begin + 60.0 <= instant[0] < wear.low_s)


def early(minutes: int) -> str:
    """Name of the score so many minutes in."""
    return f"{minutes} min in"


def ahead(minutes: int) -> str:
    """Name of the score so many minutes before the value comes."""
    return f"{minutes} min ahead"


def _score(wear: Wear, population: Prior, history: History, scores: Scores) -> None:
    volume = wear.kind.water_volume_l
    cylinder = Cylinder(volume, FILL_BAR, LOW_BAR, RECKONED_C)
    seen, breathing = Readings(volume), Breathing(0, cylinder, STEP_BAR)
    instants = iter(_instants(wear))
    instant = next(instants, None)
    for n, (t, bar) in enumerate(zip(wear.t_s, wear.bar, strict=True)):
        if breathing.at_entry is None and t >= wear.kind.rest_s:
            breathing.enter(round(wear.kind.rest_s * S))
        while instant is not None and t > instant[0]:
            _ask(wear, seen, breathing, (population, history), instant, scores[instant[1]])
            instant = next(instants, None)
        if instant is None:
            return
        if wear.arrived[n] or not seen.t_s:
            seen.take(t, bar)
            breathing.take(round(t * S), bar, wear.told_c[n], motion=Motion.MOVING, told=True)


def _ask(
    wear: Wear,
    seen: Readings,
    breathing: Breathing,
    known: tuple[Prior, History],
    instant: tuple[float, str],
    into: Score,
) -> None:
    now_s, true_s = instant[0], wear.low_s - instant[0]
    told = Reading(round(seen.t_s[-1] * S), seen.bar[-1], AirFrom.TELEMETRY)
    standing = Standing(
        now=round(now_s * S),
        connected_ns=0,
        reading=breathing.believed(told) or told,
        fresh_ns=FRESH_NS,
        start_bar=FILL_BAR,
        cylinder=breathing.cylinder,
        outlooks=outlooks(breathing.consumption, breathing.at_entry, *known),
        planning_rate_l_min=50.0,
        step_bar=STEP_BAR,
    )

    def ours(z: float) -> float:
        return forecast_s(standing, LOW_BAR, z)

    shown = ours(LOWER_10)
    into.errors["median"].append(min(LONGEST_S, ours(MEDIAN)) - true_s)
    into.errors["shown"].append(shown - true_s)
    into.within_90.append(ours(LOWER_5) <= true_s <= ours(-LOWER_5))
    into.within_80.append(shown <= true_s <= ours(-LOWER_10))
    for name, peer in PEERS.items():
        said = min(LONGEST_S, peer(seen)) - (now_s - seen.t_s[-1])
        into.errors[name].append(said - true_s)
