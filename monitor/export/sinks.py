"""Writers of tables, one a format. Each takes rows as tuples in the order of the table's columns.

Values are what Python has: text, numbers, truth values, None; a time is the wall clock in ns.
Nothing is kept but a bounded number of rows, so memory does not grow with the journal.
"""

import csv
import json
import os
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import IO, Any, Protocol

from monitor.csv_cells import harmless
from monitor.export.tables import Table, Type
from monitor.iso import iso_ns

MODE = 0o600
"""Names, whereabouts and health of people: for the owner only."""
BUFFER_BYTES = 1024 * 1024

Row = Sequence[Any]


class Sink(Protocol):
    """Where the rows of one table go."""

    def write(self, row: Row) -> None:
        """Take one row."""

    def close(self) -> None:
        """Write out what is held and let go of the file."""


def open_new(path: Path) -> int:
    """A new file for the owner alone, never one that is there. Raises OSError."""
    return os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_CLOEXEC, MODE)


def _text_file(path: Path) -> IO[str]:
    return os.fdopen(open_new(path), "w", BUFFER_BYTES, encoding="utf-8", newline="")


class CsvSink:
    """Comma-separated values, RFC 4180: lines end in CR LF, quotes where they are needed.

    No text is taken for a formula by what opens it.
    """

    def __init__(self, path: Path, table: Table) -> None:
        self._file = _text_file(path)
        self._times = table.places(Type.TIME)
        self._truths = table.places(Type.TRUTH)
        self._texts = table.places(Type.TEXT)
        self._write = csv.writer(self._file).writerow
        self._write([column.name for column in table.columns])

    def write(self, row: Row) -> None:
        """Take one row."""
        cells = list(row)
        for i in self._times:
            if cells[i] is not None:
                cells[i] = iso_ns(cells[i])
        for i in self._truths:
            if cells[i] is not None:
                cells[i] = "true" if cells[i] else "false"
        for i in self._texts:
            if cells[i]:
                cells[i] = harmless(cells[i])
        self._write(cells)

    def close(self) -> None:
        """Let go of the file."""
        self._file.close()


class JsonLinesSink:
    """One JSON object a line, every column in it."""

    def __init__(self, path: Path, table: Table) -> None:
        self._file = _text_file(path)
        self._times = table.places(Type.TIME)
        self._names = [column.name for column in table.columns]
        self._encode = json.JSONEncoder(ensure_ascii=False, separators=(",", ":")).encode

    def write(self, row: Row) -> None:
        """Take one row."""
        cells = list(row)
        for i in self._times:
            if cells[i] is not None:
                cells[i] = iso_ns(cells[i])
        self._file.write(self._encode(dict(zip(self._names, cells, strict=True))) + "\n")

    def close(self) -> None:
        """Let go of the file."""
        self._file.close()


WRITERS: dict[str, Callable[[Path, Table], Sink]] = {".csv": CsvSink, ".jsonl": JsonLinesSink}
"""By the ending of a file: what writes it. Parquet is in a module of its own, since not everybody
has what it needs."""
