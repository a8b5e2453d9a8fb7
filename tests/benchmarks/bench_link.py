"""The out-of-range rule on links that are known to be well: every "no signal" of it is false.

Losses come from the simulators' chain of Gilbert and Elliott, report by report, through the same
account and history as at a base. Beside the rule stands a fixed one of nine reports (9 T + 1 s),
measured on the same losses, and what the arithmetic of runs gives for a rule that knows the link.
"""

from collections.abc import Iterator
from dataclasses import dataclass

from monitor.incident.link_rule import (
    HELD_S_MIN,
    JITTER_NS,
    LinkHistory,
    reports_for,
    rule_of,
    runs_per_report,
)
from protocol.freshness import SequenceAccount
from simulators.channel import BurstChain
from simulators.radio import Bursts
from simulators.randoms import child
from tests.benchmarks.measuring import Figure

S = 1_000_000_000
INTERVAL_S = 5
LIMIT_S = 90
HOURS = 800
"""Of one wearer on each link: one false alarm an hour is measured to about 5 %."""
REPORTS_AN_HOUR = 3600 // INTERVAL_S
SHARING = 4
WARM_UP = 1_000
"""Reports before counting begins: the start of the history is forgotten."""
EVERY = 29
"""At every so many reports the pack is imagined to fall silent for good."""
FIXED = 9
FIXED_NS = FIXED * INTERVAL_S * S + JITTER_NS
LOSSES = (0.05, 0.10, 0.20, 0.30, 0.40)
KINDS = (("each on its own", 0.0, 1.0), ("bursts of 3", 3.0, 1.4), ("bursts of 5", 5.0, 2.2))
"""Mean burst (0: as chance has it), and the most false alarms an hour that are aimed at."""
SEED = 9


@dataclass(slots=True)
class Tally:
    """False alarms and delays of one rule on one link."""

    hours: int
    false: int = 0
    delay_s: float = 0.0
    falls: int = 0

    def silence(self, silent_s: float, limit_ns: int) -> None:
        """A silence that a report has ended: an alarm was raised if it passed the limit."""
        self.false += silent_s * S > limit_ns

    def falls_silent(self, silent_s: float, limit_ns: int) -> None:
        """The pack falls silent for good, having been unheard for so long."""
        self.delay_s += max(0.0, limit_ns / S - silent_s)
        self.falls += 1

    @property
    def an_hour(self) -> float:
        return self.false / self.hours

    @property
    def delay(self) -> float:
        return self.delay_s / self.falls


def figures() -> Iterator[Figure]:
    """Measure each link; last, four wearers on a link so bad that the limit is held to 90 s."""
    for kind, mean, aim in KINDS:
        for loss in LOSSES:
            yield from _link(kind, loss, mean or 1 / (1 - loss), aim)
    ours, fixed = measured("four share", 0.2, 5.0, wearers=SHARING)
    held = SHARING * REPORTS_AN_HOUR * runs_per_report(0.2, 5.0, LIMIT_S // INTERVAL_S)
    yield Figure(
        "false no signal an hour, four together: bursts of 5, 20%", SHARING * ours.an_hour, "",
        None, None, SHARING * fixed.an_hour,
        f"nine reports; by arithmetic {held:.2f} where each is held to 90 s",
    )  # fmt: skip


def _link(kind: str, loss: float, burst: float, aim: float) -> Iterator[Figure]:
    ours, fixed = measured(kind, loss, burst)
    known = reports_for(loss, burst, 1 / REPORTS_AN_HOUR, LIMIT_S // INTERVAL_S)
    known = max(known, HELD_S_MIN // INTERVAL_S)
    rate = REPORTS_AN_HOUR * runs_per_report(loss, burst, known)
    nine = REPORTS_AN_HOUR * runs_per_report(loss, burst, FIXED)
    link = f"{kind}, {loss:.0%}"
    yield Figure(
        f"false no signal an hour: {link}", ours.an_hour, "", None, aim, fixed.an_hour,
        f"nine reports; by arithmetic {nine:.2f}, link known {rate:.2f}",
    )  # fmt: skip
    yield Figure(
        f"delay of no signal: {link}", ours.delay, "s", None, None, fixed.delay,
        f"nine reports; by arithmetic {_delay_s(loss, burst, FIXED):.1f}, "
        f"link known {_delay_s(loss, burst, known):.1f}",
    )  # fmt: skip


def _delay_s(loss: float, burst: float, reports: int) -> float:
    """Mean from falling silent at any moment to the alarm: earlier losses shorten it."""
    again = 1 - 1 / burst
    before = loss * (1 - again**reports) / (1 - again)
    return (reports - 0.5 - before) * INTERVAL_S + JITTER_NS / S


def measured(
    kind: str, loss: float, burst: float, *, wearers: int = 1, hours: int = HOURS
) -> tuple[Tally, Tally]:
    """The rule and the fixed one over so many hours of one wearer; ``kind`` names the seed."""
    random = child(SEED, kind, round(100 * loss)).random
    end = 1 / burst
    chain = BurstChain(Bursts(begin=loss * end / (1 - loss), end=end), random())
    account, history = SequenceAccount(), LinkHistory()
    ours, fixed = Tally(hours), Tally(hours)
    missed = 0
    for number in range(1, WARM_UP + hours * REPORTS_AN_HOUR + 1):
        if chain.lost(random(), random()):
            missed += 1
        else:
            whole_s = (missed + 1) * INTERVAL_S
            if whole_s > HELD_S_MIN and number > WARM_UP:
                ours.silence(whole_s, _limit_ns(history, account, wearers))
                fixed.silence(whole_s, FIXED_NS)
            missed = 0
            if account.take(1, number):
                history.follow(account)
        if number % EVERY == 0 and number > WARM_UP:
            silent_s = (missed + random()) * INTERVAL_S
            ours.falls_silent(silent_s, _limit_ns(history, account, wearers))
            fixed.falls_silent(silent_s, FIXED_NS)
    return ours, fixed


def _limit_ns(history: LinkHistory, account: SequenceAccount, wearers: int) -> int:
    return rule_of(history, account, INTERVAL_S, wearers, LIMIT_S).limit_ns
