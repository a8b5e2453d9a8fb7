"""How many alarms an officer gets of 8 to 60 wearers, by the code of ``outby report --alarms``.

Each incident is 45 minutes (``crowd``, ``crowd_officer``), played faster than time through the real
base, frame by frame; its rows are then read as a journal's are. Every fourth officer forgets to
note people out. Peer: the same histories with one announcement for each wearer and condition.
Beside it those of an officer who passes over reminders, and is told once it is too late for one.
"""

import os
import sys
from collections import Counter
from collections.abc import Iterator, Sequence
from typing import NamedTuple

from monitor.incident.alarms.catalogue import Kind
from monitor.incident.alarms.engine import Key
from monitor.incident.picture import Picture, Priority
from monitor.report.alarm_lives import AlarmLife
from monitor.report.alarm_quality import Quality, quality
from monitor.report.gathering import gather
from tests.benchmarks.crowd import LENGTH_S, Crowd, S
from tests.benchmarks.crowd_officer import Keepers
from tests.benchmarks.measuring import Figure, say

SIZES = (8, 12, 20, 28, 40, 60)
SEEDS = {8: 3, 12: 3, 20: 3, 28: 3, 40: 3, 60: 5}
"""Twenty incidents."""
FORGETS_EACH = 4
AVERAGE_MOST, PEAK_MOST = 2.0, 10.0
"""In ten minutes: ISA-18.2 (2016), the most that can be managed, and the worst; from memory."""
IGNORES = bool(os.environ.get("INCIDENT_IGNORES"))
"""Called by hand: the officer passes over reminders."""
PRESENT = frozenset({"unacknowledged", "acknowledged"})


class Score(NamedTuple):
    """How one incident went."""

    ours: Quality
    each: Quality
    """The peer's."""


class Each:
    """One announcement for each wearer and condition, as the pictures have them."""

    def __init__(self) -> None:
        self._lives: dict[tuple[str, int], AlarmLife] = {}
        self._now: set[tuple[str, int]] = set()

    def look(self, picture: Picture, t_ns: int) -> None:
        """Count what was not there at the last look."""
        there = {
            (alarm.kind, wearer): alarm.priority
            for alarm in picture.alarms
            if alarm.state in PRESENT and alarm.priority is not Priority.NOTICE
            for wearer in alarm.wearers or (0,)
        }
        for pair, priority in there.items():
            if pair not in self._now:
                kind, wearer = pair
                key = Key(Kind(kind), wearer=wearer)
                life = AlarmLife(len(self._lives) + 1, key, priority)
                self._lives.setdefault(pair, life).began.append((t_ns, priority))
        self._now = set(there)

    @property
    def lives(self) -> list[AlarmLife]:
        return list(self._lives.values())


def play(
    wearers: int, seed: int, *, forgets: bool, ignores: bool = False, length_s: float = LENGTH_S
) -> Score:
    """One incident, scored."""
    crowd, each = Crowd(wearers, seed), Each()
    keepers = Keepers(crowd, forgets=forgets, ignores=ignores)
    t_s = 0.0
    while t_s < length_s:
        t_s = crowd.step()
        picture = keepers.live(t_s)
        if picture is not None:
            each.look(picture, round(t_s * S))
        crowd.commit()
    found = gather([crowd.rows], crowd.horizon)
    under_air = found.wears.under_air(found.end_ns)
    ours = quality(found.lives.in_order(), found.end_ns, under_air)
    return Score(ours, quality(each.lives, found.end_ns, under_air))


def scores(wearers: int, seeds: int, *, ignores: bool = False) -> Iterator[Score]:
    """So many incidents of one size."""
    for seed in range(seeds):
        forgets = seed % FORGETS_EACH == FORGETS_EACH - 1
        yield play(wearers, seed, forgets=forgets, ignores=ignores)


def average(found: Sequence[Quality]) -> float:
    """Alarms in ten minutes, of all the time together while anybody was under air."""
    minutes = sum(q.under_air_ns for q in found) / (600 * S)
    return sum(q.counted_under_air for q in found) / minutes


def told(wearers: int, found: Sequence[Score]) -> str:
    """What made most of it, in a line."""
    kinds: Counter[str] = Counter()
    for score in found:
        kinds.update({cause.kind: cause.times for cause in score.ours.causes})
    flood = sum(score.ours.flood_share for score in found) / len(found)
    most = ", ".join(f"{kind} {times / len(found):.1f}" for kind, times in kinds.most_common(6))
    return f"{wearers:>3} wearers: {100 * flood:.0f} % flood; an incident: {most}"


def figures() -> Iterator[Figure]:
    """Average and worst peak of each size; ``INCIDENT_SEEDS`` plays as many of each."""
    seeds = int(os.environ.get("INCIDENT_SEEDS", "0"))
    for wearers in SIZES:
        found = list(scores(wearers, seeds or SEEDS[wearers]))
        ours, peers = [s.ours for s in found], [s.each for s in found]
        peer = "each wearer and condition told"
        what = f"{len(found)} x 45 min, {wearers} wearers: alarms in 10 min"
        yield Figure(what, average(ours), "", AVERAGE_MOST, 1.0, average(peers), peer)
        worst, peers_worst = max(q.peak for q in ours), max(q.peak for q in peers)
        yield Figure("  the most in any 10 min", worst, "", PEAK_MOST, None, peers_worst, peer)
        say(told(wearers, found))
        deaf = [score.ours for score in scores(wearers, seeds or SEEDS[wearers], ignores=True)]
        what = "  by an officer who ignores reminders"
        yield Figure(what, average(deaf), "", None, None, average(ours), "one who heeds them")
        yield Figure(
            "    the most in any 10 min", max(q.peak for q in deaf), "", None, None, worst, ""
        )


if __name__ == "__main__":
    for size in map(int, sys.argv[2:] or SIZES):
        of_size = []
        for score in scores(size, int(sys.argv[1]), ignores=IGNORES):
            of_size.append(score)
            parts = (("", score.ours), ("each ", score.each))
            rates = (f"{n}{average([q]):.1f} peak {q.peak}" for n, q in parts)
            say(f"{size}: {', '.join(rates)}")
        say(told(size, of_size))
