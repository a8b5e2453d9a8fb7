"""The kit against everything that a pack can do wrong, and against everything that it may do.

``make trials`` tries each row with many seeds; the gate tries one.
"""

import os
from collections import Counter
from dataclasses import replace

import pytest

from protocol.integrity import Keyring
from simulators.conformance.rules import RULES, too_poor
from tests.simulators.conformance import breaks_page
from tests.simulators.conformance.breaks import Break
from tests.simulators.conformance.conforming import CONFORMING
from tests.simulators.conformance.table import BREAKS
from tests.simulators.conformance.unseen import UNSEEN
from tests.simulators.conformance.wearing import TICK_NS, Case, S, tried

SEEDS = range(1, int(os.environ.get("TRIALS", "1")) + 1)
"""By an environment variable: how many."""
LENGTH_S = 300 + TICK_NS / S
LISTED = breaks_page.listed()
NEVER_BY_A_PACK = {"radio"}
"""Rules about what is not a pack."""


@pytest.mark.parametrize("row", BREAKS, ids=[row.name for row in BREAKS])
def test_a_break_is_caught_by_its_row(row: Break, keyring: Keyring) -> None:
    for seed in SEEDS:
        found = tried(replace(row.case, seed=seed), keyring)
        failed = found.named("failed")
        assert failed & row.rules, (seed, found.told())
        of_those = [found.rows[name] for name in failed]
        # Damaged on its way or made so, nobody can tell of a checksum.
        assert not too_poor(found.trial.lost_share, of_those) or row.rules == {"checksum"}
        if seed == 1:
            assert ", ".join(sorted(failed)) == LISTED[row.name]
        assert found.took_s <= LENGTH_S


@pytest.mark.parametrize("name", CONFORMING)
def test_a_pack_that_keeps_the_format_fails_in_no_row(name: str, keyring: Keyring) -> None:
    for seed in SEEDS:
        found = tried(replace(CONFORMING[name], seed=seed), keyring)
        assert found.told() == {}, seed
        assert found.took_s <= LENGTH_S


@pytest.mark.parametrize("name", UNSEEN)
def test_what_nobody_can_see_from_outside_fails_in_no_row(name: str, keyring: Keyring) -> None:
    assert tried(UNSEEN[name], keyring).told() == {}


def test_the_table_has_enough_breaks_and_every_row_is_needed_for_one() -> None:
    names = [row.name for row in BREAKS]
    assert len(names) >= 120
    assert len(set(names)) == len(names)
    caught = Counter(rule for row in BREAKS for rule in row.rules)
    assert set(caught) == set(RULES) - NEVER_BY_A_PACK
    assert len(CONFORMING) >= 50


def test_the_page_counts_what_it_lists() -> None:
    page = breaks_page.PAGE.read_text("utf-8")
    assert set(LISTED) == {row.name for row in BREAKS}
    assert page == breaks_page.written(LISTED)
    assert all(f"- {name}\n" in page for name in UNSEEN)


def test_over_all_rows_a_right_pack_is_seen_to_keep_each(keyring: Keyring) -> None:
    seen: set[str] = set()
    for name in ("ours, keyed", "a maker's field in each status", "behind a base radio"):
        seen |= tried(CONFORMING[name], keyring).named("passed")
    assert seen == set(RULES)


def test_the_same_seed_is_the_same_trial(keyring: Keyring) -> None:
    once, again = (tried(Case(seed=3), keyring) for _ in range(2))
    assert [row[2:] for row in once.rows.values()] == [row[2:] for row in again.rows.values()]
