"""One widget that shows a list of lines: Textual's line interface, strips cached.

It knows nothing of wearers: it is handed lines of segments with roles. Only lines that
differ from what is on the screen are drawn again, so a still board costs next to nothing.
"""

from collections.abc import Sequence

from rich.segment import Segment as TextSegment
from textual.geometry import Region
from textual.strip import Strip
from textual.widget import Widget

from monitor.board.terminal.themes import Palette
from monitor.board.words.marks import BLANK, Line, width_of

STRIPS_MAX = 512
"""Cached strips: a few screens' worth."""


class LinesView(Widget):
    """Shows the lines given last. Takes no keys and no time."""

    DEFAULT_CSS = """
    LinesView { width: 1fr; height: 1fr; }
    """

    def __init__(self, palette: Palette) -> None:
        """Start empty, in this palette."""
        super().__init__()
        self._palette = palette
        self._lines: Sequence[Line] = ()
        self._strips: dict[tuple[int, Line], Strip] = {}

    def show(self, lines: Sequence[Line]) -> int:
        """Show these lines; give how many of them changed."""
        old, self._lines = self._lines, lines
        if len(old) != len(lines):
            self.refresh()
            return len(lines)
        changed = [y for y, line in enumerate(lines) if line != old[y]]
        if changed:
            self.refresh(*(Region(0, y, self.size.width, 1) for y in changed))
        return len(changed)

    def use(self, palette: Palette) -> None:
        """Follow a change of theme: every strip is made anew."""
        self._palette = palette
        self._strips.clear()
        self.refresh()

    def render_line(self, y: int) -> Strip:
        """Give the strip of one line, as wide as the widget."""
        line = self._lines[y] if y < len(self._lines) else BLANK
        key = (self.size.width, line)
        strip = self._strips.get(key)
        if strip is None:
            if len(self._strips) >= STRIPS_MAX:
                self._strips.clear()
            strip = self._strips[key] = self._made(line, self.size.width)
        return strip

    def _made(self, line: Line, width: int) -> Strip:
        styles = self._palette.styles
        pieces = [TextSegment(text, styles[role]) for text, role in line if text]
        spare = width - width_of(line)
        if spare > 0:
            pieces.append(TextSegment(" " * spare, self._palette.ground))
        return Strip(pieces).crop_extend(0, width, self._palette.ground)
