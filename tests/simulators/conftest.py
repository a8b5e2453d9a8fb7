"""What several tests of the simulators need: a small drill, and the keys of an exercise."""

from collections.abc import Callable

import pytest

from protocol.integrity import Keyring
from simulators.drill import Drill, PackPlan, Setting

S = 1_000_000_000
MakeDrill = Callable[..., Drill]


@pytest.fixture
def keyring() -> Keyring:
    return Keyring({1: bytes(range(32))}, "exercise", 1)


@pytest.fixture
def make_drill() -> MakeDrill:
    """A drill of packs 1, 2 ... with the same deeds unless a dict says more."""

    def make(*packs: dict[str, object], **more: object) -> Drill:
        plans = [
            {"pack": number, "wearer": number, "low_air_bar": 105, **plan}
            for number, plan in enumerate(packs, start=1)
        ]
        return Drill.model_validate(
            {
                "title": "Trial",
                "length_s": 600,
                "incident": Setting(name="Trial", officer="R. Harrow", roster="kiln-lane"),
                "packs": [PackPlan.model_validate(plan) for plan in plans],
                **more,
            }
        )

    return make
