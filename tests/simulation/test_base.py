"""The whole base from seeds. A seed that once failed stays in ``FAILED`` for good."""

from collections import Counter
from typing import Any

import pytest

from tests.depth import seeds

FAILED = {
    1: "a horizon a nanosecond before the last row of its own batch",
    9: "ids of acts not taken up from the journal: one was done twice",
}
"""Each with what it found, newest last."""
FRESH = seeds(32, first=1)


@pytest.mark.parametrize("seed", FAILED)
def test_a_seed_that_failed_once(world: Any, seed: int) -> None:
    world(seed).run()


def test_invariants_hold_whatever_goes_wrong(world: Any) -> None:
    """And everything does go wrong that can: each fault is met in some of the runs."""
    met: Counter[str] = Counter()
    for seed in FRESH:
        run = world(seed)
        try:
            run.run()
        except Exception as error:
            error.add_note(f"seed {seed}, faults {sorted(run.faults)}")
            raise
        met.update(run.counts)
    assert min(met.values()) > 0, met


def test_one_seed_gives_one_run(world: Any) -> None:
    one, two = world(5), world(5)
    one.run()
    two.run()
    assert one.journal.rows == two.journal.rows
    assert len(one.journal.rows) > 50
