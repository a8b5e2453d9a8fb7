"""The whole base from seeds. A seed that once failed stays in ``FAILED`` for good."""

from typing import Any

import pytest

FAILED = {
    1: "a horizon a nanosecond before the last row of its own batch",
    9: "ids of acts not taken up from the journal: one was done twice",
}
"""Each with what it found, newest last."""
FRESH = range(1, 201)
SLICES = 8


@pytest.mark.parametrize("seed", FAILED)
def test_a_seed_that_failed_once(world: Any, seed: int) -> None:
    world(seed).run()


@pytest.mark.parametrize("first", range(SLICES))
def test_invariants_hold_whatever_goes_wrong(world: Any, first: int) -> None:
    for seed in FRESH[first::SLICES]:
        run = world(seed)
        try:
            run.run()
        except Exception as error:
            error.add_note(f"seed {seed}, faults {sorted(run.faults)}")
            raise


def test_the_runs_meet_every_fault(world: Any) -> None:
    met: dict[str, int] = {}
    for seed in range(1, 25):
        run = world(seed)
        run.run()
        for fault, count in run.counts.items():
            met[fault] = met.get(fault, 0) + count
    assert min(met.values()) > 0, met


def test_one_seed_gives_one_run(world: Any) -> None:
    one, two = world(5), world(5)
    one.run()
    two.run()
    assert one.journal.rows == two.journal.rows
    assert len(one.journal.rows) > 50
