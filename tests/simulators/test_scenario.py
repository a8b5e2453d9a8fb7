"""The models of a scenario, and the page that tells their keys."""

import re
from pathlib import Path
from typing import get_args

import pytest
from pydantic import BaseModel
from pydantic.fields import FieldInfo

from simulators import deeds, expected
from simulators.air import COUNTED
from simulators.answering import Answers
from simulators.expected import Expected
from simulators.fleet import Fleet
from simulators.injects import Inject, Trouble, When
from simulators.path_loss import LAWS
from simulators.populations import TASKS
from simulators.radio import Bursts, Radio, Range, Shadowing, Shared, Way
from simulators.scenario import ActPlan, Group, PackPlan, Place, Pool, Scenario, Setting
from simulators.scenario_file import load, names, parse
from simulators.wearer import MINUTE_VOLUME_L

PAGE = "simulators/SCENARIOS.md"
OF_A_GROUP = ("pack", "count", "crew_size", "apart_s", "name", "call_sign", "crew")
"""What a group has beside or other than a pack."""
MODELS: dict[str, type[BaseModel]] = {
    "The scenario": Scenario,
    "incident": Setting,
    "packs": PackPlan,
    "groups": Group,
    "places": Place,
    "answers": Answers,
    "injects": Inject,
    "injects.when": When,
    "pools": Pool,
    "expected": Expected,
    "acts": ActPlan,
    "radio": Radio,
    "radio.up, radio.down": Way,
    "radio.up.bursts, radio.down.bursts": Bursts,
    "radio.range": Range,
    "radio.shadowing": Shadowing,
    "radio.shared": Shared,
}
TABLES = {
    heading: (model, OF_A_GROUP if model is Group else tuple(model.model_fields))
    for heading, model in MODELS.items()
}
DEEDS: tuple[type[BaseModel], ...] = get_args(get_args(deeds.Deed)[0])


@pytest.fixture(scope="module")
def page() -> str:
    return (Path(__file__).parents[2] / PAGE).read_text("utf-8")


def rows(page: str, heading: str) -> list[list[str]]:
    """The cells of the table under a heading, without its head."""
    section = page[page.index(f"\n## {heading}\n") + 1 :]
    section = section[: section.find("\n## ", 1)] if "\n## " in section[1:] else section
    table = section[section.index("\n|") :]
    section = table[: table.find("\n\n", 1)]
    lines = [line for line in section.splitlines() if line.startswith("|")][2:]
    return [[cell.strip() for cell in line.strip("|").split("|")] for line in lines]


def toml(value: object) -> str:
    """A default as the file would have it."""
    match value:
        case bool():
            return str(value).lower()
        case int() | float():
            return f"{value:g}"
        case str():
            return f'"{value}"'
        case (_, *_):
            return f"[{', '.join(toml(one) for one in value)}]"
    raise AssertionError(value)


def default(field: FieldInfo) -> str:
    if field.is_required():
        return "required"
    nothing = field.default is None or field.default == () or isinstance(field.default, BaseModel)
    return "none" if nothing else f"`{toml(field.default)}`"


@pytest.mark.parametrize("heading", TABLES)
def test_the_page_has_every_key_with_its_default_and_no_other(page: str, heading: str) -> None:
    model, keys = TABLES[heading]
    told = {cells[0].strip("`"): cells[2] for cells in rows(page, heading)}
    assert told == {key: default(model.model_fields[key]) for key in keys}


@pytest.mark.parametrize("heading", TABLES)
def test_the_page_tells_the_limits(page: str, heading: str) -> None:
    """The numbers of each field's limits stand in its row, where it has any of its own."""
    model, keys = TABLES[heading]
    for key, value, *_ in rows(page, heading):
        name = key.strip("`")
        assert name in keys
        for part in model.model_fields[name].metadata:
            for limit in ("ge", "gt", "le", "lt", "min_length"):
                number = getattr(part, limit, None)
                if number is not None and value != "share":
                    assert re.search(rf"(?<![\d.]){re.escape(f'{number:.12g}')}\b", value), key


def test_a_group_has_the_keys_of_a_pack_but_leader() -> None:
    assert set(Group.model_fields) == set(PackPlan.model_fields) - {"leader"} | set(OF_A_GROUP)


def test_every_table_of_the_models_is_on_the_page() -> None:
    """Whatever model a field of a documented one holds is documented itself."""
    known = {model.__name__ for model in (*MODELS.values(), *DEEDS, *get_args(Trouble))}
    for model in MODELS.values():
        for key, field in model.model_fields.items():
            held = set(re.findall(r"simulators\.\w+\.([A-Z]\w+)", repr(field.annotation)))
            assert held <= known | {"Work"}, key


