from typing import Any

import pytest

from protocol.packets import OrderKind
from simulators.answering import Answers
from simulators.channel import bases_of
from simulators.injects import Inject
from simulators.movement import FOREVER_NS
from simulators.radio import Radio
from simulators.scenario import PackPlan, Place
from simulators.troubles import Troubles
from simulators.unit import Unit, World

S = 1_000_000_000


def inject(name: str, **keys: object) -> Inject:
    deed = {"does": "collapse"}
    return Inject.model_validate({"name": name, "wearers": [1], "deed": deed, **keys})


@pytest.fixture
def unit() -> Unit:
    radio, door = Radio(), Place(name="door", x_m=0, y_m=0)
    world = World(1, radio, bases_of(radio, {}, 1), {"door": door}, Answers())
    plan = PackPlan.model_validate(
        {
            "pack": 1, "wearer": 1, "low_air_bar": 55, "fill_bar": 121, "at": "door",
            "deeds": [{"at_s": 5, "does": "breathe"}],
        }
    )  # fmt: skip
    return Unit(plan, world, None)


def taken(troubles: Troubles) -> list[tuple[int, str]]:
    found = []
    while troubles.due_ns < FOREVER_NS:
        found.append((troubles.due_ns // S, troubles.take().name))
    return found


def test_they_come_in_the_order_of_time_then_of_the_file() -> None:
    troubles = Troubles([inject("b", at_s=9), inject("c", at_s=9), inject("a", at_s=2)])
    troubles.put(3 * S, inject("by hand", at_s=0))
    assert taken(troubles) == [(2, "a"), (3, "by hand"), (9, "b"), (9, "c")]


@pytest.mark.parametrize("when", [{"under_bar": 122}, {"at": "door"}, {"ordered": "evacuate"}])
def test_a_condition_comes_true_once(unit: Unit, when: dict[str, Any]) -> None:
    troubles = Troubles([inject("x", when={"wearer": 1, **when}, after_s=4)])
    assert troubles.due_ns == FOREVER_NS
    unit.step(5 * S)
    unit.ordered = OrderKind.EVACUATE
    for t in (20, 30):
        troubles.look(t * S, unit)
    assert taken(troubles) == [(24, "x")]


@pytest.mark.parametrize(
    "when",
    [
        {"wearer": 1, "under_bar": 120},
        {"wearer": 1, "at": "loft"},
        {"wearer": 1, "ordered": "come out"},
        {"wearer": 2, "at": "door"},
    ],
)
def test_what_is_not_so_is_waited_for(unit: Unit, when: dict[str, Any]) -> None:
    troubles = Troubles([inject("x", when=when)])
    unit.step(5 * S)
    unit.ordered = OrderKind.EVACUATE
    troubles.look(20 * S, unit)
    assert troubles.due_ns == FOREVER_NS


def test_little_air_counts_only_for_who_breathes_it(unit: Unit) -> None:
    troubles = Troubles([inject("x", when={"wearer": 1, "under_bar": 122})])
    troubles.look(1 * S, unit)
    assert troubles.due_ns == FOREVER_NS
