"""Whole incidents of many wearers, scored as ``report --alarms`` scores them; the bench has more.

ISA-18.2 (2016, from memory): two alarms in ten minutes are the most that can be managed, ten the
most in any ten minutes.
"""

import pytest

from tests.benchmarks import bench_incidents, crowd
from tests.depth import DEPTH


@pytest.mark.parametrize(("wearers", "seed"), [(12, 1), (28, 0)][:DEPTH])
def test_an_incident_of_many_is_no_flood(wearers: int, seed: int) -> None:
    score = bench_incidents.play(wearers, seed, forgets=False)
    assert score.ours.length_ns >= (crowd.LENGTH_S - 1) * crowd.S
    assert score.ours.under_air_ns > 15 * 60 * crowd.S, "crews were in for a good part of it"
    assert 0 < score.ours.counted < score.each.counted
    assert score.ours.peak < bench_incidents.PEAK_MOST
    assert score.ours.floods == ()
    assert bench_incidents.average([score.ours]) < bench_incidents.AVERAGE_MOST