@pytest.mark.parametrize(
    ("heading", "models"), [("deeds", DEEDS), ("injects.deed", get_args(Trouble))]
)
def test_the_page_has_every_deed_with_its_keys(
    page: str, heading: str, models: tuple[type[BaseModel], ...]
) -> None:
    told = {cells[0].strip("`"): re.findall(r"`(.*?)`", cells[1]) for cells in rows(page, heading)}
    known = {}
    for model in models:
        keys = []
        for name, field in model.model_fields.items():
            if name not in ("at_s", "does"):
                plain = field.is_required() or field.default is None
                given = "" if plain else f" = {toml(field.default)}"
                keys.append(name + given)
        for does in get_args(model.model_fields["does"].annotation):
            known[does] = keys
    assert told == known


def test_the_page_has_every_kind_of_building_with_its_figures(page: str) -> None:
    section = page[page.index("## radio.range") : page.index("## radio.shadowing")]
    told = [[cell.strip() for cell in line.strip("|").split("|")] for line in section.splitlines()]
    found = {}
    for cells in told:
        if len(cells) == 4 and cells[0].startswith('`"') and cells[2][0].isdigit():
            for mhz in cells[1].split(", "):
                found[cells[0].strip('`"'), int(mhz)] = (cells[2], cells[3])
    assert found == {
        key: (f"{law.per_decade_db:g}", ", ".join(f"{db:g}" for db in law.floors_db) + " dB")
        for key, law in LAWS.items()
    }


def test_the_page_has_every_level_of_work_act_and_count(page: str) -> None:
    for work, litres in MINUTE_VOLUME_L.items():
        assert re.search(rf"`{work}`\s{litres:g}\b", page), work
    for what in get_args(ActPlan.model_fields["what"].annotation):
        assert f"`{what}`" in page
    for name in COUNTED:
        assert f"`{name}`" in page
    for kind, population in TASKS.items():
        mean = sum(MINUTE_VOLUME_L[work] * share for work, share in population.shares)
        told = re.search(rf"`{kind}` (\d+)", page)
        assert told, kind
        assert int(told[1]) == pytest.approx(mean, abs=1), kind
    for name in get_args(expected.Act):
        assert f"`{name}`" in page


def test_every_example_on_the_page_can_be_played(page: str) -> None:
    examples = re.findall(r"```toml\n(.*?)```", page, re.DOTALL)
    assert len(examples) == 3
    for text in examples:
        assert Fleet(parse(text, PAGE), 1).step(10_000_000_000)


def test_the_page_names_every_scenario_with_its_level_and_length(page: str) -> None:
    told = dict(re.findall(r"^\| `([\w-]+)` \| (\d? \| \d+) \| ", page, re.MULTILINE))
    assert told == {
        name: f"{one.level or ''} | {one.length_s // 60:g}"
        for name, one in ((name, load(name)) for name in names())
    }


# ---------------------------------------------------------------- groups


def group(**more: object) -> Group:
    return Group.model_validate({"count": 5, "pack": 50, "wearer": 3, "low_air_bar": 55, **more})


def test_a_group_is_that_many_wearers() -> None:
    plans = list(group(interval_s=1, fill_bar=290).plans())
    assert [(plan.pack, plan.wearer) for plan in plans] == [(50 + n, 3 + n) for n in range(5)]
    assert {(plan.interval_s, plan.fill_bar, plan.leader) for plan in plans} == {(1, 290, False)}
    assert [plan.name for plan in plans][:2] == ["Wearer 1", "Wearer 2"]


def test_what_a_group_makes_is_what_could_be_written_out() -> None:
    made = list(group(apart_s=0.5, deeds=[{"at_s": 1, "does": "switch_on"}]).plans())
    assert [PackPlan.model_validate(plan.model_dump()) for plan in made] == made
    assert [plan.deeds[0].at_s for plan in made] == [1, 1.5, 2, 2.5, 3]


def test_names_follow_their_patterns() -> None:
    plans = list(group(call_sign="B {crew}-{member}", crew="B {crew}", crew_size=3).plans())
    assert [plan.call_sign for plan in plans] == ["B 1-1", "B 1-2", "B 1-3", "B 2-1", "B 2-2"]
    assert [plan.leader for plan in plans] == [True, False, False, True, False]


def test_a_group_in_a_scenario_and_the_same_written_out_give_the_same_bytes() -> None:
    head = {
        "title": "x",
        "length_s": 60,
        "incident": {"name": "x", "officer": "y"},
    }
    deed = {"at_s": 1, "does": "switch_on"}
    kit = {"low_air_bar": 55, "deeds": [deed]}
    short = Scenario.model_validate(
        {**head, "groups": [{**kit, "count": 3, "pack": 1, "wearer": 1}]}
    )
    long = Scenario.model_validate(
        {**head, "packs": [{**kit, "pack": n, "wearer": n} for n in (1, 2, 3)]}
    )
    assert short.count == long.count == 3
    assert Fleet(short, 1).step(60_000_000_000) == Fleet(long, 1).step(60_000_000_000)
