from typing import Any

import pytest
from pydantic import ValidationError

from monitor.incident.procedure import TO_DO_MAX, Procedure

NEEDED: dict[str, Any] = {
    "name": "trial",
    "title": "Trial rules",
    "low_air_fraction": 0.35,
    "silence_limit_s": 90,
    "pre_alarm_silence_s": 15,
    "gas_temperature_c": 30,
    "projection_rate_l_min": 100,
    "spoken_reading_valid_s": 600,
}


def with_(**values: Any) -> Procedure:
    return Procedure.model_validate(NEEDED | values)


def test_a_journal_from_before_the_newer_fields_still_has_rules() -> None:
    old = with_(battery_low_percent=20, reading_tolerance_bar=10, pressure_unit="bar", sources={})
    assert old.turn_back_rule == "half"
    assert Procedure.model_validate_json(old.model_dump_json()) == old


def test_what_to_do_is_said_in_words_that_fit_a_line() -> None:
    for text in ("Team out.", "x" * TO_DO_MAX):
        assert with_(do={"low_air": text}).do == {"low_air": text}
    for text in ("", "x" * (TO_DO_MAX + 1)):
        with pytest.raises(ValidationError):
            with_(do={"low_air": text})


@pytest.mark.parametrize(
    ("bar", "fraction", "rated", "low"),
    [
        (None, 0.33, 300, 99),
        (None, 0.33, None, None),
        # A fixed value needs no rating, and goes before the fraction (EN 137: 55 bar).
        (55, None, None, 55),
        (55, 0.33, 300, 55),
    ],
)
def test_the_low_air_value_of_a_set_that_does_not_tell_its_own(
    bar: float | None, fraction: float | None, rated: float | None, low: float | None
) -> None:
    rules = with_(low_air_bar=bar, low_air_fraction=fraction)
    assert rules.low_air_of(rated) == (None if low is None else pytest.approx(low))


@pytest.mark.parametrize(
    ("values", "said"),
    [
        ({"low_air_fraction": None}, "low_air_bar or low_air_fraction"),
        ({"margin_min": 10, "margin_bar": 50}, "only one of margin_min"),
        ({"turn_back_rule": "fixed"}, "has one of turn_back_fixed"),
        ({"turn_back_fixed_bar": 150}, "has one of turn_back_fixed"),
        (
            {
                "turn_back_rule": "fixed",
                "turn_back_fixed_bar": 150,
                "turn_back_fixed_fraction": 0.5,
            },
            "has one of turn_back_fixed",
        ),
        ({"words": {"hat": "helmet"}}, "Extra inputs"),
        ({"emergency_form": {"shoe_size": "size"}}, "Input should be"),
        ({"emergency_form": {}}, "at least 1"),
        ({"most_wearers": {"1": 0}}, "greater than or equal to 1"),
        ({"tasks": {"search": {"prior_l_min": 82, "prior_spread": 0.2}}}, "Field required"),
    ],
)
def test_rules_that_cannot_hold_are_refused(values: dict[str, Any], said: str) -> None:
    with pytest.raises(ValidationError, match=said):
        with_(**values)


def test_a_fixed_turn_back_is_a_pressure_or_a_fraction() -> None:
    assert with_(turn_back_rule="fixed", turn_back_fixed_bar=150).turn_back_fixed_bar == 150
    half = with_(turn_back_rule="fixed", turn_back_fixed_fraction=0.5)
    assert half.turn_back_fixed_fraction == 0.5


def test_the_task_in_the_words_of_the_entry_finds_its_prior() -> None:
    hose = {"prior_l_min": 82, "prior_spread": 0.2, "source": "measured"}
    search = {"prior_l_min": 50, "prior_spread": 0.3, "source": "measured"}
    rules = with_(tasks={"hose": hose, "search": search})
    assert rules.prior_of("Search, drying loft") == (50, 0.3)
    assert rules.prior_of("search with hose") == (82, 0.2)
    assert rules.prior_of("") == (60, 0.4)


def test_the_most_wearers_are_those_of_the_stage() -> None:
    rules = with_(most_wearers={"1": 6, "any": 10})
    assert [rules.most_wearers_at(stage) for stage in ("1", " 1 ", "2", "")] == [6, 6, 10, 10]
    assert with_().most_wearers_at("1") is None
