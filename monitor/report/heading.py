"""What stands on top of everything that is told of a journal: which incident, whose, how far."""

from collections.abc import Iterator

from monitor.incident.incident import FOLD_VERSION
from monitor.report import words
from monitor.report.reading import Told

CAUTION = (
    "Outby is an aid to decision and training, not a certified safety device. This report is made "
    "from what its base heard and what was entered there. Local procedure, the wearer's own gauge "
    "and warning device, the maker's instructions and the competent authority's rules come first."
)


def use_word(told: Told) -> str:
    """Exercise or real, unmistakable; an exercise that became real says both."""
    if told.header.use != "exercise":
        return "REAL"
    return "EXERCISE, THEN REAL" if told.gathered.real else "EXERCISE"


def heading(told: Told, zone: words.Zone) -> Iterator[str]:
    """The first lines of a text."""
    opened, found = told.gathered.opened, told.gathered
    assert opened is not None, "nothing is told of a journal without an incident"
    door = f", entry {opened.entry_point}" if opened.entry_point else ""
    yield f"{opened.name}{door}  {use_word(told)}"
    start, end = found.wall.at(0), found.wall.at(found.end_ns)
    state = "closed" if found.closed else "not closed: told up to here"
    span = f"{words.moment(start, zone)} to {words.moment(end, zone)}"
    yield f"{span} {words.zone_name(start, zone)}, {state}"
    yield f"recorded by {told.header.software}, {versions(told)}"
    if told.header.salvaged:
        yield f"SALVAGED from a damaged journal, and not all of it: {told.header.salvaged}"
    if told.left_out:
        yield f"DAMAGED: not told: {told.left_out}"
    yield CAUTION


def versions(told: Told) -> str:
    """Which version of the rules the recorder ran and which tells of it now."""
    then = told.header.fold
    if then == FOLD_VERSION:
        return f"version {then} of the rules"
    return f"version {then} of the rules, told here by version {FOLD_VERSION}"


def about(told: Told) -> dict[str, object]:
    """The same as fields for a program."""
    opened, found = told.gathered.opened, told.gathered
    assert opened is not None, "nothing is told of a journal without an incident"
    return {
        "incident": opened.incident,
        "name": opened.name,
        "use": told.header.use,
        "opened_wall_ns": told.header.opened_wall_ns,
        "closed": found.closed,
        "software": told.header.software,
        "rules_recorded": told.header.fold,
        "rules_told": FOLD_VERSION,
        "digest": told.last.digest.hex(),
        "left_out": told.left_out or None,
    }
