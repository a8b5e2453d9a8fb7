"""What several tests of the simulators need: a small scenario, and the keys of an exercise."""

from collections.abc import Callable

import pytest

from protocol.integrity import Keyring
from simulators.scenario import PackPlan, Scenario, Setting

S = 1_000_000_000
MakeScenario = Callable[..., Scenario]


@pytest.fixture
def keyring() -> Keyring:
    return Keyring({1: bytes(range(32))}, "exercise", 1)


@pytest.fixture
def make_scenario() -> MakeScenario:
    """A scenario of packs 1, 2 ... with the same deeds unless a dict says more."""

    def make(*packs: dict[str, object], **more: object) -> Scenario:
        plans = [
            {"pack": number, "wearer": number, "low_air_bar": 105, **plan}
            for number, plan in enumerate(packs, start=1)
        ]
        return Scenario.model_validate(
            {
                "title": "Trial",
                "length_s": 600,
                "incident": Setting(name="Trial", officer="R. Harrow", roster="kiln-lane"),
                "packs": [PackPlan.model_validate(plan) for plan in plans],
                **more,
            }
        )

    return make
