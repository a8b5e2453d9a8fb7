"""The calculator against published worked examples, and never on the wrong side."""

import json
import re
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor import procedures
from monitor.cli import air_sheet
from monitor.cli.air_sheet import Asked, Question
from monitor.incident import units
from monitor.incident.air import gas
from monitor.incident.air.shown import Cylinder

README = Path(__file__).parents[3] / "README.md"
NAMES = procedures.names()


def question(
    *wearers: tuple[float, float, float | None],
    procedure: str = "uk-guidance",
    connected_s: int | None = None,
    unit: str = "bar",
    temperature_c: float = 15,
    **values: Any,
) -> Question:
    """``wearers``: water volume, pressure at connecting (which is rated), at the objective."""
    values = {"gas_temperature_c": temperature_c, **values}
    rules = procedures.load(procedure).model_copy(update=values)
    asked = tuple(
        Asked("trial", Cylinder(litres, start, rules.low_air_of(start), temperature_c), start, goal)
        for litres, start, goal in wearers
    )
    return Question(rules, unit, connected_s, asked)


def fields(asked: Question) -> dict[str, Any]:
    """As a program reads them."""
    read: dict[str, Any] = json.loads(json.dumps(air_sheet.fields(asked)))
    return read


# Time of whistle by UK duration tables (40 L/min, 10 min): under air at 14:05, 9 L 200 bar and
# 6 L 300 bar 14:40, twin 4 L 14:35; 6.8 L 300 bar at 60 L/min 14:29; at 23:50, 00:25 next day.
@pytest.mark.parametrize(
    ("litres", "bar", "rate", "connected", "whistle"),
    [
        (9, 200, 40, "14:05", "14:40"),
        (6, 300, 40, "14:05", "14:40"),
        (8, 200, 40, "14:05", "14:35"),
        (6.8, 300, 60, "14:05", "14:29"),
        (9, 200, 40, "23:50", "00:25"),
    ],
)
def test_time_of_whistle(
    litres: float, bar: float, rate: float, connected: str, whistle: str
) -> None:
    hours, minutes = connected.split(":")
    asked = question(
        (litres, bar, None),
        connected_s=int(hours) * 3600 + int(minutes) * 60,
        planning_rate_l_min=rate,
    )
    assert fields(asked)["wearers"][0]["by_margin"]["table_at"] == whistle
    assert fields(asked)["connected_at"] == connected
    assert re.search(rf"by margin .*, {whistle} +10 min kept", air_sheet.text(asked))


def test_a_time_of_day_is_rounded_down() -> None:
    """Connected at 14:05:59, 35 min later it is 14:40:59: shown as 14:40."""
    asked = question((9, 200, None), connected_s=14 * 3600 + 5 * 60 + 59)
    assert fields(asked)["wearers"][0]["by_margin"]["table_at"] == "14:40"


# From 300 to 55 bar, isothermal at 20 C, real gas at 40 L/min: 31.9, 36.2 and 47.9 min (computed
# with the reference equation, in litres at 20 C; 1.0174 of them are one at 15 C).
@pytest.mark.parametrize(("litres", "minutes"), [(6, 31.9), (6.8, 36.2), (9, 47.9)])
def test_real_gas_to_the_warning(litres: float, minutes: float) -> None:
    asked = question((litres, 300, None), temperature_c=20)
    real_s = fields(asked)["wearers"][0]["by_pressure"]["real_s"]
    assert real_s / 60 == pytest.approx(minutes / 1.0174, rel=0.004)


def test_the_crew_that_turns_at_143_bar() -> None:
    """A worked example of double air: 6.8 L 300 to 262, 6.8 L 290 to 246, 9 L 295 to 268 bar."""
    asked = question((6.8, 300, 262), (6.8, 290, 246), (9, 295, 268), procedure="fwdv7")
    read = fields(asked)
    assert [one["turn_back_bar"] for one in read["wearers"]] == [131, 143, 109]
    assert read["crew"]["turned_by_wearer"] == 2
    assert read["crew"]["turn_back_bar"] == 143
    # Computed: 179, 214 and 168 L on the way in.
    assert [one["way_in_l"] for one in read["wearers"]] == [
        pytest.approx(litres, abs=2) for litres in (179, 214, 168)
    ]
    said = " ".join(air_sheet.text(asked).split())
    rule = "double air for the way back; wearer 2 has the least margin"
    assert f"turn back when wearer 2 shows 143 bar: {rule}" in said


