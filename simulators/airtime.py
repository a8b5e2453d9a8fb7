"""How much of a shared channel a scenario's packs take, and what of it gets through.

By the arithmetic of pure ALOHA: who sends when they like is heard if nobody begins within a
frame's length before or after, exp(-2 G) for many senders, where G is the share of time that is
sent. Reports alone are counted, as long as nothing happens; events, copies and orders come on top.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from statistics import mean

from protocol import codec
from protocol.freshness import BEACON_INTERVAL_NS
from protocol.integrity import Keyring
from protocol.packets import Beacon, CheckResult, Kind, Motion, Report
from simulators.pack import RECEIPT_COPIES, SIGN_ON_NS, SPREAD, equipment
from simulators.radio import Shared
from simulators.scenario import PackPlan, Scenario

SECOND_NS = 1_000_000_000
_KEYS = Keyring({1: bytes(32)}, "exercise", 1).pack_keys(1, 1)
"""Any will do: only the length of a frame counts."""
MOST = 1.0 / (2.0 * math.e)
"""The most that gets through of a channel, sent for half of the time: 0.1839 (pure ALOHA)."""


@dataclass(frozen=True, slots=True)
class Airtime:
    """Of all packs on one channel, once everybody is switched on."""

    packs: int
    report_bytes: float
    """Of a report, as the radio sends it; a sign-on is longer."""
    report_ms: float
    reports_s: float
    """Frames a second, of packs; the base's beacon comes on top."""
    packs_share: float
    """Of the time, sent by packs."""
    beacon_share: float
    """Sent by the base: a beacon each 5 s from each base radio."""
    answer_share: float
    """More in the second in which every pack acknowledges an order."""

    @property
    def share(self) -> float:
        """Of the time, sent by anybody: G."""
        return self.packs_share + self.beacon_share

    @property
    def delivered(self) -> float:
        """Share of the frames that collide with nothing."""
        return math.exp(-2.0 * self.share)

    @property
    def delivered_answering(self) -> float:
        """The same while everybody answers."""
        return math.exp(-2.0 * (self.share + self.answer_share))


def airtime(scenario: Scenario) -> Airtime:
    """Reckon it; on the default channel where the scenario has none that is shared."""
    shared = scenario.radio.shared or Shared()
    plans = [plan for plan in scenario.plans() if plan.pack is not None]
    status_ns, sign_on_ns = (_sent_ns(_frame(kind), shared) for kind in (Kind.STATUS, Kind.SIGN_ON))
    rates = [_reports_s(plan) for plan in plans]
    longer = sum(_sign_ons_s(plan) for plan in plans) * (sign_on_ns - status_ns)
    beacon_ns = _sent_ns(codec.encode(Beacon(1, 1, 1, 1, True, 1), _KEYS.down), shared)
    bases = max(len(scenario.radio.bases), 1)
    return Airtime(
        packs=len(plans),
        report_bytes=len(_frame(Kind.STATUS)) + shared.extra_bytes,
        report_ms=status_ns / 1e6,
        reports_s=sum(rates),
        packs_share=(sum(rates) * status_ns + longer) / SECOND_NS,
        beacon_share=bases * beacon_ns / BEACON_INTERVAL_NS,
        answer_share=len(plans) * RECEIPT_COPIES * status_ns / SECOND_NS,
    )


def airtime_lines(told: Airtime) -> Iterator[str]:
    """Say it to a person."""
    yield f"{told.packs} packs, {told.report_bytes:.0f} bytes or {told.report_ms:.2f} ms a report"
    yield f"{told.reports_s:.1f} reports a second, {told.packs_share:.1%} of the time"
    yield f"beacons of the base {told.beacon_share:.1%} of the time"
    yield f"without a collision {told.delivered:.1%} of the frames (pure ALOHA)"
    yield (
        f"in a second in which everybody answers an order {told.answer_share:.1%} more: "
        f"{told.delivered_answering:.1%}"
    )
    through = told.share * told.delivered
    yield f"gets through {through:.1%} of the time; a channel like this takes {MOST:.1%} at most"


def _reports_s(plan: PackPlan) -> float:
    """A report comes a random part of a tenth early."""
    return 1.0 / (mean(SPREAD) * plan.interval_s)


def _sign_ons_s(plan: PackPlan) -> float:
    """So many of them carry the equipment, at least one in 60 s."""
    return 1.0 / max(SIGN_ON_NS / SECOND_NS - plan.interval_s, plan.interval_s)


def _sent_ns(frame: bytes, shared: Shared) -> float:
    return 8 * (len(frame) + shared.extra_bytes) * SECOND_NS / shared.bit_rate


def _frame(kind: Kind) -> bytes:
    """A report of a keyed pack: an open one is shorter by its tag."""
    told = Report(
        kind=kind, identity=1, boot=1, sequence=1, epoch=1, keyed=True, pressure_dbar=3000,
        gas_temperature_c=15, battery_percent=95, motion=Motion.MOVING, distress=False,
        low_air=False, coming_out=False, self_test=CheckResult.PASSED,
        air_warning_test=CheckResult.PASSED, motion_warning_test=CheckResult.PASSED,
        interval_s=5, uptime_ms=0, order_received=0, order_acknowledged=0, beacon_heard=1,
        equipment=equipment(300, 6.8, 55) if kind is Kind.SIGN_ON else None,
    )  # fmt: skip
    return codec.encode(told, _KEYS.up)
