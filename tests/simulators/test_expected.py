from typing import get_args

import pytest
from pydantic import TypeAdapter, ValidationError

from monitor.incident.events import Act as JournalAct
from simulators.expected import Act, Expected

FALLS = {"inject": "falls", "within_s": 30}


def expected(**keys: object) -> Expected:
    return Expected.model_validate({**FALLS, **keys})


@pytest.mark.parametrize(
    ("keys", "said"),
    [
        ({"what": "note", "inject": None}, "either inject or at_s"),
        ({"what": "note", "at_s": 5}, "either inject or at_s"),
        ({"what": "acknowledge"}, "acknowledge needs alarm"),
        ({"what": "reset"}, "reset needs alarm"),
        ({"what": "give_order"}, "order goes with give_order"),
        ({"what": "note", "order": "evacuate"}, "order goes with give_order"),
        ({"what": "shout"}, "Input should be"),
    ],
)
def test_what_is_not_whole_is_refused(keys: dict[str, object], said: str) -> None:
    with pytest.raises(ValidationError, match=said):
        expected(**keys)


def test_the_acts_are_those_of_the_journal() -> None:
    """Names in a scenario and in a journal must be the same, or no score could be made."""
    schema = TypeAdapter(JournalAct).json_schema()
    assert set(get_args(Act)) <= set(schema["discriminator"]["mapping"])
    for name in get_args(Act):
        alarm = "distress" if name in ("acknowledge", "reset") else None
        order = "come out" if name == "give_order" else None
        assert expected(what=name, alarm=alarm, order=order).needed
