"""Names tell their units; nothing is abbreviated."""

import re

import pytest

from monitor.export.dictionary import dictionary
from monitor.export.tables import TABLES, UNITS, USE, Table, Type
from monitor.incident.alarms.catalogue import CATALOGUE

SHORTENED = re.compile(
    "ack|addr|alt|approx|avg|batt|cfg|dir|dt|fmt|freq|hex|id|idx|info|len|loc|max|mem|min|msg|nr|no"
    "|num|pos|pwr|qty|ref|reg|sec|seq|sig|sn|src|std|temp|tmp|ts|utc|val|ver|vol"
)
"""Parts of names that programs shorten."""
STANDARDS = frozenset({"RFC", "UTF", "JSON", "EXERCISE", "REAL"})
"""Names of standards and formats, and the two words that stand in capitals on purpose."""


@pytest.mark.parametrize("table", TABLES, ids=lambda table: table.name)
def test_a_name_ends_in_its_unit(table: Table) -> None:
    for column in table.columns:
        if column.unit:
            assert column.name.endswith(f"_{column.unit}")
            assert column.type in {Type.INTEGER, Type.NUMBER}
        else:
            last = column.name.rpartition("_")[2]
            assert column.name.count("_") == 0 or last not in UNITS, column.name


@pytest.mark.parametrize("table", TABLES, ids=lambda table: table.name)
def test_every_table_says_first_whether_it_is_an_exercise(table: Table) -> None:
    assert table.columns[0] is USE
    names = [column.name for column in table.columns]
    assert len(names) == len(set(names))
    assert all(column.meaning for column in table.columns)


@pytest.mark.parametrize("table", TABLES, ids=lambda table: table.name)
def test_no_name_is_shortened(table: Table) -> None:
    for column in table.columns:
        own = column.name.removesuffix(f"_{column.unit}") if column.unit else column.name
        assert not any(SHORTENED.fullmatch(part) for part in own.split("_")), column.name


def test_no_word_of_the_dictionary_or_the_alarms_is_an_abbreviation() -> None:
    """An abbreviation of the trade (UK foundation knowledge: records in full) has capitals."""
    alarms = " ".join(f"{entry.word}. {entry.to_do}" for entry in CATALOGUE.values())
    text = dictionary() + alarms
    capitals = set(re.findall(r"\b[A-Z]{2,}\b", text))
    assert capitals <= STANDARDS | {"DATA", "DICTIONARY"}


def test_places_of_a_type() -> None:
    times = [TABLES[0].columns[i].name for i in TABLES[0].places(Type.TIME)]
    assert times == ["opened"]
