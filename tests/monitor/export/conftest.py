"""The golden journal's rows, and a table with one column of each type."""

from collections.abc import Callable
from pathlib import Path

import pytest

import shared
from monitor.export.exporter import Exported, Exporter
from monitor.export.sinks import Row, Sink
from monitor.export.tables import TABLES, Column, Table, Type

GOLDEN = shared.path("journals", "kiln-lane.journal")
WALL_NS = 1_700_000_000_000_000_000
"""The golden journal's opening, 2023-11-14 22:13:20 UTC."""


class Kept:
    """A sink that keeps what it is given, and counts its closings."""

    def __init__(self, table: Table) -> None:
        self.names = [column.name for column in table.columns]
        self.rows: list[dict[str, object]] = []
        self.closed = 0

    def write(self, row: Row) -> None:
        self.rows.append(dict(zip(self.names, row, strict=True)))

    def close(self) -> None:
        self.closed += 1


Found = dict[str, list[dict[str, object]]]
Exporting = Callable[[Path], tuple[Exported, Found]]


@pytest.fixture(scope="session")
def exported() -> Exporting:
    """Export a journal into memory."""

    def export(path: Path) -> tuple[Exported, Found]:
        kept = {table.name: Kept(table) for table in TABLES}
        sinks: dict[str, list[Sink]] = {name: [sink] for name, sink in kept.items()}
        done = Exporter(path, sinks, None, "the caution").run(lambda _done, _all: None)
        return done, {name: sink.rows for name, sink in kept.items()}

    return export


@pytest.fixture(scope="session")
def golden(exported: Exporting) -> Found:
    return exported(GOLDEN)[1]


@pytest.fixture
def every_type() -> Table:
    return Table(
        "every",
        "one column of each type",
        (
            Column("use", Type.TEXT, "the use"),
            Column("count", Type.INTEGER, "a count"),
            Column("pressure_bar", Type.NUMBER, "a pressure", "bar"),
            Column("low", Type.TRUTH, "whether it is low"),
            Column("clock", Type.TIME, "when"),
        ),
    )


@pytest.fixture
def rows() -> list[tuple[object, ...]]:
    """Values that writers get wrong: quotes, line ends, commas, not known, large, negative."""
    return [
        ("EXERCISE", 1, 287.5, True, WALL_NS + 1),
        ('said "now", then\nleft', -(2**62), 0.1, False, WALL_NS + 999_999_999),
        (None, None, None, None, None),
        ("Ærøskøbing ~ 3 °C", 0, 1e-9, True, WALL_NS),
    ]
