"""A free flow: how soon it is found, and how often one is seen that is none."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from monitor.incident.air import gas
from monitor.incident.air.flow import FREE_FLOW_L_S, LossOfPressure, limit_l
from tests.benchmarks.air_scores import STEP_BAR
from tests.benchmarks.wears import Wear

BAD_BAR = -10.0
BAD_EACH_S = 600.0
"""One reading so wrong, so often."""


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


def false_alarms(wears: Iterable[Wear]) -> Raised:
    """Count what is raised where no air is lost. A spell of them is one."""
    total = Raised()
    for wear in wears:
        loss, limit = LossOfPressure(), limit_l(wear.kind.water_volume_l, STEP_BAR)
        was = peer_was = False
        for _, used, span_s in _stretches(wear, bad=True):
            now, peer_now = loss.take(used, span_s, limit), used > FREE_FLOW_L_S * span_s
            total.ours += now and not was
            total.peers += peer_now and not peer_was
            was, peer_was = now, peer_now
        total.hours += wear.t_s[-1] / 3600.0
    return total


def _stretches(wear: Wear, *, bad: bool = False) -> Iterator[tuple[float, float, float]]:
    """Time, litres used and seconds passed, from reading to reading."""
    volume = wear.kind.water_volume_l
    last_s, last_l, bad_s = 0.0, gas.usable_l(wear.bar[0], volume, wear.gas_c(0)), BAD_EACH_S
    for n in range(1, len(wear.t_s)):
        if not wear.arrived[n]:
            continue
        t, bar = wear.t_s[n], wear.bar[n]
        if bad and t >= bad_s:
            bar, bad_s = max(0.0, bar + BAD_BAR), bad_s + BAD_EACH_S
        litres = gas.usable_l(bar, volume, wear.gas_c(n))
        yield t, last_l - litres, t - last_s
        last_s, last_l = t, litres
