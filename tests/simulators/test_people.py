import tomllib
from collections.abc import Callable

import pytest

from simulators.people import roster_text
from simulators.scenario import Scenario
from simulators.scenario_file import load

MakeScenario = Callable[..., Scenario]


def test_a_group_becomes_a_roster() -> None:
    people = tomllib.loads(roster_text(load("many")))["people"]
    assert len(people) == 500
    assert people[2] == {
        "name": "Wearer 3",
        "call_sign": "Bravo 2-1",
        "crew": "Bravo 2",
        "leader": True,
        "pack": 1003,
        "water_volume_l": 6.8,
        "rated_bar": 300,
    }
    assert "leader" not in people[3]


def test_people_stand_in_the_order_of_their_numbers(make_scenario: MakeScenario) -> None:
    scenario = make_scenario({"wearer": 2, "name": "A. Quoin"}, {"wearer": 1})
    people = tomllib.loads(roster_text(scenario))["people"]
    assert [person["name"] for person in people] == ["Wearer 1", "A. Quoin"]


@pytest.mark.parametrize("name", ['"B" \\ Corbel', "Ågot Ø", "🧱"])
def test_any_name_comes_through(make_scenario: MakeScenario, name: str) -> None:
    scenario = make_scenario({"name": name})
    assert tomllib.loads(roster_text(scenario))["people"][0]["name"] == name
