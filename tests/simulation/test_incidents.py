"""Whole incidents of many wearers, scored as ``report --alarms`` scores them; the bench has more.

ISA-18.2 (2016, from memory): two alarms in ten minutes are the most that can be managed, ten the
most in any ten minutes.
"""

import pytest

from tests.benchmarks import bench_incidents, crowd
from tests.depth import DEPTH


@pytest.mark.parametrize(("wearers", "seeds"), [(12, 3), (28, 3)][:DEPTH])
def test_incidents_of_many_are_no_flood(wearers: int, seeds: int) -> None:
    scores = [bench_incidents.play(wearers, seed, forgets=False) for seed in range(seeds)]
    found = [score.ours for score in scores]
    for one in found:
        assert one.length_ns >= (crowd.LENGTH_S - 1) * crowd.S
        assert one.under_air_ns > 15 * 60 * crowd.S, "crews were in for a good part of it"
        assert one.peak < bench_incidents.PEAK_MOST
        assert one.floods == ()
    assert sum(one.counted for one in found) > 0
    assert bench_incidents.average(found) < bench_incidents.AVERAGE_MOST
    # Few of it are groups in so small a crowd, and a group may be told after some of it were.
    assert sum(one.counted for one in found) <= seeds + sum(s.each.counted for s in scores)
