"""When a pack's silence is no signal: the out-of-range rule, learnt from each link. Pure.

On radio, reports are lost each on its own, and in bursts: a link is in one of two states, and stays
there for a while (Gilbert, Capacity of a burst-noise channel, Bell System Technical Journal 39,
1960; with losses in both states: Elliott, Estimates of error rates for codes on burst-noise
channels, ibid. 42, 1963; both from memory). What ends a wait of half a minute and more are the
bursts alone. So what is learnt is how often a **long gap** begins, one of at least so many reports
as make ``LONG_S``, and how surely one that has come so far goes on. Lone losses do not dilute that.

A gap that goes on by one more report with the chance a, whatever has gone before, lasts j more with
a^j. From e long gaps that went on for x reports altogether a is known only so well: by Bayes' rule
Beta(x + 1, e + 1) and the like, and the chance of j more, over all that a may be, is the product of

    (x' + i) / (x' + e' + i)        for i from 0 to j - 1

(Polya's urn; Feller, An Introduction to Probability Theory, vol. 1, ch. V). Where little is known
this falls slowly, so a link that has shown one long gap is given time, and one that has shown none
in many reports is not. The rule waits for the least run whose chance in each report is no more than
this wearer's share of the false alarms that one officer can bear.

Each link is taken for one like the others of the fleet (``fleet``) until it has told enough itself,
and the fleet, at first, for one on which long gaps are rare. Its memory fades. Fades last seconds,
not reports, so the limit is held between fixed seconds whatever the interval. Where the upper one
binds, false alarms are as frequent as fades that are longer: no rule that keeps it does better.

Every reader of a journal must come to the same limit, on whatever machine. So there is no logarithm
and no power of the machine's library in here: sums, products and quotients come out alike
everywhere (IEEE 754).
"""

from dataclasses import dataclass
from functools import lru_cache
from itertools import accumulate, repeat
from operator import mul
from typing import NamedTuple

from monitor.incident.air.shown import SECOND_NS
from protocol.freshness import SequenceAccount

FALSE_PER_HOUR = 1.0
"""False "no signal" that one officer is to bear; all wearers under air share it."""
LONG_S, LONG_REPORTS_MIN = 15, 2
"""A gap of so many seconds, and reports, is a long one: half of the least wait."""
MEMORY_S, MEMORY_STEP_S = 1_200, 5
"""A report so far back counts 1/e: 20 min, or 240 reports where they come more seldom than 5 s."""

START_S = 200
"""What the fleet starts from is worth so long a hearing of one pack, ..."""
START_LONG = 0.15
"""... in which so much of a long gap was met: most links have none. ..."""
START_BEYOND_S, START_ENDS = 15.0, 2.0
"""... Where there is one, it goes on by 15 s on average; worth two gaps."""
START_REPORTS, START_LOST, START_BURSTS, START_IN_BURSTS = 40, 8, 6, 30
"""Of all losses: a fifth, in bursts of five."""
FLEET_S, FLEET_LONG = 200, 10.0
"""What the fleet says is worth so long a hearing, and at most so many long gaps, of one's own."""
FLEET_REPORTS, FLEET_BURSTS = 40.0, 4.0
"""The same for all losses."""
FLEET_SENT_MAX = 10_000
"""Reports of the fleet that count together; older ones make room."""

JITTER_NS = 1 * SECOND_NS
"""Largest difference in the delay of two frames that is not called silence."""
REPORTS_MIN = 3
"""Fewer lost in a row are a gap in the signal, shown without a sound."""
REPORTS_NEVER_HEARD = 9
"""Of a link of which nothing was heard: two missed beacons, and time for its first reports."""
HELD_S_MIN = 30
"""Whatever the interval: fades last seconds, not reports."""
HELD_S_MAX = 90
"""No procedure waits for longer; nor does a longer silence teach more."""
LEAST_NS = HELD_S_MIN * SECOND_NS + JITTER_NS
"""No link and no procedure makes the limit shorter."""

_FADE_A_SECOND = 1 - 1 / MEMORY_S
_FADED_MAX = 10 * MEMORY_S
"""Ten memories: what is older counts as being so old."""
_FADED = tuple(accumulate(repeat(_FADE_A_SECOND, _FADED_MAX), mul, initial=1.0))
"""What is left of a report after so many more seconds."""


class LinkRule(NamedTuple):
    """The rule in force for one pack, with what it comes from."""

    limit_ns: int
    """Silence beyond it is no signal."""
    reports: int
    """Losses in a row that it waits for, before it is held between the fixed seconds."""
    interval_s: int
    loss: float
    """Share of reports lost lately, 0 to 1."""
    long_an_hour: float
    """Long gaps that are to be expected in an hour, ..."""
    long_s: float
    """... and how long one is on average."""
    wearers: int
    """How many share the false alarms."""
    known: bool
    """Something has been heard of this link; else it is taken for one like most."""


