"""A line is what its schema says, read by another's reader of schemas."""

import json
from collections.abc import Iterator

import jsonschema
import pytest

import shared
from monitor.feed.lines import AnnouncementLine, Line, PictureLine, schema
from monitor.feed.telling import Telling
from monitor.journal.reader import JournalReader

GOLDEN = shared.path("journals", "kiln-lane.journal")
S = 1_000_000_000


def lines(*, names: bool = False) -> Iterator[Line]:
    telling = Telling(60 * S, names=names)
    with JournalReader(GOLDEN) as reader:
        complete = False
        while not complete:
            step = reader.read(telling.row)
            complete = step.complete
            yield from telling.rows(step.rows, step.horizon, complete=complete)
    yield from telling.end()


@pytest.fixture(scope="module")
def told() -> list[Line]:
    return list(lines())


def test_every_line_keeps_the_published_schema(told: list[Line]) -> None:
    published = json.loads(json.dumps(schema()))
    jsonschema.Draft202012Validator.check_schema(published)
    validator = jsonschema.Draft202012Validator(published)
    for line in [*told, *lines(names=True)]:
        validator.validate(json.loads(line.model_dump_json()))


def test_the_schema_refuses_what_is_no_line(told: list[Line]) -> None:
    validator = jsonschema.Draft202012Validator(schema())
    right = json.loads(told[0].model_dump_json())
    for wrong in (right | {"line": "other"}, right | {"under_air": "six"}, right | {"more": 1}):
        assert not validator.is_valid(wrong)


def test_kinds_and_the_version_stand_in_each(told: list[Line]) -> None:
    assert {line.line for line in told} == {"picture", "announcement", "end"}
    assert {line.version for line in told} == {1}
    assert [line.line for line in told][-2:] == ["picture", "end"]


def test_no_name_of_a_person_is_in_any_line_unless_asked_for(told: list[Line]) -> None:
    named = list(lines(names=True))
    people = {w.name for line in named if isinstance(line, PictureLine) for w in line.wearers}
    officers = {line.officer for line in named if isinstance(line, PictureLine)}
    assert {"A. Quoin", "B. Corbel"} <= people
    text = "\n".join(line.model_dump_json() for line in told)
    assert [name for name in {*people, *officers} if name and name in text] == []


def test_numbers_are_those_of_the_board(told: list[Line]) -> None:
    """Two minutes in, as the first page of the read-me shows that same record."""
    at = next(x for x in told if isinstance(x, PictureLine) and x.t_s == 120)
    assert (at.under_air, at.came_out, at.signals_heard, at.signals_expected) == (6, 2, 5, 6)
    silent = next(w for w in at.wearers if w.wearer == 5)
    assert silent.air.estimate
    assert silent.signal == "no signal"


def test_an_announcement_tells_when_and_how_urgent(told: list[Line]) -> None:
    first = next(line for line in told if isinstance(line, AnnouncementLine))
    assert first.priority == "danger"
    assert first.at.startswith("2023-11-14T22:14:2")
