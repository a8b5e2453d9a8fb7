"""When a pack's silence is no signal: the out-of-range rule, learnt from each link. Pure.

A report that does not come is a loss, and on radio losses come in bursts. Let l be the share of
reports lost and a the chance that the one after a lost one is lost too. A run of at least k losses
then begins, in each report, with the chance

    l (1 - a) a^(k-1)          times 3600 / T: runs an hour, with a report every T seconds

for losses each on its own (a = l) and for bursts of mean length L (a = 1 - 1/L: Gilbert, 1960)
alike; see Feller, An Introduction to Probability Theory, vol. 1, ch. XIII, on runs. The rule waits
for the least k for which such runs are no more frequent than this wearer's share of the false
alarms that one officer can bear. Bursts decide, not the share lost: a rule that took losses to come
each on its own would cry several times an hour on a link with bursts.

l and L are counted from gaps in the sequence numbers, with a memory that fades, and start from a
link that is neither good nor bad. Fades last seconds, not reports, so the limit is held between
fixed seconds whatever the interval. Where the upper one binds, false alarms are more frequent than
the share: bursts of five reports at 20 % loss still give 2.6 an hour with four wearers.

Every reader of a journal must come to the same limit, on whatever machine. So there is no logarithm
and no power of the machine's library in here: sums and products alone come out alike everywhere.
"""

from itertools import accumulate, repeat
from operator import mul
from typing import NamedTuple

from monitor.incident.air.shown import SECOND_NS
from protocol.freshness import SequenceAccount

FALSE_PER_HOUR = 1.0
"""False "no signal" that one officer is to bear; all wearers under air share it."""
MEMORY_REPORTS = 240
"""A report so far back counts 1/e: 20 min at 5 s. Half of it is more nervous, twice no calmer."""
START_LOSS = 0.2
START_BURST = 2.5
START_REPORTS = 40
"""How many reports the start is worth."""

JITTER_NS = 1 * SECOND_NS
"""Largest difference in the delay of two frames that is not called silence."""
REPORTS_MIN = 3
"""Fewer lost in a row are a gap in the signal, shown without a sound."""
HELD_S_MIN = 30
"""Whatever the interval: fades last seconds, not reports."""
LEAST_NS = HELD_S_MIN * SECOND_NS + JITTER_NS
"""No link and no procedure makes the limit shorter."""

_FADE = 1 - 1 / MEMORY_REPORTS
_FADED_MAX = 2400
"""Ten memories: what is older counts as being so old."""
_FADED = tuple(accumulate(repeat(_FADE, _FADED_MAX), mul, initial=1.0))
"""What is left of a report after so many more."""


class LinkRule(NamedTuple):
    """The rule in force for one pack, with what it comes from."""

    limit_ns: int
    """Silence beyond it is no signal."""
    reports: int
    """Losses in a row that it waits for, before it is held between the fixed seconds."""
    interval_s: int
    loss: float
    """Share of reports lost lately, 0 to 1."""
    burst: float
    """Reports lost in a row, on average."""
    wearers: int
    """How many share the false alarms."""
    known: bool
    """Something has been heard of this link; else it is taken for one like most."""


class Learnt(NamedTuple):
    """Reports of one link, each with the weight that its age has left it."""

    sent: float
    lost: float
    bursts: float


