"""The data dictionary: every table and column in words, made from the tables themselves. Pure."""

from collections.abc import Iterator

from monitor.export.tables import TABLES, UNITS, Table, Type

_HOW_WRITTEN = {
    Type.TEXT: ("text", "string", "string"),
    Type.INTEGER: ("digits", "number", "64-bit integer"),
    Type.NUMBER: ("digits with a point", "number", "64-bit floating point"),
    Type.TRUTH: ("`true`, `false`", "true, false", "boolean"),
    Type.TIME: (
        "`2026-03-14T15:09:26.535897932Z`",
        "the same as a string",
        "timestamp in nanoseconds, Coordinated Universal Time",
    ),
}
"""In comma-separated values, JSON Lines and Parquet."""

_HEAD = """\
# Data dictionary of the exported tables

Each table is one file: comma-separated values (`.csv`, as RFC 4180 has them, with a head line),
JSON Lines (`.jsonl`, one object a line) or Parquet (`.parquet`). All are UTF-8. What is not known
is empty, `null`, or null; it is never a number that stands for it.

Every table begins with the column `use`: EXERCISE or REAL. A column's name ends in its unit.
Pressures are gauge pressures. Nothing is rounded.

In comma-separated values a text that a spreadsheet would take for a formula has an apostrophe in
front: one that begins with `=`, `+`, `-`, `@`, their full-width forms or a control character, after
blanks and apostrophes of its own or none. Take one apostrophe away before any of these, and it is
the text again. Numbers, times and truth values are never changed; the other forms need nothing."""


def dictionary() -> str:
    """The whole page."""
    return "\n".join(_lines()) + "\n"


def _lines() -> Iterator[str]:
    yield _HEAD
    yield ""
    yield "| type | comma-separated values | JSON Lines | Parquet |"
    yield "|---|---|---|---|"
    for kind, ways in _HOW_WRITTEN.items():
        yield f"| {kind} | {' | '.join(ways)} |"
    yield ""
    yield "| ending of a name | unit |"
    yield "|---|---|"
    for ending, unit in UNITS.items():
        yield f"| `_{ending}` | {unit} |"
    for table in TABLES:
        yield from _table(table)


def _table(table: Table) -> Iterator[str]:
    yield ""
    yield f"## {table.name}"
    yield ""
    yield table.about
    yield ""
    yield "| column | type | unit | meaning |"
    yield "|---|---|---|---|"
    for column in table.columns:
        unit = UNITS[column.unit] if column.unit else ""
        yield f"| `{column.name}` | {column.type} | {unit} | {column.meaning} |"
