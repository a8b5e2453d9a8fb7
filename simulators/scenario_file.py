"""Reads a scenario. A fault names the file, the line where it can be found, the key, and why."""

import json
import re
from collections.abc import Collection
from itertools import chain

from pydantic import ValidationError

import shared
from shared import reading
from shared.printable import escaped, shortened
from shared.reading import Unreadable
from shared.toml_lines import Place, line_of
from simulators.scenario import Scenario
from simulators.scenario_checks import contradictions, unknown_alarms

FILE_BYTES_MAX = 2_000_000
"""Ten thousand packs written out with a deed or two; a group says the same in ten lines."""
LINE_MAX = 2_000
"""Characters of a fault; what it quotes may be longer."""
FOLDER = "scenarios"


class ScenarioFault(Exception):
    """A scenario that cannot be used: what is wrong, and where."""

    def __init__(self, what: str, where: str) -> None:
        """Hold both parts."""
        super().__init__(what, where)
        self.what = what
        self.where = where

    def __str__(self) -> str:
        """One line for a person."""
        return escaped(shortened(f"{self.where}: {self.what}", LINE_MAX))


def names() -> tuple[str, ...]:
    """Names of the scenarios that come with the program."""
    return shared.names(FOLDER)


def load(name_or_path: str, alarms: Collection[str] = ()) -> Scenario:
    """Read a scenario by its name, or from a path. Raises ScenarioFault.

    ``alarms``: all kinds that there are; one that is none of them would make every score false.
    """
    path = reading.home(name_or_path)
    if name_or_path in names():
        path = shared.path(FOLDER, f"{name_or_path}.toml")
    elif "/" not in name_or_path and path.suffix != ".toml":
        known = ", ".join(names())
        raise ScenarioFault(f"no such scenario; there are: {known}", name_or_path)
    try:
        text = reading.text_of(reading.read_bytes(path, FILE_BYTES_MAX))
    except Unreadable as error:
        raise ScenarioFault(f"it {error.what} ({error.to_do})", str(path)) from None
    return parse(text, str(path), alarms)


def parse(text: str, where: str, alarms: Collection[str] = ()) -> Scenario:
    """Understand the text of a scenario; ``where`` names it in errors. Raises ScenarioFault."""
    try:
        # As JSON, where a list may be a tuple and yet a number in quotes is no number.
        given = json.dumps(reading.toml_of(text), default=str)
        scenario = Scenario.model_validate_json(given, strict=True)
    except Unreadable as error:
        raise _not_toml(error.to_do, where) from None
    except ValidationError as error:
        place, what = _first(error)
        raise ScenarioFault(what, _at(text, where, place)) from None
    for place, what in chain(contradictions(scenario), unknown_alarms(scenario, alarms)):
        raise ScenarioFault(what, _at(text, where, place))
    return scenario


def played(text: str, where: str) -> Scenario:
    """Understand a scenario as a truth file keeps it, as JSON. Raises ScenarioFault."""
    try:
        return Scenario.model_validate_json(text, strict=True)
    except ValidationError as error:
        place, what = _first(error)
        name = ".".join(str(part) for part in place)
        raise ScenarioFault(f"{name}: {what}", where) from None


def _not_toml(said: str, where: str) -> ScenarioFault:
    """Put the line that the parser names where every other fault has it."""
    found = re.fullmatch(r"(.*) \(at line (\d+), column (\d+)\)", said)
    if found is None:
        return ScenarioFault(f"not TOML: {said}", where)
    return ScenarioFault(f"not TOML: {found[1]} (column {found[3]})", f"{where}:{found[2]}")


def _first(error: ValidationError) -> tuple[Place, str]:
    """Say the first fault found in plain words."""
    faults = error.errors(include_url=False, include_input=False)
    # A mistyped key is both unknown and missing: the first helps more.
    fault = next((f for f in faults if f["type"] == "extra_forbidden"), faults[0])
    place = _without_kinds(fault["loc"])
    if fault["type"] == "extra_forbidden":
        return place, "unknown key"
    if fault["type"] == "missing":
        return place, "is missing"
    if fault["type"] == "union_tag_not_found":
        return (*place, "does"), "is missing"
    if fault["type"] == "union_tag_invalid":
        given, known = fault["ctx"]["tag"], fault["ctx"]["expected_tags"]
        return (*place, "does"), f"no such deed: {given}; there are {known.replace(chr(39), '')}"
    what = fault["msg"].removeprefix("Value error, ").replace("Input should be", "must be")
    what = what.replace("a valid array", "a list")
    return place, what[:1].lower() + what[1:]


def _without_kinds(loc: Place) -> Place:
    """Take a deed's kind out of pydantic's place: it is no key of the file."""
    return tuple(
        part
        for number, part in enumerate(loc)
        if not (number and loc[number - 1] == "deed")
        and not (number > 1 and loc[number - 2] == "deeds")
    )


def _at(text: str, where: str, place: Place) -> str:
    """File, line and key of a place, as a person looks for it."""
    line = line_of(text, place)
    name = ".".join(str(p) for p in place) or "scenario"
    return f"{where}:{line}: {name}" if line else f"{where}: {name}"