class LinkHistory:
    """Losses of one link with a memory that fades.

    Whoever takes frames into the pack's account calls ``follow`` when losses in it have changed. A
    report that comes without a loss before it needs no call, so a good link costs nothing. Asking
    changes nothing: how often a screen looks must not matter.
    """

    __slots__ = ("_bursts", "_bursts_seen", "_lost", "_lost_seen", "_sent", "_sent_seen")

    def __init__(self) -> None:
        self._sent = float(START_REPORTS)
        self._lost = START_REPORTS * START_LOSS
        self._bursts = START_REPORTS * START_LOSS / START_BURST
        self._sent_seen = 0
        self._lost_seen = 0
        self._bursts_seen = 0

    def follow(self, account: SequenceAccount) -> None:
        """Take in what the account has counted since; who came late has taken the loss back."""
        sent = account.taken + account.lost
        passed, lost = sent - self._sent_seen, account.lost - self._lost_seen
        bursts = account.bursts - self._bursts_seen
        faded = _left_after(passed)
        self._sent = self._sent * faded + _weight_of(passed)
        # The losses came just now, but for the frame that showed them; each counts their mean.
        each = _weight_of(lost) * _FADE / lost if lost > 0 else 1.0
        self._lost = max(0.0, self._lost * faded + lost * each)
        self._bursts = max(0.0, self._bursts * faded + bursts * each)
        self._sent_seen, self._lost_seen = sent, account.lost
        self._bursts_seen = account.bursts

    def learnt(self, account: SequenceAccount) -> Learnt:
        """What this link alone has told, without what it started from."""
        passed = account.taken + account.lost
        faded = _left_after(passed - self._sent_seen)
        start = _left_after(passed)
        return Learnt(
            sent=max(
                0.0,
                self._sent * faded + _weight_of(passed - self._sent_seen) - start * START_REPORTS,
            ),
            lost=max(0.0, self._lost * faded - start * START_REPORTS * START_LOSS),
            bursts=max(
                0.0, self._bursts * faded - start * START_REPORTS * START_LOSS / START_BURST
            ),
        )

    def estimate(self, account: SequenceAccount) -> tuple[float, float]:
        """Share lost, 0 to below 1, and mean length of a burst, at least that of lone losses."""
        passed = account.taken + account.lost - self._sent_seen
        faded = _left_after(passed)
        loss = self._lost * faded / (self._sent * faded + _weight_of(passed))
        alone = 1 / (1 - loss)
        if self._bursts <= 0:
            return loss, alone
        return loss, max(self._lost / self._bursts, alone)


def _left_after(reports: int) -> float:
    return _FADED[min(reports, _FADED_MAX)]


def _weight_of(reports: int) -> float:
    """What so many reports in a row, up to now, count together."""
    return MEMORY_REPORTS * (1 - _left_after(reports))


def runs_per_report(loss: float, burst: float, reports: int) -> float:
    """Chance, in each report, that a run of at least so many losses begins."""
    again = 1 - 1 / burst
    chance = loss * (1 - again)
    for _ in range(reports - 1):
        chance *= again
    return chance


def reports_for(loss: float, burst: float, share: float, most: int) -> int:
    """The least run of losses that begins no more often than ``share`` a report.

    As a formula: 1 + ceil(ln(share / (loss (1 - a))) / ln a), with a = 1 - 1 / burst; from
    ``REPORTS_MIN`` to ``most``, or the former if that is more.
    """
    again = 1 - 1 / burst
    reports, chance = REPORTS_MIN, runs_per_report(loss, burst, REPORTS_MIN)
    while chance > share and reports < most:
        chance *= again
        reports += 1
    return reports


def rule_of(
    history: LinkHistory, account: SequenceAccount, interval_s: int, wearers: int, limit_s: float
) -> LinkRule:
    """The rule for a link with this history.

    ``wearers``: all under air with telemetry; ``limit_s``: the most that the procedure allows. A
    link of which nothing was heard has no false alarms to share: nine reports at 5 s.
    """
    known = account.taken > 0
    sharing = max(1, wearers) if known else 1
    loss, burst = history.estimate(account)
    share = FALSE_PER_HOUR * interval_s / 3600 / sharing
    reports = reports_for(loss, burst, share, most=-int(-limit_s // interval_s))
    held_s = min(max(HELD_S_MIN, reports * interval_s), limit_s)
    limit_ns = int(held_s * SECOND_NS) + JITTER_NS
    return LinkRule(limit_ns, reports, interval_s, loss, burst, sharing, known)
