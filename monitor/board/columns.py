"""The columns of the board, one row of a table each, and one wearer's line made from them. Pure.

To add a column: write its cell function, add a row to ``COLUMNS`` where it belongs, say from which
screen width it is shown. ``NAME`` and ``PLACE`` share whatever room the others leave.
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

from monitor.board import wording
from monitor.board.marks import Line, Look, Role, Segment, block, clean, fit, sign
from monitor.incident.picture import AirFrom, AirView, Picture, Priority, Signal, WearerView

NARROW = 80
WIDE = 110
"""From here on there is room for the columns that save a look elsewhere."""
LINK_WIDE = 120
"""From here on the list says how much of what packs send is lost on the way."""
PLACE_TIMED = 130
"""From here on the place has its time of day in the list too; alarm lines always have it."""
LIVE_SIGNALS = frozenset({Signal.HEARD})


@dataclass(frozen=True, slots=True)
class RowContext:
    """What a cell needs beside its wearer."""

    picture: Picture
    look: Look
    selected: frozenset[int] = frozenset()


@dataclass(frozen=True, slots=True)
class Column:
    """One column: its heading, cells wide, and how a wearer's cell is made."""

    heading: str
    width: int
    cell: Callable[[WearerView, "RowContext"], Segment]
    right: bool = False
    """Figures stand to the right."""
    from_width: int = NARROW
    grows: int = 0
    """Share of the room left over; 0 for a fixed column."""
    gap: int = 1
    """Cells between this column and the next."""


def is_lost(wearer: WearerView) -> bool:
    """Tell whether the word on this line is there for want of a signal."""
    words = wearer.state.casefold()
    return words.startswith(("no signal", "signal gap"))


def is_estimate(air: AirView) -> bool:
    """Tell whether the air shown is no reading, or an old one; it is then drawn faint."""
    return air.source in {AirFrom.ESTIMATE, AirFrom.ENTRY}


def _facts(wearer: WearerView) -> Role:
    return Role.QUIET if wearer.priority in {None, Priority.NOTICE} else Role.TEXT


def air_role(wearer: WearerView) -> Role:
    """Faint for anything that is not a present reading."""
    old = wearer.signal not in LIVE_SIGNALS and wearer.air.source is AirFrom.TELEMETRY
    return Role.ESTIMATE if old or is_estimate(wearer.air) else _facts(wearer)


def air_mark(air: AirView, look: Look) -> str:
    """One cell before a figure: where it comes from, blank for telemetry."""
    marks = {
        AirFrom.ESTIMATE: look.glyphs.estimate,
        AirFrom.VOICE: look.glyphs.voice,
        AirFrom.ENTRY: look.glyphs.entry,
    }
    return marks.get(air.source, " ")


def air_strip(air: AirView, look: Look) -> str:
    """Ten cells, rounded down; blank where nothing is known."""
    if air.fraction is None:
        return "unknown"
    lit = wording.strip_cells(air.fraction)
    return look.glyphs.full * lit + look.glyphs.empty * (wording.STRIP_CELLS - lit)


# ---------------------------------------------------------------- cells


def _state(wearer: WearerView, context: RowContext) -> Segment:
    lost = is_lost(wearer)
    role = block(wearer.priority, lost=lost)
    if role is Role.QUIET and wearer.state.casefold() == "crew alarm":
        role = Role.STRONG
    mark = sign(wearer.priority, context.look.glyphs, lost=lost)
    if not wearer.acknowledged and not context.look.blink_on and role is not Role.STRONG:
        mark = " "
    return f"{mark} {wearer.state}", role


def _number(wearer: WearerView, context: RowContext) -> Segment:
    role = Role.SELECTED if wearer.wearer in context.selected else Role.STRONG
    return str(wearer.wearer), role


def _name(wearer: WearerView, context: RowContext) -> Segment:
    named = wearer.call_sign or wearer.name
    if context.look.width >= WIDE and wearer.call_sign:
        named = f"{wearer.call_sign} {wearer.name}"
    role = Role.SELECTED if wearer.wearer in context.selected else _facts(wearer)
    return clean(named), role


def _strip(wearer: WearerView, context: RowContext) -> Segment:
    mark = air_mark(wearer.air, context.look)
    return mark + air_strip(wearer.air, context.look), air_role(wearer)


def _pressure(wearer: WearerView, context: RowContext) -> Segment:
    air = wearer.air
    if air.pressure_bar is None:
        return "?", Role.STRONG
    mark = air_mark(air, context.look).strip()
    return mark + wording.pressure(air.pressure_bar, context.picture.pressure_unit), air_role(
        wearer
    )


def _litres(wearer: WearerView, _context: RowContext) -> Segment:
    contents = wearer.air.contents_l
    return ("" if contents is None else wording.litres(contents)), air_role(wearer)


