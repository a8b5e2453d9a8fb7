import math
from collections.abc import Callable

import pytest

from simulators.airtime import MOST, airtime, airtime_lines
from simulators.channel import Heading
from simulators.fleet import Fleet
from simulators.scenario import Scenario

S = 1_000_000_000
MakeScenario = Callable[..., Scenario]
ON = {"deeds": [{"at_s": 0, "does": "switch_on"}]}


def test_the_budget_of_fifty_packs(make_scenario: MakeScenario) -> None:
    """A keyed report is 46 bytes, 10 more with the radio's own: 56 x 8 / 50,000 s = 8.96 ms.

    50 packs, one each 4.75 s (5 s, a random part of a tenth early): 10.53 a second, 9.4 % of the
    time, and sign-ons are 7 bytes longer: 50 x 56 bits / 50,000 / 55 s = 0.1 % more. The beacon of
    the base is .1 %. So G = .0966, and exp(-2 G) = .824 of the frames collide with nothing.
    """
    told = airtime(make_scenario(*[ON] * 50))
    assert told.report_ms == pytest.approx(8.96)
    assert told.reports_s == pytest.approx(10.53, abs=0.01)
    assert told.packs_share == pytest.approx(0.0954, abs=0.0005)
    assert told.beacon_share < 0.002
    assert told.delivered == pytest.approx(0.824, abs=0.002)
    # Three copies of a receipt of each pack within a second: 50 x 3 x 8.96 ms.
    assert told.answer_share == pytest.approx(1.344)


@pytest.mark.parametrize(("packs", "interval_s"), [(10, 1), (40, 2)])
def test_a_run_takes_what_the_budget_says(
    make_scenario: MakeScenario, packs: int, interval_s: int
) -> None:
    scenario = make_scenario(*[{**ON, "interval_s": interval_s}] * packs, radio={"shared": {}})
    told = airtime(scenario)
    fleet = Fleet(scenario, 1)
    fleet.step(30 * S)  # until everybody is on and the first copies are through
    before = fleet.counts[Heading.UP].copy()
    fleet.step(600 * S)
    sent = fleet.counts[Heading.UP]["sent"] - before["sent"]
    collided = fleet.counts[Heading.UP]["collision"] - before["collision"]
    assert sent / 570 == pytest.approx(told.reports_s, rel=0.01)
    # Open packs here: shorter by the tag of 8 bytes in 56. Nobody collides with himself: N - 1.
    load = told.packs_share * 48 / 56 * (packs - 1) / packs
    assert 1 - collided / sent == pytest.approx(math.exp(-2 * load), abs=0.03)


def test_the_most_that_a_channel_takes() -> None:
    """1 / 2e = 0.1839 at G = 0.5 (Abramson 1970)."""
    assert pytest.approx(0.1839, abs=0.00005) == MOST


def test_voice_takes_no_air_and_each_base_radio_sends_its_beacons(
    make_scenario: MakeScenario,
) -> None:
    places = [{"name": name, "x_m": 0, "y_m": 0} for name in ("south", "north")]
    two = make_scenario(ON, {"pack": None}, places=places, radio={"bases": ["south", "north"]})
    one = make_scenario(ON)
    assert airtime(two).packs == 1
    assert airtime(two).beacon_share == pytest.approx(2 * airtime(one).beacon_share)


def test_it_is_said_in_six_lines(make_scenario: MakeScenario) -> None:
    lines = list(airtime_lines(airtime(make_scenario(*[ON] * 50))))
    assert len(lines) == 6
    assert lines[0] == "50 packs, 56 bytes or 8.96 ms a report"
    assert lines[3].startswith("without a collision 82.4%")
