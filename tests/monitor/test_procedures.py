import re
from pathlib import Path
from typing import Any, get_args

import pytest
from pydantic import BaseModel
from pydantic.fields import FieldInfo

import shared
from monitor import procedures
from monitor.errors import BadFile
from monitor.incident.procedure import FormField, Procedure, TaskPrior, Words

PLAIN = shared.path("procedures", "plain.toml").read_text()


def written(folder: Path, text: str) -> str:
    path = folder / "rules.toml"
    path.write_text(text)
    return str(path)


def test_the_plain_procedure_comes_with_the_program() -> None:
    plain = procedures.load("plain")
    assert plain.name == "plain"
    assert plain.low_air_fraction == 0.35
    assert "plain" in procedures.names()


UNSOURCED = {"name", "title", "sources"}
MAY_BE_LEFT_OUT = {
    field for field, info in Procedure.model_fields.items() if info.default is None
} | {"tasks", "most_wearers", "do"}
"""Where saying nothing has a meaning of its own."""


@pytest.mark.parametrize("name", procedures.names())
def test_every_value_of_every_procedure_has_its_source(name: str) -> None:
    rules = procedures.load(name)
    assert set(rules.sources) == rules.model_fields_set - UNSOURCED


@pytest.mark.parametrize("name", procedures.names())
def test_a_procedure_that_comes_with_the_program_leaves_nothing_to_defaults(name: str) -> None:
    rules = procedures.load(name)
    assert set(Procedure.model_fields) - rules.model_fields_set <= MAY_BE_LEFT_OUT


def test_a_file_elsewhere_is_read_by_its_path(tmp_path: Path) -> None:
    path = written(tmp_path, PLAIN.replace("low_air_fraction = 0.35", "low_air_fraction = 0.25"))
    assert procedures.load(path).low_air_fraction == 0.25


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("name = ", "not TOML"),
        (PLAIN.replace("silence_limit_s = 90\n", "", 1), "missing key"),
        ("colour = 1\n" + PLAIN, "unknown key"),
        # 42 CFR 84.83 asks for at least 25 %; nothing under 10 % is a warning at all.
        (PLAIN.replace("low_air_fraction = 0.35", "low_air_fraction = 0.05"), "greater than"),
        # Held between 30 and 90 s.
        (PLAIN.replace("silence_limit_s = 90", "silence_limit_s = 91"), "less than"),
        ("#" * (procedures.PROCEDURE_BYTES_MAX + 1), "too long"),
        (PLAIN + '[do]\nfire = "Run."\n', "no such alarm"),
        (PLAIN + 'colour = "mine"\n', "no such value"),
        (PLAIN.replace("low_air_fraction = 0.35\n", "", 1), "low_air_bar or low_air_fraction"),
    ],
)
def test_a_file_that_is_not_right_says_what_and_where(tmp_path: Path, text: str, what: str) -> None:
    path = written(tmp_path, text)
    with pytest.raises(BadFile) as caught:
        procedures.load(path)
    assert what in caught.value.what
    assert path in caught.value.where


def test_the_line_of_a_fault_is_told(tmp_path: Path) -> None:
    wrong = PLAIN.replace('tally = "tally"', 'hat = "helmet"')
    line = wrong[: wrong.index("hat =")].count("\n") + 1
    with pytest.raises(BadFile, match=rf"unknown key: .*:{line}: words.hat: "):
        procedures.load(written(tmp_path, wrong))
    path = written(tmp_path, PLAIN + "colour = 1\n")
    with pytest.raises(BadFile, match=rf":{PLAIN.count(chr(10)) + 1}: sources.colour: "):
        procedures.load(path)


def test_bytes_that_are_no_text_are_told_as_that(tmp_path: Path) -> None:
    path = tmp_path / "rules.toml"
    path.write_bytes(b"\xff\xfe")
    with pytest.raises(BadFile, match="not in UTF-8 at byte 0"):
        procedures.load(str(path))


def test_a_name_that_is_not_there_lists_those_that_are() -> None:
    with pytest.raises(BadFile) as caught:
        procedures.load("nowhere")
    assert caught.value.what == "no such procedure"
    assert "plain" in caught.value.to_do


def test_a_folder_is_not_a_procedure(tmp_path: Path) -> None:
    with pytest.raises(BadFile, match="procedure is a folder"):
        procedures.load(str(tmp_path))


# ---------------------------------------------------------------- what the sources say

