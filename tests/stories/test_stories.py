"""Every story of this folder: what is told, and what the board must then say."""

import tomllib
from pathlib import Path
from typing import Any

import pytest

from monitor import procedures
from monitor.incident.procedure import Procedure
from tests.stories.saying import CHECKS, check
from tests.stories.telling import Telling, parsed

FIELDS = {"name", "source", "rules", "with", "lines"}
STORIES = [
    pytest.param(story, id=f"{path.stem}: {story['name']}")
    for path in sorted(Path(__file__).parent.glob("*.toml"))
    for story in tomllib.loads(path.read_text("utf-8"))["story"]
]


def rules_of(story: dict[str, Any]) -> Procedure:
    """The procedure as its file has it, with what the story changes."""
    rules = procedures.load(story.get("rules", "plain"))
    return Procedure.model_validate({**rules.model_dump(), **story.get("with", {})})


@pytest.mark.parametrize("story", STORIES)
def test_story(story: dict[str, Any]) -> None:
    assert set(story) <= FIELDS
    told = Telling(rules_of(story))
    checked = 0
    for line in parsed(story["lines"]):
        if line.word not in CHECKS:
            told.tell(line)
            continue
        checked += 1
        told.incident.advance(line.t)
        try:
            check(told.incident, line)
        except AssertionError as why:
            where = f"line {line.number}, {line.t / 1e9:g} s: {line.word} {line.rest}"
            pytest.fail(f"{where}\n{why}", pytrace=False)
    assert checked, "a story that asks nothing shows nothing"
