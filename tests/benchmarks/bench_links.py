"""Silence on links that are known: false alarms, and how soon many that are gone are a danger.

Each link of the table for 24 hours with four wearers under air, a routine hour on each, and packs
that fall silent for good, folded frame by frame. Beside the rule stands a fixed one of 30 s, on the
same losses. False is what was said of somebody who was heard again within 90 s, the longest limit
that a procedure may set. Of a silence that lasts longer every rule that keeps it tells, and what it
says is so: how often that was stands beside.
"""

import statistics
from collections.abc import Iterator
from random import Random

from tests.benchmarks.link_world import (
    FIXED_S,
    GROUPED,
    HOUR_S,
    LINKS,
    MOST_S,
    SILENCE,
    Link,
    S,
    World,
    routine,
    stays,
)
from tests.benchmarks.measuring import Figure

INTERVALS_S = (1, 5, 15)
HOURS, WEARERS = 24, 4
SEEDS = (1, 2)
FALSE_GOAL = 2.6
"""False "no signal" an hour: heard again within the longest limit."""
ALARMS_GOAL = 6.0
"""Alarms of a routine hour."""
DANGERS_GOAL = 0.05
"""False dangers of several silent, or a crew, an hour."""
KNOWN_S = 1_200
"""How long the links were heard before packs are gone."""
DRIP_S = 15
"""One after another, each so long after the last."""
VANISHED = ((2, 4, 30.0), (12, 12, 20.0), (60, 60, 15.0))
"""How many are gone, of how many, and within what time that is to be a danger."""
RUNS = 10


def figures() -> Iterator[Figure]:
    """Measure false alarms on each link, then how soon packs that are gone are missed."""
    for interval_s in INTERVALS_S:
        for link in LINKS:
            yield from _false(link, interval_s)
    for gone, of, bar in VANISHED:
        for link in LINKS if of < 60 else LINKS[:3]:
            yield _gone(link, gone, of, bar)
    for link in LINKS[:3]:
        yield _dripping(link)


def _false(link: Link, interval_s: int) -> Iterator[Figure]:
    worlds = [stays(link, interval_s, WEARERS, seed) for seed in SEEDS[: 1 + (interval_s > 1)]]
    for world in worlds:
        world.run(HOURS * HOUR_S)
    hours, name = HOURS * len(worlds), f"{link.name}, {interval_s} s"
    yield Figure(
        f"false no signal an hour: {name}", sum(w.false("no_signal") for w in worlds) / hours, "",
        None, FALSE_GOAL, sum(w.fixed for w in worlds) / hours,
        f"fixed {FIXED_S} s; {sum(w.count('no_signal') for w in worlds) / hours:.2f} in all, and "
        f"{sum(w.beyond for w in worlds) / hours:.2f} silences beyond {MOST_S} s",
    )  # fmt: skip
    yield Figure(
        f"false danger an hour: {name}", sum(w.false(*GROUPED) for w in worlds) / hours, "",
        None, DANGERS_GOAL, sum(w.count(*GROUPED) for w in worlds) / hours,
        "all of them, also of silences beyond the longest limit",
    )  # fmt: skip
    said, silences, fixed, most_false = [], [], [], 0
    for seed in range(RUNS):
        world = routine(link, interval_s, seed)
        world.run(HOUR_S)
        said.append(len(world.alarms()))
        silences.append(world.count(*SILENCE))
        fixed.append(world.fixed)
        most_false = max(most_false, world.false(*SILENCE))
    yield Figure(
        f"alarms of a routine hour: {name}", statistics.mean(said), "",
        None, ALARMS_GOAL, statistics.mean(fixed),
        f"fixed {FIXED_S} s, silence alone; at most {max(said)}, of them false {most_false}, "
        f"of silence {statistics.mean(silences):.1f}",
    )  # fmt: skip


def first_danger_s(world: World, gone_s: float, need: int, until_s: float) -> tuple[float, float]:
    """After how long those gone are a danger, and were with the fixed limit, of ``need`` packs."""
    world.run(until_s)
    said = [one.t / S for one in world.said if one.kind in GROUPED and one.t > gone_s * S]
    heard = sorted(pack.heard_ns for pack in world.packs)
    return (said[0] if said else until_s) - gone_s, heard[need - 1] / S + FIXED_S + 1 - gone_s


def _gone(link: Link, gone: int, of: int, bar: float) -> Figure:
    ours, fixed = [], []
    for seed in range(RUNS if of < 60 else 3):
        at_s = KNOWN_S + Random(seed).random() * 60
        world = stays(link, 5, of, 100 + seed, dict.fromkeys(range(1, gone + 1), at_s))
        after_s, fixed_s = first_danger_s(world, at_s, min(gone, 3), at_s + 2 * MOST_S)
        ours.append(after_s)
        fixed.append(fixed_s)
    return Figure(
        f"{gone} of {of} gone: a danger, {link.name}", statistics.median(ours), "s", bar, bar,
        statistics.median(fixed), f"fixed {FIXED_S} s; {min(ours):.0f} to {max(ours):.0f} s",
    )  # fmt: skip


def drip(link: Link, seed: int, each_s: float = DRIP_S) -> tuple[float, float]:
    """Twelve go one after another, no two of a crew in a row: ours and fixed, after the first."""
    order = [1, 3, 5, 7, 9, 11, 2, 4, 6, 8, 10, 12]
    gone = {wearer: KNOWN_S + n * each_s for n, wearer in enumerate(order)}
    world = stays(link, 5, 12, 100 + seed, gone)
    return first_danger_s(world, KNOWN_S, 3, KNOWN_S + 12 * each_s + MOST_S)


def _dripping(link: Link) -> Figure:
    ours, fixed = zip(*(drip(link, seed) for seed in range(RUNS)), strict=True)
    return Figure(
        f"12 gone, one each {DRIP_S} s: a danger, {link.name}", statistics.median(ours), "s",
        4.0 * DRIP_S, 4.0 * DRIP_S, statistics.median(fixed),
        f"fixed {FIXED_S} s; at worst {max(ours):.0f} s, the fifth goes at {4 * DRIP_S} s",
    )  # fmt: skip
