"""Main values in words, beside what the files that come with the program say."""

import pytest

from monitor import procedures
from monitor.board.words.procedure_words import main_values


@pytest.mark.parametrize(
    ("name", "values"),
    [
        ("plain", ["50 L/min", "10 min", "half of the usable air", "35 % of rated pressure"]),
        ("fwdv7", ["50 L/min", "55 bar", "twice the air of the way in", "55 bar"]),
        (
            "us-psi",
            [
                "100 L/min", "33 % of rated pressure", "a third in, a third out, a third kept",
                "33 % of rated pressure",
            ],
        ),
        (
            "industrial",
            ["50 L/min", "10 min", "at 50 % of rated pressure", "25 % of rated pressure"],
        ),
    ],
)  # fmt: skip
def test_the_values_of_a_file_in_words(name: str, values: list[str]) -> None:
    assert [value for _, value, _ in main_values(procedures.load(name))] == values


@pytest.mark.parametrize("name", procedures.names())
def test_each_value_has_its_source(name: str) -> None:
    rules = procedures.load(name)
    for _, _, source in main_values(rules):
        assert source in rules.sources.values()


def test_the_services_own_words() -> None:
    names = [name for name, _, _ in main_values(procedures.load("fwdv7"))]
    assert names == ["planning rate", "margin", "withdrawal", "warning device"]


def test_other_forms_of_the_same_values() -> None:
    """55 bar is 797.7 psi (1 bar = 14.5038 psi): what must still be there goes up."""
    rules = procedures.load("fwdv7").model_copy(
        update={
            "pressure_unit": "psi", "margin_bar": None, "turn_back_rule": "fixed",
            "turn_back_fixed_bar": 150.0, "sources": {},
        }
    )  # fmt: skip
    assert [(value, source) for _, value, source in main_values(rules)] == [
        ("50 L/min", ""), ("none", ""), ("at 2176 psi", ""), ("798 psi", ""),
    ]  # fmt: skip
    none = rules.model_copy(update={"turn_back_rule": "none", "turn_back_fixed_bar": None})
    assert main_values(none)[2][1] == "no rule"