def signal_words(wearer: WearerView, look: Look) -> str:
    """The age of what is shown, or the word for why there is none."""
    if wearer.air.source is AirFrom.VOICE and wearer.air.reading_age_ns is not None:
        return f"{look.glyphs.voice} {wording.short_age(wearer.air.reading_age_ns)}"
    words = {
        Signal.NONE: "none",
        Signal.NEVER: "never",
        Signal.NOT_PROVEN: "unproven",
        Signal.SIGNED_OFF: "off",
    }
    if wearer.signal in words or wearer.silence_ns is None:
        return words.get(wearer.signal, "never")
    return wording.short_age(wearer.silence_ns)


def _signal(wearer: WearerView, context: RowContext) -> Segment:
    quiet = wearer.signal in {Signal.HEARD, Signal.NONE, Signal.SIGNED_OFF}
    return signal_words(wearer, context.look), Role.QUIET if quiet else Role.STRONG


def _loss(wearer: WearerView, _context: RowContext) -> Segment:
    """Of the frames that its sequence numbers promise, so many hundredths did not come."""
    sent = wearer.frames_taken + wearer.frames_lost
    return (f"{-(-100 * wearer.frames_lost // sent)} %" if sent else ""), Role.QUIET


def _state_for(wearer: WearerView, _context: RowContext) -> Segment:
    return wording.age(wearer.state_for_ns), _facts(wearer)


def _on_air(wearer: WearerView, _context: RowContext) -> Segment:
    return ("" if wearer.wear_ns is None else wording.age(wearer.wear_ns)), _facts(wearer)


def place_words(location: str, at_ns: int | None, context: RowContext) -> str:
    """The last place told, and at what time of day."""
    if not location:
        return ""
    if at_ns is None:
        return clean(location)
    wall_ns = context.picture.wall_ns - (context.picture.t - at_ns)
    return f"{clean(location)} ({wording.day_time(wall_ns, context.look.zone)})"


def _place(wearer: WearerView, context: RowContext) -> Segment:
    at_ns = wearer.location_at_ns if context.look.width >= PLACE_TIMED else None
    return place_words(wearer.location, at_ns, context), _facts(wearer)


COLUMNS: tuple[Column, ...] = (
    Column("  STATE", 16, _state),
    Column("No", 3, _number, right=True),
    Column("NAME", 15, _name, grows=1),
    Column(" AIR", 11, _strip),
    Column("bar", 4, _pressure, right=True),
    Column("L", 5, _litres, right=True),
    Column("SIGNAL", 8, _signal, right=True),
    Column("LOSS", 5, _loss, right=True, from_width=LINK_WIDE),
    Column("FOR", 10, _state_for, right=True),
    Column("ON AIR", 10, _on_air, right=True, from_width=WIDE, gap=2),
    Column("PLACE", 12, _place, from_width=WIDE, grows=1),
)


@lru_cache(maxsize=8)
def layout(width: int, wide_numbers: bool = False) -> tuple[tuple[Column, int], ...]:  # noqa: FBT001, FBT002 - a cache key
    """The columns shown on a screen of this width, with the cells each takes."""
    shown = [column for column in COLUMNS if width >= column.from_width or width < NARROW]
    if width < NARROW:
        shown = [column for column in shown if column.from_width <= NARROW]
    taken = sum(column.width + column.gap for column in shown) - shown[-1].gap
    spare = max(0, width - taken)
    shares = sum(column.grows for column in shown)
    widths: list[tuple[Column, int]] = []
    for column in shown:
        extra = spare * column.grows // shares
        if wide_numbers and column.heading in {"No", "NAME"}:
            extra += 2 if column.heading == "No" else -2
        widths.append((column, column.width + extra))
    return tuple(widths)


def _placed(text: str, width: int, look: Look, *, right: bool) -> str:
    fitted = fit(text, width, look.glyphs)
    return fitted.rstrip().rjust(width) if right else fitted


def heading(look: Look, unit: str, *, wide_numbers: bool = False) -> Line:
    """The line above the wearers."""
    text = ""
    for column, width in layout(look.width, wide_numbers):
        word = unit if column.heading == "bar" else column.heading
        text += _placed(word, width, look, right=column.right) + " " * column.gap
    return ((text[: look.width], Role.FAINT),)


def wearer_line(wearer: WearerView, context: RowContext, *, wide_numbers: bool = False) -> Line:
    """One wearer's line; exactly as wide as its columns."""
    line: list[Segment] = []
    for column, width in layout(context.look.width, wide_numbers):
        text, role = column.cell(wearer, context)
        line.append((_placed(text, width, context.look, right=column.right), role))
        if column.gap:
            line.append((" " * column.gap, Role.QUIET))
    return tuple(line[:-1])
