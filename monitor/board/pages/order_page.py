"""The screen of one order: everybody it covers, and after how long each of the facts came. Pure.

It stands between the alarm lines and the keys, where the list of wearers is otherwise. Those who
have not answered stand on top. What does not fit goes to a further page.
"""

from collections.abc import Callable
from dataclasses import dataclass

from monitor.board.lines.alarm_lines import air_field
from monitor.board.lines.columns import RowContext, place_words
from monitor.board.lines.order_lines import crews_line, head_line, motion_words, wrapped
from monitor.board.pages.one_wearer import Page
from monitor.board.words import wording
from monitor.board.words.marks import BLANK, Line, Role, clean, fit
from monitor.board.words.order_words import COMMITTED, asks_out, given_words
from monitor.incident.picture import OrderLineView, OrderView

NOT_YET = "-"
TIME_CELLS = 10
"""The longest age."""


@dataclass(frozen=True, slots=True)
class _Column:
    heading: str
    width: int
    cell: Callable[[OrderLineView, RowContext], str]
    out_only: bool = False
    """Only for orders that ask people to come out."""


def order_page(
    order: OrderView, place: tuple[int, int], context: RowContext, lines: int, page: int
) -> Page:
    """Lay out one page, counted from 0; the last one for a number beyond it.

    ``place``: which order of how many this is, from 1.
    """
    look = context.look
    columns = _fitting(order, look.width)
    head = [*_head(order, place, context), _heading(columns, look.width)]
    room = max(1, lines - len(head))
    rows = order.lines
    if len(rows) > room:
        room = max(1, room - 1)
    pages = max(1, -(-len(rows) // room))
    shown_page = min(page, pages - 1)
    shown = rows[shown_page * room : (shown_page + 1) * room]
    drawn = [*head, *(_row(line, columns, context) for line in shown)]
    left = len(rows) - (shown_page + 1) * room
    if left > 0:
        foot = f"  d: {wording.counted(left, 'more wearer')}"
        drawn = [*drawn[: max(0, lines - 1)], ((foot, Role.FAINT),)]
    drawn += [BLANK] * (lines - len(drawn))
    return Page(drawn[: max(lines, 0)], more=left > 0)


def _head(order: OrderView, place: tuple[int, int], context: RowContext) -> list[Line]:
    look = context.look
    wall_ns = context.picture.wall_ns - (context.picture.t - order.given_at_ns)
    at = wording.day_time(wall_ns, look.zone, seconds=True)
    number, of = place
    whom = f"order {order.number} ({number} of {of}), {clean(order.scope)}"
    given = f"{whom}, given {at} {given_words(order)}"
    lines = [
        head_line(order, look),
        *wrapped(f"Say: {clean(order.say)}", Role.TEXT, look),
        *wrapped(given, Role.TEXT, look),
    ]
    if not asks_out(order):
        lines.append(((crews_line(order, look.width), Role.STRONG),))
    return lines


def _fitting(order: OrderView, width: int) -> list[_Column]:
    """Give the columns that fit, from the first on."""
    shown: list[_Column] = []
    for column in COLUMNS:
        if column.out_only and not asks_out(order):
            continue
        if sum(c.width + 1 for c in shown) + column.width <= width:
            shown.append(column)
    return shown


def _heading(columns: list[_Column], width: int) -> Line:
    text = " ".join(f"{column.heading:<{column.width}}" for column in columns)
    return ((text[:width].rstrip(), Role.FAINT),)


def _row(line: OrderLineView, columns: list[_Column], context: RowContext) -> Line:
    cells = [
        fit(column.cell(line, context), column.width, context.look.glyphs) for column in columns
    ]
    role = Role.STRONG if line.unanswered else Role.TEXT if line.waits else Role.QUIET
    return ((" ".join(cells).rstrip(), role),)


# ---------------------------------------------------------------- cells


def _time(ns: int | None) -> str:
    return NOT_YET if ns is None else wording.age(ns)


def _received(line: OrderLineView, _context: RowContext) -> str:
    return _time(line.received_ns) if line.telemetry else "no pack"


def _button(line: OrderLineView, _context: RowContext) -> str:
    return _time(line.acknowledged_ns) if line.telemetry else "no pack"


def _voice(line: OrderLineView, _context: RowContext) -> str:
    return _time(line.voice_ns)


def _back(line: OrderLineView, _context: RowContext) -> str:
    """Who was on the way before the order is not said to have followed it."""
    return "before" if line.back_ns == 0 else _time(line.back_ns)


def _out(line: OrderLineView, _context: RowContext) -> str:
    return _time(line.out_ns)


def _what_is_missing(line: OrderLineView, _context: RowContext) -> str:
    if line.committed:
        return COMMITTED
    if line.unanswered:
        return "NO ANSWER"
    return "not out" if line.waits else ""


def _air(line: OrderLineView, context: RowContext) -> str:
    found = air_field(line.air, context.unit_of(line.wearer), context.look)
    return found.short or found.text or "?"


def _place(line: OrderLineView, context: RowContext) -> str:
    return place_words(line.location, None, context)


COLUMNS = (
    _Column(" No", 3, lambda line, _: f"{line.wearer:>3}"),
    _Column("NAME", 10, lambda line, _: clean(line.name)),
    _Column("RECEIVED", TIME_CELLS, _received),
    _Column("BUTTON", TIME_CELLS, _button),
    _Column("VOICE", TIME_CELLS, _voice),
    _Column("STARTED", TIME_CELLS, _back, out_only=True),
    _Column("OUT", TIME_CELLS, _out, out_only=True),
    _Column("", 9, _what_is_missing),
    _Column("AIR", 18, _air),
    _Column("MOTION", 18, motion_words),
    _Column("PLACE", 20, _place),
    _Column("SENT", 6, lambda line, _: f"{line.copies} x"),
)
