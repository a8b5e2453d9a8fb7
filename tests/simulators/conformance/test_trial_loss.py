"""A trial over a link that loses: no right pack is called wrong, and no wrong one is excused.

``make trials`` tries each with many seeds; the gate with one.
"""

from dataclasses import replace
from random import Random

import pytest

from protocol.integrity import Keyring
from simulators.conformance.rules import LOSS_MAX, too_poor
from tests.simulators.conformance.table import BREAKS
from tests.simulators.conformance.test_trial_breaks import SEEDS
from tests.simulators.conformance.wearing import Case, Tried, Unit, tried

LOST = (0.02, 0.1, 0.3)


def excused(found: Tried) -> bool:
    """Whether the end of the trial blames the link."""
    failed = [row for row in found.rows.values() if row.verdict == "failed"]
    return bool(failed) and too_poor(found.trial.lost_share, failed)


def hard_of_hearing(share: float, seed: int) -> Case:
    """Of what is sent to the pack, this share never comes; of what it sends, all does."""
    random = Random(seed)

    def heard(_unit: Unit, _t: int, frame: bytes) -> list[bytes]:
        return [] if random.random() < share else [frame]

    return Case(heard=heard, seed=seed)


@pytest.mark.parametrize("lost", LOST)
def test_a_right_pack_is_not_called_wrong_for_what_is_lost_both_ways(
    lost: float, keyring: Keyring
) -> None:
    for seed in SEEDS:
        found = tried(Case(lost=lost, seed=seed), keyring)
        assert not found.named("failed") or excused(found), (seed, found.told())


@pytest.mark.parametrize("lost", LOST)
def test_a_right_pack_is_not_called_wrong_for_what_is_lost_on_the_way_to_it(
    lost: float, keyring: Keyring
) -> None:
    """No number of its own frames is missing: its answers alone tell."""
    for seed in SEEDS:
        found = tried(hard_of_hearing(lost, seed), keyring)
        assert found.trial.conduct.lost_share == 0
        assert not found.named("failed") or excused(found), (seed, found.told())


def test_a_link_that_loses_a_third_is_told(keyring: Keyring) -> None:
    """Both ways, and down alone: within what so few samples tell."""
    both = tried(Case(lost=0.3), keyring)
    assert both.trial.conduct.lost_share == pytest.approx(0.3, abs=0.15)
    down = tried(hard_of_hearing(0.3, 1), keyring)
    assert down.trial.lost_share == pytest.approx(0.3, abs=0.2)
    assert tried(Case(), keyring).trial.lost_share == 0


@pytest.mark.parametrize("name", [row.name for row in BREAKS if "tag" in row.name][:6])
def test_what_a_frame_shows_by_itself_is_excused_by_no_loss(name: str, keyring: Keyring) -> None:
    (row,) = [row for row in BREAKS if row.name == name]
    for seed in SEEDS:
        found = tried(replace(row.case, lost=2 * LOSS_MAX, seed=seed), keyring)
        assert found.named("failed") & row.rules
        assert not excused(found)
