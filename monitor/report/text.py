"""Blocks as text of a given width: what a page says, for a terminal, a pipe or a plain printer."""

import io
import re
from collections.abc import Iterable, Sequence

from rich import box
from rich.cells import cell_len
from rich.console import Console
from rich.table import Table as Grid
from rich.text import Text as Words

from monitor.report.blocks import Block, Chart, Facts, Heading, Table, Text
from monitor.report.html import Page

WORD = re.compile(r"\d\S* (?:bar|psi|min|s)\b\S*|\S+")
"""A figure and its unit are one."""


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
        console.print(_grid(block.rows, console.width))
    elif isinstance(block, Table):
        rows = list(block.rows)
        if rows:
            console.print(Words(block.caption))
            console.print(_grid(rows, console.width, block.head))
        else:
            console.print(Words(f"{block.caption}: {block.empty}"))
    else:
        assert isinstance(block, Chart), "a kind of block that no text is made of"


def shared_out(columns: Sequence[Sequence[str]], room: int) -> list[int] | None:
    """Cells for each column, so that the fewest words are broken; None: all of it fits.

    The first column is whole as long as there is room. What is left goes where the longest cell
    lacks most; what is too much is taken from the widest.
    """
    whole = [max(map(cell_len, cells)) for cells in columns]
    if sum(whole) <= room:
        return None
    widths = [max(map(cell_len, WORD.findall("\n".join(cells))), default=1) for cells in columns]
    if whole[0] + sum(widths[1:]) <= room:
        widths[0] = whole[0]
    while sum(widths) < room:
        widths[max(range(len(widths)), key=lambda at: whole[at] / max(1, widths[at]))] += 1
    while sum(widths) > max(room, len(widths)):
        widths[widths.index(max(widths))] -= 1
    return widths


def _grid(rows: Iterable[tuple[str, ...]], width: int, head: tuple[str, ...] = ()) -> Grid:
    ruled = box.ASCII2 if head else None
    grid = Grid(box=ruled, show_header=bool(head), pad_edge=False)
    rows = list(rows)
    names = head or ("",) * len(rows[0])
    columns = [[name, *(row[number] for row in rows)] for number, name in enumerate(names)]
    # A rule and two blanks part columns; the first and the last have a rule at the edge.
    widths = shared_out(columns, width - 3 * len(columns) + 1)
    for number, name in enumerate(names):
        # What a row is about is never broken in two for the sake of another column.
        whole = number == 0 and (widths is None or widths[0] >= max(map(cell_len, columns[0])))
        grid.add_column(
            Words(name),
            no_wrap=whole,
            overflow="fold",
            width=None if widths is None else widths[number],
        )
    for row in rows:
        grid.add_row(*(Words(cell) for cell in row))
    return grid
