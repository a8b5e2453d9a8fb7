"""A free flow: how soon it is found, and how often one is seen that is none."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from monitor.incident.air import gas
from monitor.incident.air.breathing import Breathing
from monitor.incident.air.flow import FREE_FLOW_L_S, LossOfPressure, limit_l
from monitor.incident.air.shown import Cylinder
from protocol.packets import Motion
from tests.benchmarks.air_scores import STEP_BAR
from tests.benchmarks.wears import FILL_BAR, LOW_BAR, RECKONED_C, Wear

BAD_BAR = {"clean": 0.0, "one 10 bar high each 10 min": 10.0, "one 10 bar low each 10 min": -10.0}
"""How wrong one reading is, by name."""
BAD_EACH_S = 600.0
S = 1_000_000_000


@dataclass(slots=True)
class Raised:
    """What was raised in wears without a leak."""

    hours: float = 0.0
    ours: int = 0
    peers: int = 0
    """By the rate of the last two readings alone."""


def delays_s(wears: Iterable[Wear]) -> list[float]:
    """From the start of each leak to the alarm; those that emptied the cylinder first count so."""
    found = []
    for wear in wears:
        loss, limit = LossOfPressure(), limit_l(wear.kind.water_volume_l, STEP_BAR)
        alarms = (t for t, used, span_s in _stretches(wear) if loss.take(used, span_s, limit))
        first = next((t for t in alarms if t >= wear.leak_s), wear.t_s[-1])
        found.append(first - wear.leak_s)
    return found


def false_alarms(wears: Iterable[Wear], bad_bar: float) -> Raised:
    """Count what is raised where no air is lost. A spell of them is one."""
    total = Raised()
    for wear in wears:
        volume = wear.kind.water_volume_l
        breathing = Breathing(0, Cylinder(volume, FILL_BAR, LOW_BAR, RECKONED_C), STEP_BAR)
        was = peer_was = False
        last: tuple[float, float] | None = None
        for n, t, bar in _readings(wear, bad_bar):
            breathing.take(round(t * S), bar, wear.told_c[n], motion=Motion.MOVING, told=True)
            total.ours += breathing.leaking and not was
            was = breathing.leaking
            litres = gas.usable_l(bar, volume, wear.gas_c(n))
            peer_now = last is not None and last[1] - litres > FREE_FLOW_L_S * (t - last[0])
            total.peers += peer_now and not peer_was
            peer_was, last = peer_now, (t, litres)
        total.hours += wear.t_s[-1] / 3600.0
    return total


def _readings(wear: Wear, bad_bar: float) -> Iterator[tuple[int, float, float]]:
    """Each that arrived: its place, time and pressure."""
    bad_s = BAD_EACH_S
    for n, (t, bar) in enumerate(zip(wear.t_s, wear.bar, strict=True)):
        if not wear.arrived[n]:
            continue
        bad = t >= bad_s
        yield n, t, max(0.0, bar + bad_bar) if bad else bar
        bad_s += BAD_EACH_S if bad else 0.0


def _stretches(wear: Wear) -> Iterator[tuple[float, float, float]]:
    """Time, litres used and seconds passed, from reading to reading."""
    volume = wear.kind.water_volume_l
    last_s, last_l = 0.0, gas.usable_l(wear.bar[0], volume, wear.gas_c(0))
    for n in range(1, len(wear.t_s)):
        if not wear.arrived[n]:
            continue
        t, bar = wear.t_s[n], wear.bar[n]
        litres = gas.usable_l(bar, volume, wear.gas_c(n))
        yield t, last_l - litres, t - last_s
        last_s, last_l = t, litres
