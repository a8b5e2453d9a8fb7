"""Blocks as one page of HTML that needs nothing but itself. Every text is escaped here.

End tags that the standard lets one leave out (HTML, 13.1.2.4) are left out of tables: they were a
tenth of a long page.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from html import escape
from itertools import chain
from pathlib import Path

from monitor.report.blocks import Block, Chart, Facts, Heading, Section, Table, Text
from monitor.report.charts import LOOKS

STYLE = Path(__file__).with_name("page.css")


@dataclass(frozen=True, slots=True)
class Page:
    """What stands on top of a page and around it."""

    title: str
    use: str
    """Large above everything, and on every printed page."""
    exercise: bool
    subtitle: str
    caution: str
    sections: tuple[Section, ...]


def page(content: Page) -> Iterator[str]:
    """The page in pieces, in order; a piece is made when it is asked for."""
    use = escape(content.use)
    style = STYLE.read_text("utf-8").replace("USE-OF-THIS-RECORD", content.use)
    style = style.replace("NAME-OF-THIS-RECORD", _for_css(content.title))
    style += LOOKS.css
    yield (
        '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{use}: {escape(content.title)}</title>\n<style>\n{style}</style>\n</head>\n"
    )
    kind = "exercise" if content.exercise else "real"
    yield f'<body class="{kind}">\n<header>\n<p class="use">{use}</p>\n'
    yield f"<h1>{escape(content.title)}</h1>\n<p>{escape(content.subtitle)}</p>\n"
    yield f'<p class="caution"><strong>Caution.</strong> {escape(content.caution)}</p>\n'
    yield "</header>\n"
    yield from _contents(content.sections)
    yield "<main>\n"
    for section in content.sections:
        yield from _section(section, use)
    yield f'</main>\n<footer><p class="use">{use}</p></footer>\n</body>\n</html>\n'


def _for_css(words: str) -> str:
    """Words within a string of a style: whatever is no letter by its number (CSS 2.1, 4.1.3)."""
    return "".join(c if c.isalnum() or c == " " else f"\\{ord(c):06x}" for c in words)


def _contents(sections: Iterable[Section]) -> Iterator[str]:
    yield '<nav aria-label="contents">\n<ol>\n'
    for section in sections:
        yield f'<li><a href="#{escape(section.name)}">{escape(section.title)}</a></li>\n'
    yield "</ol>\n</nav>\n"


def _section(section: Section, use: str) -> Iterator[str]:
    name = escape(section.name)
    yield f'<section id="{name}" aria-labelledby="{name}-title">\n'
    yield f'<h2 id="{name}-title">{escape(section.title)} <span class="tag">{use}</span></h2>\n'
    for block in section.blocks:
        yield from _block(block)
    yield "</section>\n"


def _block(block: Block) -> Iterator[str]:
    if isinstance(block, Text):
        words = escape(block.words)
        yield f"<p><strong>{words}</strong></p>\n" if block.strong else f"<p>{words}</p>\n"
    elif isinstance(block, Heading):
        name = f' id="{escape(block.name)}"' if block.name else ""
        yield f"<h3{name}>{escape(block.words)}</h3>\n"
    elif isinstance(block, Facts):
        caption = escape(block.caption)
        yield f'<p class="caption-of">{caption}</p>\n<dl aria-label="{caption}">\n'
        for name, value in block.rows:
            yield f"<div><dt>{escape(name)}<dd>{escape(value)}</div>\n"
        yield "</dl>\n"
    elif isinstance(block, Chart):
        yield f"<figure>\n{block.svg}\n</figure>\n"
    else:
        yield from _table(block)


def _table(table: Table) -> Iterator[str]:
    caption = escape(table.caption)
    rows = iter(table.rows)
    first = next(rows, None)
    if first is None:
        yield f'<p class="empty">{caption}: {escape(table.empty)}</p>\n'
        return
    head = "".join(f"<th scope=col>{escape(name)}" for name in table.head)
    yield f"<table>\n<caption>{caption}</caption>\n<thead>\n<tr>{head}\n<tbody>\n"
    for row in chain((first,), rows):
        about, *rest = row
        cells = "".join(f"<td>{escape(cell)}" for cell in rest)
        yield f"<tr><th scope=row>{escape(about)}{cells}\n"
    yield "</table>\n"