def test_psi_and_cubic_feet() -> None:
    """Thirds: 4500 psi, turn at 3000 (fire-service forum); 33 % is 1485 psi; 66 cubic feet at 20 C.

    One water volume of the 66 cannot be breathed, and litres count at 15 C: 64.6.
    """
    asked = question(
        (6.8, units.bar_from(4500, "psi"), None), procedure="us-psi", unit="psi", temperature_c=20
    )
    read = fields(asked)["wearers"][0]
    assert read["turn_back_gauge"] == 3000
    said = air_sheet.text(asked)
    assert "turn back    at 3000 psi: a third in, a third out, a third kept" in said
    assert "low-air alarm, 1485 psi" in said
    assert "contents     64 cu ft" in said


def test_prompts_where_the_procedure_has_them() -> None:
    asked = question((6, 300, None), procedure="fwdv7", connected_s=10 * 3600)
    said = air_sheet.text(asked)
    working = fields(asked)["wearers"][0]["working_s"]
    assert f"prompts      after {working // 3 // 60} min" in said
    assert "prompts" not in air_sheet.text(question((6, 300, None)))


@pytest.mark.parametrize(
    ("values", "said"),
    [
        ({"margin_min": None, "margin_bar": 50}, "50 bar kept"),
        ({"margin_min": None, "margin_fraction": 0.25}, "25 % of rated pressure kept"),
        ({"turn_back_rule": "none"}, "turn-around: no rule"),
        (
            {"turn_back_rule": "fixed", "turn_back_fixed_bar": 150},
            "turn back at 150 bar: a fixed pressure\n",
        ),
    ],
)
def test_other_rules_in_words(values: dict[str, Any], said: str) -> None:
    text = air_sheet.text(question((6, 300, None), **values))
    assert said in "\n".join(" ".join(line.split()) for line in text.splitlines()) + "\n"


def test_what_is_not_asked_for_is_null() -> None:
    read = fields(question((6, 300, None), margin_min=None, turn_back_rule="none"))
    one = read["wearers"][0]
    assert read["connected_at"] is None
    absent = ("objective_bar", "by_margin", "way_in_l", "turn_back_bar", "to_turn_back", "margin_l")
    assert [one[name] for name in absent] == [None] * len(absent)
    assert one["full"]["table_at"] is None
    assert read["crew"]["turned_by_wearer"] is None


def test_the_page_names_every_field_and_no_other() -> None:
    section = README.read_text("utf-8")
    section = section[section.index("\n## Air, without an incident\n") :]
    table = re.search(r"(^\|.*\n)+", section, re.MULTILINE)
    assert table
    told = [
        name
        for row in table[0].splitlines()[2:]
        for name in re.findall(r"`(\w+)`", row.split("|")[1])
    ]
    read = fields(question((6, 300, 250)))
    one = read["wearers"][0]
    there = [*read, *one, *read["crew"], *one["full"]]
    assert len(told) == len(set(told))
    assert set(told) == set(there)


def test_no_line_is_wider_than_80_columns() -> None:
    wearers = [(13.6, 300.0, 250.0), (6.8, 290.0, 246.0)]
    for name in NAMES:
        for unit in ("bar", "psi"):
            asked = question(*wearers, procedure=name, connected_s=0, unit=unit)
            assert max(len(line) for line in air_sheet.text(asked).splitlines()) <= 80


# ---------------------------------------------------------------- never on the wrong side

WEARER = st.tuples(st.floats(1, 14), st.floats(1, 380), st.none() | st.floats(0, 1))
QUESTION = st.builds(
    lambda wearers, name, unit, connected, rate, temperature: question(
        *((v, p, None if s is None else p * s) for v, p, s in wearers),
        procedure=name,
        unit=unit,
        connected_s=connected,
        planning_rate_l_min=rate,
        temperature_c=temperature,
    ),
    st.lists(WEARER, min_size=1, max_size=4),
    st.sampled_from(NAMES),
    st.sampled_from(["bar", "psi"]),
    st.none() | st.integers(0, 24 * 3600 - 1),
    st.floats(20, 150),
    st.floats(-20, 60),
)


def exact_s(litres: float, rate_l_min: float) -> float:
    return max(0.0, litres) / rate_l_min * 60 + 1e-3


