import pytest
from pydantic import ValidationError

from protocol.packets import OrderKind
from simulators.deeds import Leak
from simulators.injects import _TROUBLE, ORDERS, Inject, Trouble


def inject(**keys: object) -> Inject:
    return Inject.model_validate({"name": "x", **keys})


LEAK = {"does": "leak", "l_min": 300}


def test_its_time_stands_beside_the_deed() -> None:
    one = inject(at_s=60, wearers=[1], deed=LEAK)
    assert one.deed == Leak(at_s=0, does="leak", l_min=300)
    with pytest.raises(ValidationError, match="its time stands beside it"):
        inject(at_s=60, wearers=[1], deed={**LEAK, "at_s": 3})


@pytest.mark.parametrize(
    ("keys", "said"),
    [
        ({"wearers": [1], "deed": LEAK}, "either at_s or when"),
        (
            {"at_s": 1, "when": {"wearer": 1, "under_bar": 9}, "wearers": [1], "deed": LEAK},
            "either at_s or when",
        ),
        ({"at_s": 1, "deed": LEAK}, "leak needs wearers"),
        ({"at_s": 1, "deed": {"does": "forged_order"}}, "forged_order needs wearers"),
        (
            {"at_s": 1, "wearers": [1], "deed": {"does": "floor_shadow", "for_s": 9}},
            "floor_shadow takes no wearers",
        ),
        ({"when": {"wearer": 1}, "wearers": [1], "deed": LEAK}, "one of under_bar, at and ordered"),
        (
            {"when": {"wearer": 1, "under_bar": 9, "at": "hall"}, "wearers": [1], "deed": LEAK},
            "one of under_bar, at and ordered",
        ),
        ({"at_s": 1, "wearers": [1], "deed": LEAK, "shows": "LOW AIR"}, "should match pattern"),
        ({"at_s": 1, "wearers": [1], "deed": "leak"}, "valid dict"),
    ],
)
def test_what_is_not_whole_is_refused(keys: dict[str, object], said: str) -> None:
    with pytest.raises(ValidationError, match=said):
        inject(**keys)


def test_every_trouble_is_known_as_one_and_every_order_as_the_format_has_it() -> None:
    named = {model.model_fields["does"].annotation for model in Trouble.__args__}
    assert {repr(one) for one in named} == {f"typing.Literal['{name}']" for name in _TROUBLE}
    assert {kind.name.replace("_", " ").lower(): kind for kind in ORDERS.values()} == ORDERS
    assert OrderKind.DISTRESS_CONFIRMED not in ORDERS.values()
