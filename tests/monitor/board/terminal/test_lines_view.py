"""The widget: full width, cached strips, follows a change of palette."""

from typing import Any

from textual.app import App, ComposeResult

from monitor.board.terminal.lines_view import STRIPS_MAX, LinesView
from monitor.board.terminal.themes import DARK, DAYLIGHT
from monitor.board.words.marks import Line, Role


class Bare(App[None]):
    """An app with nothing but the widget."""

    def compose(self) -> ComposeResult:
        yield LinesView(DARK)


def line(text: str, role: Role = Role.TEXT) -> Line:
    return ((text, role),)


async def test_lines_fill_the_width_and_missing_ones_are_blank() -> None:
    app = Bare()
    async with app.run_test(size=(20, 4)):
        view = app.query_one(LinesView)
        assert view.show([line("one"), line("x" * 40)]) == 2
        assert [view.render_line(y).cell_length for y in range(4)] == [20, 20, 20, 20]
        assert view.render_line(0).text == "one" + " " * 17
        assert view.render_line(1).text == "x" * 20


async def test_only_changed_lines_count() -> None:
    app = Bare()
    async with app.run_test(size=(20, 4)):
        view = app.query_one(LinesView)
        view.show([line("one"), line("two")])
        assert view.show([line("one"), line("two")]) == 0
        assert view.show([line("one"), line("TWO")]) == 1


async def test_strips_are_kept_until_the_palette_changes() -> None:
    app = Bare()
    async with app.run_test(size=(20, 4)):
        view = app.query_one(LinesView)
        view.show([line("one", Role.DANGER)])
        first = view.render_line(0)
        assert view.render_line(0) is first
        view.use(DAYLIGHT)
        second: Any = view.render_line(0)
        assert second._segments[0].style == DAYLIGHT.styles[Role.DANGER]


async def test_the_cache_is_bounded() -> None:
    app = Bare()
    async with app.run_test(size=(20, 4)):
        view = app.query_one(LinesView)
        for n in range(STRIPS_MAX * 2):
            view.show([line(str(n))])
            view.render_line(0)
        assert len(view._strips) <= STRIPS_MAX
