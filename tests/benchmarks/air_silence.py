"""A pack falls silent: how often the air shown from then on is more than there is."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from random import Random
from statistics import fmean

from monitor.incident.air import gas
from monitor.incident.air.forecast import POPULATION, gauge_variance_l2, outlook
from monitor.incident.air.rate import Consumption
from simulators.randoms import child
from tests.benchmarks.air_scores import STEP_BAR
from tests.benchmarks.wears import Wear

AGES_MIN = (2, 5, 10)
A_WEAR = 6
"""So many silences begin in a wear, each on its own."""
HARD_L_MIN = 70.0
FALL_L_MIN = 100.0
"""The peer's: falls from the last reading at a rate that few hold for long."""


@dataclass(slots=True)
class Silence:
    """By minutes of silence: litres shown less litres true, ours and the peer's."""

    ours: dict[int, list[float]] = field(default_factory=lambda: {age: [] for age in AGES_MIN})
    peers: dict[int, list[float]] = field(default_factory=lambda: {age: [] for age in AGES_MIN})


def over_percent(errors: list[float]) -> float:
    """Share of cases in which more was shown than there was."""
    return 100.0 * fmean(error > 0.0 for error in errors)


def silence(wears: Iterable[Wear], *, in_hard_work: bool = False) -> Silence:
    """Let packs fall silent at random reports before low air; or only while the work is hard."""
    found = Silence()
    for number, wear in enumerate(wears):
        begins = _begins(wear, child(number, "silence"), in_hard_work=in_hard_work)
        if begins:
            _fall_silent(wear, begins, found)
    return found


def _begins(wear: Wear, random: Random, *, in_hard_work: bool) -> set[int]:
    """Which reports are the last."""
    fit = [
        n
        for n, t in enumerate(wear.t_s)
        if 0.0 < t < wear.low_s
        and wear.arrived[n]
        and (wear.rate_l_min[n] >= HARD_L_MIN or not in_hard_work)
    ]
    return {fit[int(random.random() * len(fit))] for _ in range(A_WEAR)} if fit else set()


def _fall_silent(wear: Wear, begins: set[int], found: Silence) -> None:
    kind = wear.kind
    volume = kind.water_volume_l
    used, last_s, last_l = Consumption(), 0.0, gas.usable_l(wear.bar[0], volume, wear.gas_c[0])
    for n in range(1, max(begins) + 1):
        if not wear.arrived[n]:
            continue
        t, litres = wear.t_s[n], gas.usable_l(wear.bar[n], volume, wear.gas_c[n])
        used.take(last_l - litres, t - last_s)
        last_s, last_l = t, litres
        if n not in begins:
            continue
        state = outlook(used.sums, POPULATION)
        gauge = gauge_variance_l2(wear.bar[n], volume, wear.gas_c[n], STEP_BAR)
        for age in AGES_MIN:
            true = wear.true_left_l(t + 60.0 * age)
            found.ours[age].append(state.least_left_l(litres, gauge, 60.0 * age) - true)
            found.peers[age].append(max(0.0, litres - FALL_L_MIN * age) - true)
