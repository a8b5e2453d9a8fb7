"""When silence of several packs is too much for chance: the rule of the fleet. Pure.

Each pack is judged by its own link, and waits as long as that link's bursts are long. Of several at
once chance explains less. A run of m or more missed reports begins, in each report, with the chance
q, and the link is in one with the chance p = q L:

    q = l (1 - a) a^(m-1)          (share lost l, burst again a, L = 1 / (1 - a): ``link_rule``)

or by what is known of its long gaps, whichever is more. Links that fail each for itself come to
have k of n packs in such silences at once, with a report every T seconds, no more often than

    3600 / T  n  C(n-1, k-1)  q p^(k-1)          times an hour:

one pack of the n comes so far in that very report, while k-1 of the other n-1 are in theirs
(Boole's inequality over the ways to choose them). Silences that **began together**, all within one
interval, are rarer still: once one has begun, each of the others must have begun in the same
interval, so q stands in the place of p. This is the scan over a window of a disease cluster or a
burst of photons, made for silences: Naus, The distribution of the size of the maximum cluster of
points on a line, JASA 60 (1965); Feller, vol. 1, ch. IV for the bound. So for each k there is a
greatest chance that the budget of false dangers allows, and for each pack a least number of missed
reports; when k packs have come so far, it is a danger.

The budget is one for all: a share for the fleet, divided by the sizes k that are looked for, and
shares for crews, divided by the crews, where k and n are the crew: mates are in one place.

As in the link rule, sums and products alone: every reader must come to the same instant.
"""

from collections.abc import Iterable, Sequence
from functools import lru_cache

from monitor.incident.link_rule import Link

FLEET_PER_HOUR = 0.005
"""What chance may make of it on links that fail each for itself: 0.025 with the next two, half of
what an officer is to bear. The other half is for crews of whom each has passed its own limit."""
CREWS_PER_HOUR = 0.005
"""Of crews silent at once, ..."""
TOGETHER_PER_HOUR = 0.015
"""... and of those whose silences began together: it is them that a collapse makes."""
SIZES = (3, 4, 6, 8, 12, 16, 24, 32, 48, 64, 96, 128, 192, 256, 384, 512)
"""Sizes of a group that are looked for; two of different crews may stand behind two walls."""
MISSED_MIN = 2
"""One report missed is nothing, whoever misses it."""
MISSED_MAX = 60
"""With more, it is for the pack's own limit to say."""
_HALVINGS = 60


def sizes(packs: int) -> tuple[int, ...]:
    """The sizes looked for among so many packs."""
    return tuple(size for size in SIZES if size <= packs)


def per_hour(chance: float, size: int, packs: int, interval_s: int) -> float:
    """How often so many of the packs come to be in silences of this chance at once, at most.

    With q for the chance of each, begun in one interval; with p, and L times as often as it is.
    """
    ways = float(packs)
    for k in range(1, size):
        ways = ways * (packs - k) / k
    often = 3600 / interval_s * ways
    for _ in range(size):
        often *= chance
    return often


@lru_cache(maxsize=1024)
def chance_for(size: int, packs: int, interval_s: int, share_per_hour: float) -> float:
    """The greatest chance of one silence at which so many at once stay within the share."""
    low, high = 0.0, 1.0
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        if per_hour(middle, size, packs, interval_s) <= share_per_hour:
            low = middle
        else:
            high = middle
    return low


class Runs:
    """Runs of missed reports on one link, each length with its chance; the longer, the less."""

    __slots__ = ("_begins", "_link")

    def __init__(self, link: Link, *, begins: bool) -> None:
        """``begins``: the chance in each report that a run begins; else that it is in one."""
        self._link = link
        self._begins = begins

    def missed_for(self, chances: Sequence[float]) -> list[int | None]:
        """For each chance the least run that is no likelier; None: none is.

        The least chance comes first, as those for ever larger groups do.
        """
        link, begins = self._link, self._begins
        again, on, both = 1 - 1 / link.burst, link.goes_on, link.goes_on + link.ends
        any_run = most = link.loss * (1 - again) if begins else link.loss
        # What is long now was short before: there must have been more of it.
        long_run = link.long if begins else link.long / (1 - link.again)
        for _ in range(link.long_reports - 1):
            long_run /= link.again
        missed, likely = 1, most
        found: list[int | None] = []
        for chance in reversed(chances):
            while missed < MISSED_MAX and (missed < MISSED_MIN or likely > chance):
                any_run *= again
                long_run *= on / both
                if missed >= link.long_reports:
                    on, both = on + 1, both + 1
                missed += 1
                likely = max(any_run, min(long_run, most))
            found.append(missed if likely <= chance else None)
        found.reverse()
        return found


def least_burst(links: Iterable[Link]) -> int:
    """How much rarer a run begins than it is there, on whichever link; whole, at least 1."""
    return int(min(min(link.burst, 1 / (1 - link.again)) for link in links))
