"""A roster written down: as TOML, or as a table. Pure; what is written loads as what it was."""

import csv
import io
from collections.abc import Iterator

from monitor.csv_cells import harmless
from monitor.roster import Person, Roster

_STAND_FOR = ("water_volume_l", "rated_bar")
"""What the name of a cylinder stands for: not written beside it."""
_ESCAPED = str.maketrans({"\\": "\\\\", '"': '\\"'})

Value = str | int | float | bool


def toml(roster: Roster) -> str:
    """Write it as a TOML file."""
    lines = [f"title = {_toml(roster.title)}", ""] if roster.title else []
    for person in roster.people:
        lines.append("[[people]]")
        lines += [f"{key} = {_toml(value)}" for key, value in values(person)]
        lines.append("")
    return "\n".join(lines)


def table(roster: Roster) -> str:
    """Write it as CSV with every column; a title has no place in it."""
    file = io.StringIO(newline="")
    writer = csv.DictWriter(file, tuple(Person.model_fields), lineterminator="\n")
    writer.writeheader()
    for person in roster.people:
        writer.writerow({key: _in_table(value) for key, value in values(person)})
    return file.getvalue()


def values(person: Person) -> Iterator[tuple[str, Value]]:
    """Give what is said of a person, by the keys of the file; what is left out is not."""
    for key, field in Person.model_fields.items():
        value = getattr(person, key)
        if value == field.default or (person.cylinder and key in _STAND_FOR):
            continue
        yield key, value


def cell(value: Value) -> str:
    """A value as a cell: exact, for a machine and for a person."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    return value if isinstance(value, str) else _number(value)


def _in_table(value: Value) -> str:
    return harmless(value) if isinstance(value, str) else cell(value)


def _toml(value: Value) -> str:
    """A value as TOML has it. Texts of a roster are printable: only two signs are special."""
    if isinstance(value, bool):
        return "true" if value else "false"
    return f'"{value.translate(_ESCAPED)}"' if isinstance(value, str) else _number(value)


def _number(value: float) -> str:
    """A figure in full, without a fraction where it has none."""
    return repr(int(value) if value == int(value) else value)
