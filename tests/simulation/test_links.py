"""Links that are known, a small part of their bench: silence that is none, and silence that is.

A silence longer than the longest limit is an alarm by whatever rule; each other one is the rule's
own. Half of the links that have bursts were the worst there were before lengths were learnt.
"""

import pytest

from tests.benchmarks.bench_links import drip, first_danger_s
from tests.benchmarks.link_world import HOUR_S, LINKS, SILENCE, Link, routine, stays

BY_NAME = {link.name: link for link in LINKS}
HARDEST = "10% alone, fades of 25 s, 10%"


@pytest.mark.parametrize(
    ("name", "interval_s", "hours"),
    [("bursts of 5, 10%", 5, 8), (HARDEST, 5, 8), (HARDEST, 2, 4), ("fades of 25 s, 20%", 15, 12)],
)
def test_hardly_more_false_silence_than_any_rule_must_tell(
    name: str, interval_s: int, hours: int
) -> None:
    """Before: 2.2, 11.6 and 5.1 an hour of the first, second and last of these."""
    world = stays(BY_NAME[name], interval_s, 4, 3)
    world.run(hours * HOUR_S)
    assert world.beyond > 0
    assert world.count("no_signal") <= world.beyond + hours
    assert world.fixed > 5 * world.count("no_signal")
    assert world.false("no_signal") <= hours, "one an hour is what an officer is to bear"


@pytest.mark.parametrize("interval_s", [1, 5, 15])
@pytest.mark.parametrize("name", ["clean", "each on its own, 20%", "fades of 25 s, 20%", HARDEST])
def test_alarms_of_a_routine_hour(name: str, interval_s: int) -> None:
    """The first hour, with nothing known of any link."""
    world = routine(BY_NAME[name], interval_s, 2)
    world.run(HOUR_S)
    assert len(world.alarms()) <= 6, world.alarms()
    assert world.count(*SILENCE) <= 4


@pytest.mark.parametrize(
    ("link", "within_s"),
    [("clean", 15), ("each on its own, 10%", 30), ("bursts of 5, 10%", 91)],
)
def test_both_of_a_crew_are_missed(link: str, within_s: float) -> None:
    world = stays(BY_NAME[link], 5, 4, 5, {1: 1_230, 2: 1_230})
    after_s, _ = first_danger_s(world, 1_230, 2, 1_400)
    assert 0 < after_s <= within_s


@pytest.mark.parametrize("name", ["clean", "each on its own, 10%"])
@pytest.mark.parametrize("each_s", [10, 20])
def test_one_after_another_is_a_danger_by_the_fifth(name: str, each_s: float) -> None:
    after_s, _ = drip(BY_NAME[name], 1, each_s)
    assert after_s <= 4 * each_s + 5


def test_a_fade_in_time_is_a_chain_of_reports() -> None:
    """exp(-T / (25 s x 0.8)) of what is not yet as in the long run; T = 5: 0.2 + 0.8 x 0.7788."""
    chain = Link("", share=0.2, fade_s=25).chain(5)
    assert chain is not None
    assert 1 - chain.end == pytest.approx(0.2 + 0.8 * 0.778801, rel=1e-4)
    assert chain.begin / (chain.begin + chain.end) == pytest.approx(0.2)
