"""Injects at random: within their windows, so many of a pool, and the same again by the seed."""

from collections import Counter
from math import sqrt

import pytest

from simulators.drawing import drawn
from simulators.scenario import Scenario
from simulators.scenario_file import ScenarioFault, parse, played

SEEDS = range(2_000)
TEXT = """
title = "Drawn"
length_s = 600
incident = { name = "Drawn", officer = "R. Harrow" }
packs = [{ pack = 101, wearer = 1, low_air_bar = 55 }]
pools = [{ name = "worse", take = 2 }]
expected = [
  { what = "note", inject = "a", within_s = 30 },
  { what = "note", inject = "d", within_s = 30 },
]
[[injects]]
name = "a"
at_s = 100
pool = "worse"
wearers = [1]
deed = { does = "collapse" }
[[injects]]
name = "b"
at_s = 100
pool = "worse"
wearers = [1]
deed = { does = "collapse" }
[[injects]]
name = "c"
at_s = 100
pool = "worse"
wearers = [1]
deed = { does = "collapse" }
[[injects]]
name = "d"
at_s = 60
window_s = 120
wearers = [1]
deed = { does = "collapse" }
[[injects]]
name = "e"
when = { wearer = 1, under_bar = 100 }
after_s = 5
window_s = 10
wearers = [1]
deed = { does = "collapse" }
"""


@pytest.fixture(scope="module")
def scenario() -> Scenario:
    return parse(TEXT, "drawn.toml")


@pytest.fixture(scope="module")
def runs(scenario: Scenario) -> list[Scenario]:
    return [drawn(scenario, seed) for seed in SEEDS]


def test_a_run_can_be_had_again(scenario: Scenario, runs: list[Scenario]) -> None:
    assert [drawn(scenario, seed) for seed in SEEDS[:20]] == runs[:20]
    assert len({str(run) for run in runs[:20]}) == 20


def test_so_many_of_a_pool_come_each_as_often(runs: list[Scenario]) -> None:
    """Two of three: each in two thirds of the runs, within five deviations of a binomial count."""
    came: Counter[str] = Counter()
    for run in runs:
        names = {one.name for one in run.injects} - {"d", "e"}
        assert len(names) == 2
        came.update(names)
    away = 5 * sqrt(len(SEEDS) * 2 / 3 * 1 / 3)
    assert all(abs(came[name] - len(SEEDS) * 2 / 3) < away for name in "abc")


def test_times_are_spread_evenly_over_the_window(runs: list[Scenario]) -> None:
    """From 60 to 180 s: mean 120, deviation 120 / sqrt(12) = 34.6; tenths of a second."""
    times = [one.at_s for run in runs for one in run.injects if one.name == "d" and one.at_s]
    assert len(times) == len(SEEDS)
    assert 60 <= min(times) < 62
    assert 178 < max(times) <= 180
    assert abs(sum(times) / len(times) - 120) < 5 * 34.6 / sqrt(len(times))
    assert all(abs(t * 10 - round(t * 10)) < 1e-6 for t in times)


def test_what_waits_for_something_waits_longer(runs: list[Scenario]) -> None:
    later = [one.after_s for run in runs for one in run.injects if one.name == "e"]
    assert 5 <= min(later) < 5.5
    assert 14.5 < max(later) <= 15


def test_nothing_is_expected_of_what_does_not_come(runs: list[Scenario]) -> None:
    for run in runs[:50]:
        names = {one.name for one in run.injects}
        assert {one.inject for one in run.expected} == {"d"} | ({"a"} & names)


def test_what_is_drawn_leaves_nothing_open_and_can_be_kept(runs: list[Scenario]) -> None:
    for run in runs[:20]:
        again = played(run.model_dump_json(exclude_defaults=True), "truth")
        assert again == run
        assert drawn(again, 99) == run


def test_another_inject_shifts_no_draw_of_the_others(runs: list[Scenario]) -> None:
    more = parse(TEXT + TEXT[TEXT.index('[[injects]]\nname = "d"') :].replace('"d"', '"f"').split(
        '[[injects]]\nname = "e"'
    )[0], "more.toml")  # fmt: skip
    for seed in SEEDS[:20]:
        others = tuple(one for one in drawn(more, seed).injects if one.name != "f")
        assert others == runs[seed].injects


@pytest.mark.parametrize(
    ("before", "after", "said"),
    [
        ("take = 2", "take = 0", "greater than or equal to 1"),
        ("take = 2", "take = 4", "only 3 injects are of this pool"),
        ('pool = "worse"', "", 'no inject is of pool "worse"'),
        ('name = "worse"', 'name = "worst"', 'no inject is of pool "worst"'),
        ("window_s = 120", "window_s = 541", "beyond the end of the scenario"),
        ("window_s = 10\n", "window_s = 600\n", "beyond the end of the scenario"),
        ('pools = [{ name = "worse", take = 2 }]', "", 'there is no pool "worse"'),
        ("pools = [", 'pools = [{ name = "worse", take = 1 }, ', 'pool "worse" is there twice'),
    ],
)
def test_a_pool_that_cannot_be_is_refused(before: str, after: str, said: str) -> None:
    with pytest.raises(ScenarioFault, match=said):
        parse(TEXT.replace(before, after), "drawn.toml")


def test_what_leaves_nothing_to_chance_is_as_it_was() -> None:
    plain = parse(TEXT.replace('pool = "worse"', "").replace("window_s", "# window_s").replace(
        'pools = [{ name = "worse", take = 2 }]', ""), "plain.toml")  # fmt: skip
    assert drawn(plain, 7) == plain
