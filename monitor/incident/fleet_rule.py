"""When silence of several packs is too much for chance: the rule of the fleet. Pure.

Each pack is judged by its own link, and waits as long as that link's bursts are long. Of several at
once chance explains less. A link is in a run of m or more missed reports with the chance p

    l a^(m-1)          (share lost l, burst again a: ``link_rule``)

Links that fail each for itself come to have k of n packs in such silences at once, with a report
every T seconds, no more often than

    3600 / T  n  C(n-1, k-1)  p^k          times an hour:

one pack of the n begins its silence in that very report (at most n p of them in each interval),
while k-1 of the other n-1 are in theirs (Boole's inequality over the ways to choose them). This is
the scan over a window of a disease cluster or a burst of photons, made for silences: Naus, The
distribution of the size of the maximum cluster of points on a line, JASA 60 (1965); Feller, vol. 1,
ch. IV for the bound. So for each k there is a greatest p that the budget of false dangers allows,
and for each pack a least number of missed reports; when k packs have come so far, it is a danger.

The budget is one for all: half for the fleet, shared by the sizes k that are looked for, and half
for crews, shared by the crews, where k and n are the crew: mates are in one place.

As in the link rule, sums and products alone: every reader must come to the same instant.
"""

from functools import lru_cache

FALSE_DANGERS_PER_HOUR = 0.05
"""What chance may make of it on links that fail each for itself."""
SHARE_PER_HOUR = FALSE_DANGERS_PER_HOUR / 2
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
    """How often so many of the packs come to be in silences of this chance at once, at most."""
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


def missed_for(loss: float, burst: float, chance: float) -> int | None:
    """The least run of missed reports that is so unlikely on this link; None: none is."""
    return all_missed_for(loss, burst, [chance])[0]


def all_missed_for(loss: float, burst: float, chances: list[float]) -> list[int | None]:
    """The same for several chances, the least first, as those for ever larger groups are."""
    again = 1 - 1 / burst
    missed, likely = 1, loss
    found: list[int | None] = []
    for chance in reversed(chances):
        while missed < MISSED_MAX and (missed < MISSED_MIN or likely > chance):
            missed += 1
            likely *= again
        found.append(missed if likely <= chance else None)
    found.reverse()
    return found
