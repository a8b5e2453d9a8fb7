"""The opening sheet in the terminal: keys in, an answered sheet out. All words are elsewhere."""

import asyncio
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from textual.events import Key as KeyEvent
from textual.worker import Worker

from monitor.board.pages.opening_page import Around, LinkTry, opening_page
from monitor.board.sheets.forms import NEXT, Filling, Form
from monitor.board.sheets.opening import Opening
from monitor.board.terminal.lines_app import LinesApp
from monitor.board.terminal.themes import Colours
from monitor.board.words.marks import GLYPHS, Glyphs, Look
from monitor.incident.procedure import Procedure

TICK_S = 1.0
LEAVERS = frozenset({"escape", "ctrl+c", "ctrl+q", "ctrl+z"})


@dataclass(frozen=True, slots=True)
class OpeningOptions:
    """How it looks, and what it looks at."""

    rules: Callable[[str], Procedure | None]
    """The procedure of that name or path; None: it cannot be read."""
    try_links: Callable[[str, str], Sequence[LinkTry]]
    """Open the links as typed, for that use, and close them again. Called in a thread."""
    clock: Callable[[], str]
    """What this machine's clock shows."""
    colours: Colours = Colours.FULL
    daylight: bool = False
    glyphs: Glyphs = GLYPHS["unicode"]


class OpeningApp(LinesApp[Opening]):
    """Ends with what was answered; with None if it was left."""

    def __init__(self, form: Form[Opening], options: OpeningOptions) -> None:
        """Begin at the first question."""
        super().__init__(options.colours, daylight=options.daylight)
        self._filling = Filling(form)
        self._options = options
        self._rules: tuple[str, Procedure | None] = ("", None)
        self._tried: tuple[str, str] | None = None
        self._links: Sequence[LinkTry] | None = None
        self._trying: Worker[None] | None = None
        self._leaving = False

    def on_mount(self) -> None:
        """Start the one timer: the clock goes on."""
        self._look_around()
        self.begin(TICK_S)

    def tick(self) -> None:
        """Draw: only the clock goes on by itself."""
        self._draw()

    # ------------------------------------------------------------ keys

    async def action_quit(self) -> None:
        """Ask, as Esc does."""
        await self._press("escape", None)

    async def on_key(self, event: KeyEvent) -> None:
        """Hand every key to the sheet."""
        event.stop()
        event.prevent_default()
        await self._press(event.key, event.character)

    async def _press(self, name: str, character: str | None) -> None:
        if name in LEAVERS:
            if self._leaving:
                self.exit(None)
            self._leaving = True
        elif self._leaving:
            # Whatever was pressed says no more than that it goes on.
            self._leaving = False
        else:
            place = self._filling.place
            if name in NEXT and self._trying is not None:
                # The last answer has the links opened, and then the recorder opens them.
                await self._trying.wait()
            made = self._filling.press(name, character)
            if made is not None:
                self.exit(made.what)
                return
            asked = self._filling.asked
            if self._filling.place != place or self._filling.answers[asked.name] in asked.picks:
                self._look_around()
        self._draw()

    # ------------------------------------------------------------ around

    def _look_around(self) -> None:
        """Read the procedure and try the links, where the answers are others than before."""
        answers = self._filling.answers
        if answers["procedure"] != self._rules[0]:
            self._rules = answers["procedure"], self._options.rules(answers["procedure"])
        wanted = answers["links"], answers["use"]
        if wanted != self._tried and wanted[1] and self._trying is None:
            self._tried = wanted
            self._trying = self.run_worker(self._try(*wanted))

    async def _try(self, links: str, use: str) -> None:
        try:
            self._links = await asyncio.to_thread(self._options.try_links, links, use)
        finally:
            self._trying = None
        self._look_around()
        self._draw()

    def _draw(self) -> None:
        width, height = self.size
        if width < 1 or height < 1:
            return
        look = Look(width, height, self._options.glyphs)
        around = Around(self._rules[1], self._links, self._options.clock(), self._leaving)
        self._view.show(opening_page(self._filling, look, around))