@dataclass(slots=True)
class Counted:
    """Reports, each with the weight that its age has left it."""

    sent: float = 0.0
    lost: float = 0.0
    bursts: float = 0.0
    """Runs of losses, of whatever length."""
    long: float = 0.0
    """Long gaps."""
    beyond: float = 0.0
    """Reports by which those went on."""

    def add(self, other: "Counted") -> None:
        """Count these as well."""
        self.sent += other.sent
        self.lost += other.lost
        self.bursts += other.bursts
        self.long += other.long
        self.beyond += other.beyond

    def scale(self, share: float) -> None:
        """Let so much of the weight stay."""
        self.sent *= share
        self.lost *= share
        self.bursts *= share
        self.long *= share
        self.beyond *= share


class Link(NamedTuple):
    """How a link is taken to be."""

    loss: float
    burst: float
    """Reports lost in a row, on average, long gaps or not."""
    long_reports: int
    """From so many on a gap is a long one."""
    long: float
    """Chance, in each report, that a long gap begins."""
    goes_on: float
    ends: float
    """That it goes on by one more report: Beta(goes_on, ends)."""

    @property
    def again(self) -> float:
        """The mean of that chance."""
        return self.goes_on / (self.goes_on + self.ends)


def long_reports(interval_s: int) -> int:
    """How many reports missed in a row make a long gap."""
    return max(LONG_REPORTS_MIN, -(-LONG_S // interval_s))


def missed_in(silent_ns: int, interval_s: int) -> int:
    """How many reports a silence of so long is beyond: the most k with k T + J below it."""
    return max(0, (silent_ns - JITTER_NS) // (interval_s * SECOND_NS))


class LinkHistory:
    """Losses of one link with a memory that fades.

    Whoever takes frames into the pack's account calls ``follow`` when losses in it have changed. A
    report that comes without a loss before it needs no call, so a good link costs nothing. Asking
    changes nothing: how often a screen looks must not matter.
    """

    __slots__ = ("_counted", "_newest", "_seen", "_told", "beyond", "long")

    def __init__(self) -> None:
        self._counted = Counted()
        self._seen = (0, 0, 0)
        """Of the account, taken in: sent, lost, bursts."""
        self._told = (0, 0, 0, 0, 0)
        """What ``news`` has told: the same, long gaps, reports beyond."""
        self._newest = 0
        """Reports of the newest long gap that did not come late; 0: it is none any more."""
        self.long = self.beyond = 0
        """Long gaps so far, and by how many reports they went on."""

    def follow(self, account: SequenceAccount, interval_s: int, missed: int) -> None:
        """Take in what the account has counted since; who came late has taken the loss back.

        ``missed``: reports missed in the silence that this frame has ended. Whoever can hold frames
        back and let them go must not lengthen the limit: they take their long gap back, too.
        """
        sent_seen, lost_seen, bursts_seen = self._seen
        self._seen = sent, lost, bursts = account.taken + account.lost, account.lost, account.bursts
        counted, passed, lost_now = self._counted, sent - sent_seen, lost - lost_seen
        counted.scale(_left_after(passed, interval_s))
        counted.sent += _weight_of(passed, interval_s)
        # The losses came just now, but for the frame that showed them; each counts their mean.
        each = 1.0
        if lost_now > 0:
            each = _weight_of(lost_now, interval_s) * _left_after(1, interval_s) / lost_now
        counted.lost = max(0.0, counted.lost + lost_now * each)
        counted.bursts = max(0.0, counted.bursts + (bursts - bursts_seen) * each)
        least = long_reports(interval_s)
        if missed >= least:
            self._newest = max(least, min(missed, HELD_S_MAX // interval_s))
            self._count(1, self._newest - least)
        elif lost_now < 0 and self._newest:
            self._newest -= 1
            if self._newest >= least:
                self._count(0, -1)
            else:
                self._newest = 0
                self._count(-1, 0)

    def _count(self, long: int, beyond: int) -> None:
        self.long += long
        self.beyond += beyond
        self._counted.long = max(0.0, self._counted.long + long)
        self._counted.beyond = max(0.0, self._counted.beyond + beyond)

    def counted(self, account: SequenceAccount, interval_s: int) -> Counted:
        """What this link has told, up to now."""
        told, passed = self._counted, account.taken + account.lost - self._seen[0]
        left, weight = _left_after(passed, interval_s), _weight_of(passed, interval_s)
        return Counted(
            told.sent * left + weight,
            told.lost * left,
            told.bursts * left,
            told.long * left,
            told.beyond * left,
        )

    def news(self, account: SequenceAccount) -> Counted:
        """What it has told since this was last asked, each report at its full weight."""
        before = self._told
        sent = account.taken + account.lost
        self._told = now = sent, account.lost, account.bursts, self.long, self.beyond
        return Counted(*(float(n - b) for n, b in zip(now, before, strict=True)))


def _left_after(reports: int, interval_s: int) -> float:
    return _FADED[min(reports * min(interval_s, MEMORY_STEP_S), _FADED_MAX)]


def _weight_of(reports: int, interval_s: int) -> float:
    """What so many reports in a row, up to now, count together."""
    step = min(interval_s, MEMORY_STEP_S)
    return (1 - _FADED[min(reports * step, _FADED_MAX)]) / (1 - _FADED[step])


def tell_fleet(fleet: Counted, news: Counted) -> None:
    """Let the fleet count what one of its links has told."""
    fleet.add(news)
    fleet.long, fleet.beyond = max(0.0, fleet.long), max(0.0, fleet.beyond)
    if fleet.sent > FLEET_SENT_MAX:
        fleet.scale(FLEET_SENT_MAX / fleet.sent)


class Alike(NamedTuple):
    """What is added to what one link has told, from what the others have."""

    sent: float
    """Worth so many reports, ..."""
    long: float
    """... so much of a long gap in them, ..."""
    goes_on: float
    ends: float
    """... and so many that went on for so many reports."""
    lost: float
    """Of ``FLEET_REPORTS``."""
    in_bursts: float
    """Of ``FLEET_BURSTS``."""
    long_reports: int


def alike(fleet: Counted, interval_s: int) -> Alike:
    """By what the fleet has told, and by what links are at the start."""
    worth, ends = FLEET_S / interval_s, fleet.long + START_ENDS
    goes_on = fleet.beyond + START_ENDS * START_BEYOND_S / 2 / interval_s
    part = min(1.0, FLEET_LONG / ends)
    return Alike(
        sent=worth,
        long=worth * (fleet.long + START_LONG) / (fleet.sent + START_S / interval_s),
        goes_on=part * goes_on,
        ends=part * ends,
        lost=FLEET_REPORTS * (fleet.lost + START_LOST) / (fleet.sent + START_REPORTS),
        in_bursts=FLEET_BURSTS * (fleet.lost + START_IN_BURSTS) / (fleet.bursts + START_BURSTS),
        long_reports=long_reports(interval_s),
    )


class Fleet:
    """What is kept of all packs under air together."""

    def __init__(self) -> None:
        self.due_ns: int | None = None
        """When it is looked at again; None: too few to be looked at."""
        self.links: dict[int, Counted] = {}
        """What all links have told, by report interval, as last looked at, ..."""
        self.alike: dict[int, Alike] = {}
        """... and what that says of each of them."""
        self.learnt_ns = 0
        """When that was."""


@lru_cache(maxsize=64)
def at_start(interval_s: int) -> Alike:
    """Where no fleet has told anything."""
    return alike(Counted(), interval_s)


def link_of(own: Counted, others: Alike) -> Link:
    """How a link is, by what it and the others have told."""
    loss = (own.lost + others.lost) / (own.sent + FLEET_REPORTS)
    burst = (own.lost + others.in_bursts) / (own.bursts + FLEET_BURSTS)
    return Link(
        loss,
        max(burst, 1 / (1 - loss)),
        others.long_reports,
        (own.long + others.long) / (own.sent + others.sent),
        own.beyond + others.goes_on,
        own.long + others.ends,
    )


def reports_for(link: Link, share: float, most: int) -> int:
    """The least run of losses that begins no more often than ``share`` a report, or ``most``."""
    reports, chance = link.long_reports, link.long
    goes_on, both = link.goes_on, link.goes_on + link.ends
    while chance > share and reports < most:
        chance *= goes_on / both
        goes_on += 1
        both += 1
        reports += 1
    return max(reports, REPORTS_MIN)


def rule_of(link: Link, interval_s: int, wearers: int, limit_s: float, *, known: bool) -> LinkRule:
    """The rule for a link.

    ``wearers``: all under air with telemetry; ``limit_s``: the most that the procedure allows. A
    link of which nothing was heard (``known``) has no false alarms to share.
    """
    sharing = max(1, wearers) if known else 1
    if known:
        share = FALSE_PER_HOUR * interval_s / 3600 / sharing
        reports = reports_for(link, share, most=-int(-limit_s // interval_s))
    else:
        reports = REPORTS_NEVER_HEARD
    held_s = min(max(HELD_S_MIN, reports * interval_s), limit_s)
    return LinkRule(
        int(held_s * SECOND_NS) + JITTER_NS,
        reports,
        interval_s,
        link.loss,
        link.long * 3600 / interval_s,
        (link.long_reports + link.goes_on / link.ends) * interval_s,
        sharing,
        known,
    )
