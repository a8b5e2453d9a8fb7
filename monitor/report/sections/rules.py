"""The procedure in a report: every value in force, with its source, and the constants beside it."""

from collections.abc import Iterator, Mapping

from monitor.incident.alarms.engine import INSIST_AFTER_NS
from monitor.incident.contact import GAP_INTERVALS
from monitor.incident.link_rule import JITTER_NS
from monitor.report.blocks import Block, Row, Section, Table, Text
from monitor.report.teller import Teller
from monitor.report.words import SECOND_NS

UNITS = {
    "l_min": "litres a minute",
    "percent": "percent",
    "fraction": "share",
    "bar": "bar",
    "min": "minutes",
    "s": "seconds",
    "c": "degrees Celsius",
}
"""By the end of a field's name."""
NAMES = {"do": "what to do", "words": "word for", "emergency_form": "emergency form"}
APART = frozenset({"sources", "name", "title"})
"""Fields that stand elsewhere."""


def rules(teller: Teller) -> Section:
    """The rules in force, in full."""
    return Section("procedure", "Procedure and constants", _rules(teller))


def _rules(teller: Teller) -> Iterator[Block]:
    procedure = teller.opened.procedure
    yield Text(f"In force was {procedure.name}: {procedure.title}. It is in the journal in full.")
    yield Table(
        "The procedure",
        ("rule", "value", "unit", "source"),
        (
            row
            for field, value in procedure.model_dump().items()
            if field not in APART
            for row in _field(field, value, procedure.sources.get(field, ""))
        ),
    )
    yield Table("Constants of the program", ("constant", "value", "source"), CONSTANTS)


def _field(field: str, value: object, source: str) -> Iterator[Row]:
    name, unit = _name(field)
    if isinstance(value, Mapping):
        for key, inner in value.items():
            shown = inner if not isinstance(inner, Mapping) else _listed(inner)
            yield f"{name}, {str(key).replace('_', ' ')}", _shown(shown), unit, source
        if not value:
            yield name, "none", "", source
    else:
        yield name, _shown(value), unit, source


def _name(field: str) -> tuple[str, str]:
    """A field's name in words, and its unit."""
    for end, unit in UNITS.items():
        if field.endswith(f"_{end}"):
            return field.removesuffix(f"_{end}").replace("_", " "), unit
    return NAMES.get(field, field.replace("_", " ")), ""


def _listed(values: Mapping[str, object]) -> str:
    return ", ".join(f"{' '.join(_name(key)).strip()} {_shown(v)}" for key, v in values.items())


def _shown(value: object) -> str:
    if value is None:
        return "not given"
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value:g}" if isinstance(value, float) else str(value)


CONSTANTS: tuple[Row, ...] = (
    (
        "free air is counted at",
        "1.01325 bar and 15 degrees Celsius",
        "ISO 13443, standard reference conditions",
    ),
    (
        "contents of a cylinder",
        "real gas, from gauge pressure, water volume and gas temperature",
        "Lemmon and others, Journal of Physical and Chemical Reference Data 29 (2000) 331",
    ),
    (
        "signal gap",
        f"{GAP_INTERVALS} report intervals and {JITTER_NS // SECOND_NS} second without a frame",
        "our own choice",
    ),
    (
        "a danger that nobody takes is announced again after",
        f"{INSIST_AFTER_NS // SECOND_NS} seconds",
        "our own choice",
    ),
)
