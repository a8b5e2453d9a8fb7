"""Reads a scenario. A fault names the file, the line where it can be found, the key, and why."""

import re
import tomllib
from collections.abc import Iterator
from pathlib import Path

from pydantic import ValidationError

import shared
from shared.toml_lines import Place, line_of
from simulators.scenario import PackPlan, Scenario
from simulators.values import IDENTITY_MAX, NAME_MAX, PACKS_MAX, SHORT_MAX

FILE_BYTES_MAX = 2_000_000
"""Ten thousand packs written out with a deed or two; a group says the same in ten lines."""
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
        return f"{self.where}: {self.what}"


def names() -> tuple[str, ...]:
    """Names of the scenarios that come with the program."""
    return shared.names(FOLDER)


def load(name_or_path: str) -> Scenario:
    """Read a scenario by its name, or from a path. Raises ScenarioFault."""
    path = Path(name_or_path).expanduser()
    if name_or_path in names():
        path = shared.path(FOLDER, f"{name_or_path}.toml")
    elif "/" not in name_or_path and path.suffix != ".toml":
        known = ", ".join(names())
        raise ScenarioFault(f"no such scenario; there are: {known}", name_or_path)
    try:
        with path.open("rb") as file:
            data = file.read(FILE_BYTES_MAX + 1)
    except OSError as error:
        raise ScenarioFault(error.strerror or "not readable", str(path)) from None
    if len(data) > FILE_BYTES_MAX:
        raise ScenarioFault(f"longer than {FILE_BYTES_MAX} bytes", str(path))
    try:
        text = data.decode()
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        raise ScenarioFault("not UTF-8", f"{path}:{line}") from None
    return parse(text, str(path))


def parse(text: str, where: str) -> Scenario:
    """Understand the text of a scenario; ``where`` names it in errors. Raises ScenarioFault."""
    try:
        scenario = Scenario.model_validate(tomllib.loads(text))
    except tomllib.TOMLDecodeError as error:
        raise _not_toml(str(error), where) from None
    except ValidationError as error:
        place, what = _first(error)
        raise ScenarioFault(what, _at(text, where, place)) from None
    for place, what in _contradictions(scenario):
        raise ScenarioFault(what, _at(text, where, place))
    return scenario


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
    # A deed's kind is part of pydantic's place, but is no key of the file.
    place = tuple(
        part
        for number, part in enumerate(fault["loc"])
        if not (number == _KIND_DEPTH and fault["loc"][2:3] == ("deeds",))
    )
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
    return place, what[:1].lower() + what[1:]


_KIND_DEPTH = 4
"""``packs, 3, deeds, 0, <kind>, key``."""

_AFTER_END = "is after the end of the scenario"


def _contradictions(scenario: Scenario) -> Iterator[tuple[Place, str]]:
    """What each part of a scenario allows but the whole does not."""
    if not scenario.count:
        yield ("packs",), "there is no pack: [[packs]] or [[groups]] is needed"
    if scenario.count > PACKS_MAX:
        yield ("groups",), f"{scenario.count} packs are more than {PACKS_MAX}"
    yield from _of_wearers(scenario)
    wearers = {plan.wearer for plan in scenario.plans()}
    for number, act in enumerate(scenario.acts):
        if act.at_s > scenario.length_s:
            yield ("acts", number, "at_s"), _AFTER_END
        if unknown := sorted(set(act.wearers) - wearers):
            yield ("acts", number, "wearers"), f"no pack is on wearer {unknown[0]}"
    if not scenario.incident.roster and max(wearers) > len(wearers):
        missing = min(set(range(1, len(wearers) + 1)) - wearers)
        yield ("incident",), f"without a roster wearers count from 1, and {missing} is missing"


def _of_wearers(scenario: Scenario) -> Iterator[tuple[Place, str]]:
    packs: set[int] = set()
    wearers: set[int] = set()
    for place, plan in _wearers(scenario):
        if plan.pack in packs:
            yield (*place, "pack"), f"pack {plan.pack} is there twice"
        if plan.wearer in wearers:
            yield (*place, "wearer"), f"wearer {plan.wearer} is there twice"
        packs.add(plan.pack)
        wearers.add(plan.wearer)
        if what := _too_far(plan):
            yield place, what
        for n, deed in enumerate(plan.deeds):
            if deed.at_s > scenario.length_s:
                yield (*place, "deeds", n, "at_s"), _AFTER_END


def _wearers(scenario: Scenario) -> Iterator[tuple[Place, PackPlan]]:
    """Give every wearer, with where in the file they come from."""
    for number, plan in enumerate(scenario.packs):
        yield ("packs", number), plan
    for number, group in enumerate(scenario.groups):
        for plan in group.plans():
            yield ("groups", number), plan


def _too_far(plan: PackPlan) -> str | None:
    """Say what is beyond a limit that the first of a group still keeps."""
    if plan.pack > IDENTITY_MAX:
        return f"pack {plan.pack} does not fit 32 bits"
    if plan.wearer > PACKS_MAX:
        return f"wearer {plan.wearer} is above {PACKS_MAX}"
    for word, most in ((plan.name, NAME_MAX), (plan.call_sign, SHORT_MAX), (plan.crew, SHORT_MAX)):
        if len(word) > most:
            return f'"{word}" has more than {most} characters'
    return None


def _at(text: str, where: str, place: Place) -> str:
    """File, line and key of a place, as a person looks for it."""
    line = line_of(text, place)
    name = ".".join(str(p) for p in place) or "scenario"
    return f"{where}:{line}: {name}" if line else f"{where}: {name}"
