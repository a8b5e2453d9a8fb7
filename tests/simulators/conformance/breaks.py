"""One row of the table of breaks: a small change of a virtual pack, and the rules it breaks."""

from dataclasses import dataclass

from tests.simulators.conformance.wearing import Case, Heard


@dataclass(frozen=True)
class Break:
    """One way to be wrong."""

    name: str
    rules: frozenset[str]
    """One of these at least must be broken. None: nobody outside can see it."""
    case: Case


def breaks(rules: str, name: str, case: Case) -> Break:
    """``rules``: by their short names, with a comma between."""
    return Break(name, frozenset(part.strip() for part in rules.split(",") if part.strip()), case)


def heard(change: Heard) -> Case:
    return Case(heard=change)


def open_heard(change: Heard) -> Case:
    return Case(heard=change, keyed=False)
