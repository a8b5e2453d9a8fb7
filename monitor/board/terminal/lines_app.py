"""What every screen of this program is: one widget of lines, two themes, no way out unasked."""

import contextlib
import os
import select
import sys
from typing import ClassVar, TypeVar

from textual.app import App, ComposeResult
from textual.binding import Binding, BindingType
from textual.events import Resize

from monitor.board.terminal.lines_view import LinesView
from monitor.board.terminal.themes import Colours, Palette, palettes, textual_theme, theme_name

R = TypeVar("R")


def hung_up(terminal: int) -> bool:
    """Whether the other end of this terminal, a descriptor, has gone for good: poll(2), POLLHUP."""
    poll = select.poll()
    poll.register(terminal, 0)
    return bool(poll.poll(0))


def _terminal() -> int | None:
    """The descriptor that is drawn on; None: it is no terminal."""
    with contextlib.suppress(AttributeError, OSError, ValueError):
        number = sys.__stderr__.fileno()  # type: ignore[union-attr] # may be None, and is then none
        return number if os.isatty(number) else None
    return None


class LinesApp(App[R]):
    """A terminal that shows lines; what they are is for whoever inherits."""

    ENABLE_COMMAND_PALETTE = False
    CSS = "Screen { overflow: hidden; }"
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("ctrl+c,ctrl+q,ctrl+z", "quit", show=False, priority=True)
    ]

    def __init__(self, colours: Colours, *, daylight: bool) -> None:
        """Choose the palettes; nothing is drawn yet."""
        super().__init__(ansi_color=colours is not Colours.FULL)
        self._palettes = palettes(colours)
        self._palette_place = int(daylight and len(self._palettes) > 1)
        self._terminal = _terminal()
        self._view = LinesView(self._palette)

    @property
    def _palette(self) -> Palette:
        return self._palettes[self._palette_place]

    def compose(self) -> ComposeResult:
        """One widget fills the screen."""
        yield self._view

    def begin(self, every_s: float) -> None:
        """Draw, and look again so often: the one timer of a screen."""
        self.follow_palette()
        self.tick()
        self.set_interval(every_s, self._tick_or_leave)

    def _tick_or_leave(self) -> None:
        """Draw for somebody, or leave.

        A closed terminal ends its programs, but not one that was started to outlive it. That would
        draw for nobody, and tell the recorder that a board is alive.
        """
        if self._terminal is not None and hung_up(self._terminal):
            self.exit()
        else:
            self.tick()

    def tick(self) -> None:
        """Read what there is and draw it."""

    def on_resize(self, _event: Resize) -> None:
        """Lay out anew, once the new size is in force."""
        self.call_after_refresh(self.tick)

    def follow_palette(self, step: int = 0) -> None:
        """Have theme and lines as the palette is, or the one so many further on."""
        self._palette_place = (self._palette_place + step) % len(self._palettes)
        palette = self._palette
        if palette.exact and theme_name(palette) not in self.available_themes:
            self.register_theme(textual_theme(palette))
        self.theme = theme_name(palette)
        self._view.use(palette)
