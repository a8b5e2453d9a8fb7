"""A roster as a table: what spreadsheets write as CSV, read into rows. Pure.

The first line names the columns, with the names that the TOML form has. Commas, semicolons and
tabs part cells; a mark of byte order, line ends of any system, quoted cells and marks of writing
direction do no harm; an apostrophe before what would be a formula is no part of it. What is wrong
is said with file, line and column.
"""

import csv
import io
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from monitor.csv_cells import plain
from monitor.errors import BadFile

DELIMITERS = ",;\t"
ROWS_MAX = 10_000
"""As many people as a roster has."""
CELL_MAX = 2_000
"""Characters; no value of a roster has a tenth of them."""
BYTE_ORDER_MARK = "\ufeff"
_SPANS_UNSEEN = ((0x200B, 0x200F), (0x202A, 0x202E), (0x2066, 0x2069), (0xFEFF, 0xFEFF))
UNSEEN = dict.fromkeys(code for first, last in _SPANS_UNSEEN for code in range(first, last + 1))
"""Marks of direction and of no width, which spreadsheets add: letters have their direction by
themselves, and a terminal could be upset by them."""
ALPHABET = 26


@dataclass(frozen=True, slots=True)
class Row:
    """One line of the table: cells by column. Empty cells are left out."""

    line: int
    """Of the file, from 1; where the row begins."""
    cells: dict[str, str]


@dataclass(frozen=True, slots=True)
class Sheet:
    """The whole table."""

    path: str
    columns: tuple[str, ...]
    """In the order of the file."""
    rows: tuple[Row, ...]

    def at(self, line: int, column: str = "") -> str:
        """Say where: file and line, and the column by its name and the letter it has on screen."""
        where = f"{self.path}:{line}"
        if column not in self.columns:
            return where
        return f"{where}: {column} (column {letters(self.columns.index(column))})"


def read(path: str, text: str, known: Sequence[str], decimals: Sequence[str]) -> Sheet:
    """Read a table with some of the columns ``known``. Raises BadFile.

    In ``decimals`` a comma is a decimal sign wherever commas do not part cells.
    """
    text = text.removeprefix(BYTE_ORDER_MARK)
    delimiter = _delimiter(text, known)
    sheet = Sheet(path, (), ())
    rows: list[Row] = []
    try:
        for line, cells in _records(text, delimiter):
            if not sheet.columns:
                sheet = Sheet(path, _columns(sheet.at(line), cells, known), ())
                continue
            if len(rows) >= ROWS_MAX:
                raise BadFile("roster: too many people", sheet.at(line), f"at most {ROWS_MAX}")
            rows.append(_row(sheet, line, cells))
    except csv.Error as error:
        raise BadFile(f"roster is not CSV: {error}", path, "save it as CSV again") from None
    if not sheet.columns:
        raise BadFile("roster: it is empty", path, f"the first line names columns: {_all(known)}")
    if delimiter != ",":
        for row in rows:
            row.cells.update(
                {c: row.cells[c].replace(",", ".") for c in decimals if c in row.cells}
            )
    return Sheet(path, sheet.columns, tuple(rows))


def letters(place: int) -> str:
    """The letters of a column, from 0: A, B ... Z, AA."""
    high, low = divmod(place, ALPHABET)
    return (letters(high - 1) if high else "") + chr(ord("A") + low)


def _records(text: str, delimiter: str) -> Iterator[tuple[int, list[str]]]:
    """Every line that is not empty, with the number of the line it begins on."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    begins = 1
    for cells in reader:
        cleaned = [_clean(cell) for cell in cells]
        if any(cleaned):
            yield begins, cleaned
        begins = reader.line_num + 1


def _clean(cell: str) -> str:
    """Without what is not seen, with blanks of every kind as blanks."""
    if len(cell) > CELL_MAX:
        raise csv.Error(f"a cell of more than {CELL_MAX} characters")
    seen = cell.translate(UNSEEN)
    return plain("".join(" " if c.isspace() else c for c in seen).strip())


def _delimiter(text: str, known: Sequence[str]) -> str:
    """What parts cells: by it most columns have a name that is known."""

    def found(delimiter: str) -> int:
        try:
            _, cells = next(_records(text, delimiter), (0, []))
        except csv.Error:
            return 0
        return sum(_key(cell) in known for cell in cells)

    return max(DELIMITERS, key=found)


def _columns(where: str, cells: list[str], known: Sequence[str]) -> tuple[str, ...]:
    while cells and not cells[-1]:
        cells.pop()
    columns: list[str] = []
    for place, cell in enumerate(cells):
        column, at = _key(cell), f"{where}: column {letters(place)}"
        if column not in known:
            what = f"unknown column {cell}" if cell else "a column without a name"
            raise BadFile(f"roster: {what}", at, f"columns are: {_all(known)}")
        if column in columns:
            raise BadFile(f"roster: column {column} is there twice", at, "take one out")
        columns.append(column)
    return tuple(columns)


def _key(cell: str) -> str:
    """Capitals do not matter, nor whether words are held together by a blank."""
    return "_".join(cell.casefold().replace("_", " ").replace("-", " ").split())


def _row(sheet: Sheet, line: int, cells: list[str]) -> Row:
    extra = next((n for n in range(len(sheet.columns), len(cells)) if cells[n]), None)
    if extra is not None:
        where = f"{sheet.at(line)}: column {letters(extra)}"
        what = f"roster: more cells than the first line has columns: {cells[extra]}"
        raise BadFile(what, where, "put cells that hold a comma or semicolon into quotes")
    return Row(line, {c: v for c, v in zip(sheet.columns, cells, strict=False) if v})


def _all(known: Sequence[str]) -> str:
    return ", ".join(known)
