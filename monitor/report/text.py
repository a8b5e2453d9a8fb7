"""Blocks as text of a given width: what a page says, for a terminal, a pipe or a plain printer."""

import io
from collections.abc import Iterable

from rich import box
from rich.console import Console
from rich.table import Table as Grid
from rich.text import Text as Words

from monitor.report.blocks import Block, Chart, Facts, Heading, Table, Text
from monitor.report.html import Page


def text(content: Page, width: int) -> str:
    """The page as lines. Charts are left out: no line can draw them."""
    file = io.StringIO()
    console = Console(
        file=file, width=width, color_system=None, markup=False, highlight=False, emoji=False
    )
    for words in (content.use, content.title, content.subtitle, content.caution):
        console.print(Words(words))
    for section in content.sections:
        console.print(Words(f"\n{section.title.upper()}"))
        for block in section.blocks:
            _print(console, block)
    console.print(Words(f"\n{content.use}"))
    lines = (line.rstrip() for line in file.getvalue().splitlines())
    return "\n".join(lines) + "\n"


def _print(console: Console, block: Block) -> None:
    if isinstance(block, Text | Heading):
        console.print(Words(block.words))
    elif isinstance(block, Facts):
        console.print(_grid(block.rows))
    elif isinstance(block, Table):
        rows = list(block.rows)
        if rows:
            console.print(Words(block.caption))
            console.print(_grid(rows, block.head))
        else:
            console.print(Words(f"{block.caption}: {block.empty}"))
    else:
        assert isinstance(block, Chart), "a kind of block that no text is made of"


def _grid(rows: Iterable[tuple[str, ...]], head: tuple[str, ...] = ()) -> Grid:
    ruled = box.ASCII2 if head else None
    grid = Grid(box=ruled, show_header=bool(head), pad_edge=False)
    rows = list(rows)
    for number, name in enumerate(head or ("",) * len(rows[0])):
        # What a row is about is never broken in two for the sake of another column.
        grid.add_column(Words(name), no_wrap=number == 0, overflow="fold")
    for row in rows:
        grid.add_row(*(Words(cell) for cell in row))
    return grid
