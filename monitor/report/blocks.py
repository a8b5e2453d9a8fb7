"""What a report is made of, before it is a page: sections of facts, tables, charts and texts."""

from collections.abc import Iterable
from dataclasses import dataclass

Row = tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Text:
    """A paragraph."""

    words: str
    strong: bool = False


@dataclass(frozen=True, slots=True)
class Heading:
    """A heading within a section."""

    words: str
    name: str = ""
    """What a link leads to; empty: none does."""


@dataclass(frozen=True, slots=True)
class Facts:
    """Names and values."""

    caption: str
    rows: tuple[Row, ...]


@dataclass(frozen=True, slots=True)
class Table:
    """Rows under a head. The first cell of a row says what the row is about."""

    caption: str
    head: Row
    rows: Iterable[Row]
    empty: str = "none"
    """Said in place of a table without rows."""


@dataclass(frozen=True, slots=True)
class Chart:
    """A drawing, as SVG that is safe to put into a page."""

    svg: str


Block = Text | Heading | Facts | Table | Chart


@dataclass(frozen=True, slots=True)
class Section:
    """One part of the report. Blocks are made when they are wanted, one after the other."""

    name: str
    """What the list of contents links to."""
    title: str
    blocks: Iterable[Block]