PUBLISHED: list[tuple[str, dict[str, Any]]] = [
    # Duration tables of UK services: 40 L/min, 10 min; EN 137: 55 bar; no less than two to a team;
    # stage 1 at most six.
    (
        "uk-guidance",
        {
            "planning_rate_l_min": 40,
            "margin_min": 10,
            "low_air_bar": 55,
            "least_crew": 2,
            "turn_back_rule": "half",
        },
    ),
    # FwDV 7: 7.2 double air, 90 %; 7.4 prompts at one third and two thirds; EN 137: 55 bar.
    (
        "fwdv7",
        {
            "turn_back_rule": "double",
            "least_fill_fraction": 0.9,
            "prompts": "thirds",
            "low_air_bar": 55,
            "least_crew": 2,
            "standby": 2,
        },
    ),
    # NFPA 1981 (2013): 33 %; 29 CFR 1910.134(g)(4): two in, two out; (h)(3)(iii): 90 %;
    # NJAC 5:75-2.10: 15 min and 30 min; WAC 296-305-05004: up to 20 min of rest; work and exit
    # table at 100 L/min.
    (
        "us-psi",
        {
            "pressure_unit": "psi",
            "low_air_fraction": 0.33,
            "least_crew": 2,
            "standby": 2,
            "least_fill_fraction": 0.9,
            "elapsed_time_s": 15 * 60,
            "roll_call_s": 30 * 60,
            "least_rest_s": 20 * 60,
            "planning_rate_l_min": 100,
            "turn_back_rule": "thirds",
        },
    ),
    # 42 CFR 84.83(f): at least 25 %; 29 CFR 1910.146: permit and attendant.
    (
        "industrial",
        {
            "low_air_fraction": 0.25,
            "permit_required": True,
            "attendant_required": True,
            "lone_entrant_allowed": True,
            "least_crew": 1,
        },
    ),
    ("plain", {"low_air_fraction": 0.35}),
]


@pytest.mark.parametrize(("name", "values"), PUBLISHED)
def test_values_are_those_of_the_sources(name: str, values: dict[str, Any]) -> None:
    rules = procedures.load(name)
    assert {key: getattr(rules, key) for key in values} == values


def test_the_published_figures_are_checked_for_every_procedure() -> None:
    assert {name for name, _ in PUBLISHED} == set(procedures.names())


def test_the_us_warning_in_psi() -> None:
    """NFPA 1981: 33 % of 4500 psi is 1485 psi, of 3000 psi 990 psi."""
    rules = procedures.load("us-psi")
    for full, low in ((4500, 1485), (3000, 990)):
        assert (rules.low_air_of(full / 14.5037738) or 0) * 14.5037738 == pytest.approx(low)


def test_the_us_emergency_form_is_lunar() -> None:
    form = procedures.load("us-psi").emergency_form
    assert list(form) == ["location", "unit", "name", "task", "air", "resources"]
    # Location, Unit, Name, Assignment and Air supply, Resources needed.
    assert "".join(heading[0] for heading in form.values()) == "LUNAAR"


def test_each_procedure_has_its_own_words() -> None:
    words = {name: procedures.load(name).words for name in procedures.names()}
    assert len({w.low_air_warning for w in words.values()}) == len(words)
    assert words["uk-guidance"].emergency_crew == "emergency team"
    assert (words["us-psi"].tally, words["us-psi"].turn_back) == ("tag", "turn-around")


# ---------------------------------------------------------------- the page

PAGE = (Path(procedures.__file__).parent / "PROCEDURES.md").read_text("utf-8")
TABLES: dict[str, type[BaseModel]] = {"Values": Procedure, "tasks": TaskPrior}
LIMITS = ("ge", "gt", "le", "lt", "min_length", "max_length")


def rows(heading: str) -> list[list[str]]:
    """The cells of the first table under a heading, without its head."""
    section = PAGE[PAGE.index(f"\n## {heading}\n") :]
    table = re.search(r"(^\|.*\n)+", section, re.MULTILINE)
    assert table
    lines = table[0].splitlines()[2:]
    return [[cell.strip() for cell in line.strip("|").split("|")] for line in lines]


def default(field: FieldInfo) -> str:
    """A default as the page has it."""
    value = field.default
    if field.is_required():
        return "required"
    if isinstance(value, BaseModel) or field.default_factory not in (None, dict):
        return "below"
    if value is None or field.default_factory is dict:
        return "none"
    if isinstance(value, str):
        return f'`"{value}"`'
    return f"`{str(value).lower() if isinstance(value, bool) else f'{value:g}'}`"


@pytest.mark.parametrize("heading", TABLES)
def test_the_page_has_every_key_with_its_default_and_no_other(heading: str) -> None:
    told = [(cells[0].strip("`"), cells[2]) for cells in rows(heading)]
    model = TABLES[heading]
    assert told == [(key, default(field)) for key, field in model.model_fields.items()]


@pytest.mark.parametrize("heading", TABLES)
def test_the_page_tells_the_limits(heading: str) -> None:
    for key, value, *_ in rows(heading):
        field = TABLES[heading].model_fields[key.strip("`")]
        held = [field, *get_args(field.annotation)]
        for part in (part for one in held for part in getattr(one, "metadata", ())):
            for number in (getattr(part, limit, None) for limit in LIMITS):
                if number is not None and "table" not in value:
                    assert re.search(rf"(?<![\d.]){re.escape(f'{number:.12g}')}\b", value), key
        for choice in get_args(field.annotation):
            if isinstance(choice, str):
                assert f"`{choice}`" in value, key


def test_the_page_has_every_word_with_its_default() -> None:
    plain = Words()
    assert {cells[0].strip("`"): cells[1] for cells in rows("words")} == plain.model_dump()


def test_the_page_has_every_field_of_the_form() -> None:
    assert [cells[0].strip("`") for cells in rows("emergency_form")] == list(get_args(FormField))


def test_the_page_names_every_procedure_that_comes_with_the_program() -> None:
    listed = re.findall(r"^\| `([\w-]+)` \| [^|]* \|$", PAGE[: PAGE.index("\n## ")], re.MULTILINE)
    assert sorted(listed) == sorted(procedures.names())
