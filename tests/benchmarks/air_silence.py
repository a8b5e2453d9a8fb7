"""A pack falls silent: how often the air shown from then on is more than there is."""

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from random import Random
from statistics import fmean

from monitor.incident.air.breathing import Breathing
from monitor.incident.air.forecast import POPULATION, outlooks
from monitor.incident.air.shown import Cylinder, Fall, Reading, estimate_bar
from monitor.incident.picture import AirFrom
from monitor.incident.situation import HISTORY_S
from protocol.packets import Motion
from simulators.randoms import child
from tests.benchmarks.air_scores import STEP_BAR, S
from tests.benchmarks.wears import FILL_BAR, LOW_BAR, RECKONED_C, Wear

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
    as_told: dict[int, list[float]] = field(default_factory=lambda: {age: [] for age in AGES_MIN})
    """Ours, had the last reading been believed whatever the gauge did."""
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
    volume = wear.kind.water_volume_l
    breathing = Breathing(0, Cylinder(volume, FILL_BAR, LOW_BAR, RECKONED_C), STEP_BAR)
    breathing.enter(0)
    for n in range(max(begins) + 1):
        if not wear.arrived[n] and n:
            continue
        t, bar, told_c = wear.t_s[n], wear.bar[n], wear.told_c[n]
        breathing.take(round(t * S), bar, told_c, motion=Motion.MOVING, told=True)
        if n not in begins:
            continue
        cylinder = replace(breathing.cylinder, gas_c=told_c)
        told = Reading(round(t * S), bar, AirFrom.TELEMETRY)
        readings = ((found.ours, breathing.believed(told) or told), (found.as_told, told))
        fall = Fall(FALL_L_MIN)
        if breathing.consumption.sums.seconds >= HISTORY_S:
            known = outlooks(breathing.consumption, breathing.at_entry, POPULATION, [])
            fall = Fall(FALL_L_MIN, known.earliest, STEP_BAR)
        for age in AGES_MIN:
            true = wear.true_left_l(t + 60.0 * age)
            for errors, reading in readings:
                shown = estimate_bar(reading, cylinder, told.t + 60 * age * S, fall)
                errors[age].append((cylinder.contents_l(shown) or 0.0) - true)
            held = cylinder.contents_l(bar) or 0.0
            found.peers[age].append(max(0.0, held - FALL_L_MIN * age) - true)
