from statistics import mean, stdev

import pytest

from simulators.randoms import between, child, normal, waiting


def test_a_child_depends_on_seed_and_name_alone() -> None:
    first = [child(7, "pack", 3).random() for _ in range(2)]
    assert first[0] == first[1]
    assert child(8, "pack", 3).random() != first[0]
    assert child(7, "pack", 4).random() != first[0]


def test_names_do_not_run_into_one_another() -> None:
    assert child(1, "a", "bc").random() != child(1, "ab", "c").random()


def test_normal_has_its_mean_and_spread_and_stays_within() -> None:
    random = child(1, "normal")
    drawn = [normal(random, 82.0, 14.0) for _ in range(4000)]
    # Standard error of the mean: 14 / sqrt(4000) = 0.22; three of them.
    assert mean(drawn) == pytest.approx(82.0, abs=0.7)
    assert stdev(drawn) == pytest.approx(14.0, rel=0.05)
    assert all(82 - 3 * 14 <= value <= 82 + 3 * 14 for value in drawn)


def test_waiting_has_its_mean() -> None:
    random = child(1, "waiting")
    drawn = [waiting(random, 40.0) for _ in range(4000)]
    # The spread of an exponential is its mean: 40 / sqrt(4000) = 0.63; three of them.
    assert mean(drawn) == pytest.approx(40.0, abs=1.9)
    assert min(drawn) >= 0.0


def test_between_stays_between() -> None:
    random = child(1, "between")
    assert all(2.0 <= between(random, 2.0, 9.0) < 9.0 for _ in range(1000))