@settings(max_examples=60)
@given(asked=QUESTION)
def test_fields_never_give_more_air_or_time_than_there_is(asked: Question) -> None:
    rate = asked.rules.planning_rate_l_min
    answers, _ = air_sheet.answer(asked)
    for one, answer, wearer in zip(fields(asked)["wearers"], answers, asked.wearers, strict=True):
        volume, warm = wearer.cylinder.water_volume_l or 0.0, wearer.cylinder.temperature_c
        held = gas.usable_l(wearer.start_bar, volume, warm)
        assert one["contents_real_l"] <= held + 1e-6
        assert one["contents_table_l"] <= wearer.start_bar * volume + 1e-6
        assert one["full"]["real_s"] <= exact_s(held, rate)
        assert one["full"]["table_min"] * 60 <= exact_s(wearer.start_bar * volume, rate)
        low = wearer.cylinder.low_air_bar or 0.0
        left = held - gas.usable_l(low, volume, warm)
        assert one["by_pressure"]["real_s"] <= exact_s(left, rate)
        assert one["working_s"] <= one["by_pressure"]["real_s"]
        assert answer.turn is not None
        assert one["turn_back_bar"] >= answer.turn.bar - 1e-6
        shown = units.bar_from(one["turn_back_gauge"], asked.unit)
        assert shown >= answer.turn.bar - 1e-6
        assert one["margin_l"] <= (answer.margin_l or 0.0) + 1e-6
        if asked.connected_s is not None:
            minutes = (asked.connected_s + one["full"]["real_s"]) // 60
            assert one["full"]["real_at"] == f"{minutes // 60 % 24:02}:{minutes % 60:02}"


@settings(max_examples=60)
@given(asked=QUESTION)
def test_words_never_give_more_than_the_fields(asked: Question) -> None:
    """Every figure of the text is one of the fields, or rounded to the safe side of one."""
    blocks = air_sheet.text(asked).split("\n\n")[1:]
    for block, one in zip(blocks, fields(asked)["wearers"], strict=False):
        contents = re.search(r"contents +(\d+) (L|cu ft) +(\d+)", block)
        assert contents
        unit = "litre" if contents[2] == "L" else "cubic foot"
        for shown, field in ((contents[1], "contents_real_l"), (contents[3], "contents_table_l")):
            assert units.litres_from(int(shown), unit) <= one[field] + 0.1
        for label, field in (("all of it", "full"), ("by pressure", "by_pressure")):
            row = re.search(rf"{label} +(\d+) min (\d+) s.*? (\d+) min", block)
            assert row
            assert int(row[1]) * 60 + int(row[2]) == one[field]["real_s"]
            assert int(row[3]) == one[field]["table_min"]
        turn = re.search(r"turn back +at (\d+)", block)
        assert turn
        assert int(turn[1]) == one["turn_back_gauge"]


def test_a_third_is_kept_only_where_it_is() -> None:
    """At 300 bar a third is 100, at 120 bar 40: where 60 must be left, half of 60 bar is used."""
    full = air_sheet.text(question((6.0, 300, None), turn_back_rule="thirds",
                                   turn_back_reserve_bar=60))  # fmt: skip
    assert "a third in, a third out, a third kept" in full
    asked = Asked("trial", Cylinder(6.0, 300, 60, 15), 120, None)
    rules = procedures.load("uk-guidance").model_copy(
        update={"turn_back_rule": "thirds", "turn_back_reserve_bar": 60}
    )
    low = air_sheet.text(Question(rules, "bar", None, (asked,)))
    assert "turn back    at 90 bar" in low
    assert "a third kept" not in low.replace("more than a third kept", "")


def test_a_start_below_the_reserve_has_no_way_in() -> None:
    asked = Asked("trial", Cylinder(6.0, 300, 60, 15), 50, None)
    rules = procedures.load("uk-guidance").model_copy(
        update={"turn_back_rule": "half", "turn_back_reserve_bar": 60}
    )
    said = air_sheet.text(Question(rules, "bar", None, (asked,)))
    assert "there is no air for a way in" in said


def test_the_caution_stands_below_every_sum() -> None:
    found = question((6.8, 300, None))
    assert air_sheet.text(found).endswith("and the maker's instructions come first.")
    assert "not a certified safety device" in str(air_sheet.fields(found)["caution"])
