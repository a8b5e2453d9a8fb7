"""The opening sheet as a screen: caution, questions, the chosen procedure, the links. Pure."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from rich.cells import cell_len

from monitor.board.pages.form_page import form_page, form_prompt
from monitor.board.pages.screen import CAUTION_LINES
from monitor.board.sheets.forms import Filling
from monitor.board.words.marks import BLANK, Line, Look, Role, clean, crop, fit
from monitor.board.words.procedure_words import main_values
from monitor.incident.procedure import Procedure

KEYS = "Enter next  Up back  digits pick  Backspace  Ctrl+U wipe  Esc leave it"
LEAVE = "LEAVE? Nothing is opened. Esc again leaves, any other key goes on."
RULES_AT = frozenset({"procedure", "stage", "roster"})
"""Questions at which the procedure is what is looked at; else the links are."""
PROMPT_LINES_MAX = 3
"""What is wrong with an answer is told with what to do, and paths are long."""
LEAST_FORM = 6
"""Lines: the title, and the question with its picks and what stands around it."""
NAME_CELLS, VALUE_CELLS = 18, 26


@dataclass(frozen=True, slots=True)
class LinkTry:
    """What came of opening a link and closing it again, before recording."""

    name: str
    fault: str = ""
    """Why it does not open; empty: it opens."""

    @property
    def words(self) -> str:
        """As a sentence says it."""
        return f"{self.name}: DOES NOT OPEN: {self.fault}" if self.fault else f"{self.name}: opens"


@dataclass(frozen=True, slots=True)
class Around:
    """What stands around the questions."""

    rules: Procedure | None = None
    """The one chosen, if it can be read."""
    links: Sequence[LinkTry] | None = None
    """None: not known yet."""
    clock: str = ""
    """This machine's, to be compared."""
    leaving: bool = False
    """Asks whether to leave."""


def opening_page(filling: Filling[Any], look: Look, around: Around) -> list[Line]:
    """Give all lines of the screen; the question that is asked is always among them."""
    prompt = LEAVE if around.leaving else form_prompt(filling)[0]
    most = max(1, min(PROMPT_LINES_MAX, look.height - LEAST_FORM - 1))
    told = wrapped(prompt, look.width)[:most]
    bottom = [*(_line(text, Role.STRONG, look) for text in told), _line(KEYS, Role.FAINT, look)]
    if look.height <= len(bottom) + LEAST_FORM:
        lines = form_page(filling, look, max(look.height - len(bottom), 0)).lines
        return [*lines, *bottom][: look.height]
    keep = look.height - len(bottom) - LEAST_FORM
    top = _top(look, around)[:keep]
    form = form_page(filling, look, look.height - len(bottom) - len(top)).lines
    room = look.height - len(bottom) - len(top)
    beside = _beside(filling, look, around, room - min(len(form), LEAST_FORM), room - len(form))
    form = form_page(filling, look, room - len(beside)).lines
    blank = [BLANK] * (room - len(form) - len(beside))
    return [*top, *form, *blank[: len(blank) // 2], *beside, *blank[len(blank) // 2 :], *bottom]


def wrapped(text: str, width: int) -> list[str]:
    """A sentence in lines of so many cells, broken at blanks."""
    lines: list[str] = []
    for word in text.split(" "):
        if lines and cell_len(lines[-1]) + 1 + cell_len(word) <= width:
            lines[-1] += f" {word}"
        else:
            lines.append(word)
    return lines


def _top(look: Look, around: Around) -> list[Line]:
    lines = [_line(text, Role.FAINT, look) for text in CAUTION_LINES]
    return [*lines, _line(f"This machine's clock: {around.clock}", Role.TEXT, look)]


def _beside(filling: Filling[Any], look: Look, around: Around, most: int, spare: int) -> list[Line]:
    """The procedure and the links: what the question is about, then the other if there is room."""
    rules, links = rules_lines(around.rules, look), link_lines(around.links, look)
    first, second = (rules, links) if filling.asked.name in RULES_AT else (links, rules)
    first = first[:most]
    if len(first) + len(second) > spare:
        return first
    return [*rules, *links]


def rules_lines(rules: Procedure | None, look: Look) -> list[Line]:
    """The main values of the procedure with their sources."""
    if rules is None:
        return [_line("procedure: none chosen", Role.FAINT, look)]
    lines = [_line(f"{clean(rules.name)}: {clean(rules.title)}", Role.TEXT, look)]
    for name, value, source in main_values(rules):
        cells = fit(clean(name), NAME_CELLS, look.glyphs), fit(value, VALUE_CELLS, look.glyphs)
        told = f"  {' '.join(cells)} "
        known = clean(source) or "no source is given"
        spare = max(look.width - cell_len(told), 1)
        line = (told, Role.TEXT), (fit(known, spare, look.glyphs), Role.FAINT)
        lines.append(crop(line, look.width))
    return lines


def link_lines(links: Sequence[LinkTry] | None, look: Look) -> list[Line]:
    """Each link, and whether it opens."""
    if links is None:
        return [_line("links: say exercise or real first", Role.FAINT, look)]
    return [
        _line(text, Role.CAUTION if link.fault else Role.TEXT, look)
        for link in links
        for text in wrapped(clean(link.words), look.width)
    ]


def _line(text: str, role: Role, look: Look) -> Line:
    return ((fit(text, look.width, look.glyphs), role),)
