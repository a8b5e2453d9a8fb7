"""Whole incidents on disks that go wrong, from seeds; ``make incidents SEEDS=10000`` runs more."""

import os

import pytest

from tests.simulation.disk_world import KINDS, DiskIncident

SEEDS = int(os.environ.get("SEEDS", "80"))
SLICES = max(1, SEEDS // 100)
"""Each for whichever worker is free, and each large enough to meet everything."""


@pytest.mark.parametrize("first", range(SLICES))
def test_whatever_a_disk_does_alarms_sound_orders_go_and_nothing_is_lost(first: int) -> None:
    """And a disk does all that it can: every fault and every answer is met."""
    kinds, said = set(), set()
    for seed in range(1 + first, SEEDS + 1, SLICES):
        one = DiskIncident(seed)
        try:
            one.run()
        except Exception as error:
            error.add_note(f"seed {seed}, {one.fault}")
            raise
        kinds.add(one.kind)
        said |= {word for words in one.answered.values() for word in words}
    assert kinds == set(KINDS)
    assert said == {"taken", "held", "sent"}
