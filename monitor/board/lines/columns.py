"""The columns of the board, one row of a table each, and one wearer's line made from them. Pure.

To add a column: write its cell function, add a row to ``COLUMNS`` where it belongs, say from which
screen width it is shown. ``NAME`` and ``PLACE`` share whatever room the others leave.
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

from rich.cells import cell_len

from monitor.board.words import order_words, wording
from monitor.board.words.marks import Line, Look, Role, Segment, block, clean, fit, sign
from monitor.incident.picture import (
    FALLING,
    AirFrom,
    AirView,
    Picture,
    Priority,
    Signal,
    WearerView,
)

NARROW = 80
WIDE = 110
"""From here on there is room for the columns that save a look elsewhere."""
LINK_WIDE = 120
"""From here on the list says how much of what packs send is lost on the way."""
BROAD = 140
"""From here on it has litres, names beside call signs, and the time of day of the last place."""
NUMBER_DIGITS = 2
"""Of a wearer's number, as the columns are laid out for."""
NEXT_CELLS = 9
RATE_CELLS = 4
OPEN_CIRCUIT = "open circuit"
LIVE_SIGNALS = frozenset({Signal.HEARD})


@dataclass(frozen=True, slots=True)
class RowContext:
    """What a cell needs beside its wearer."""

    picture: Picture
    look: Look
    selected: frozenset[int] = frozenset()
    first: int = 0
    """Who comes to a mark before anybody of another crew."""

    def unit_of(self, wearer: int) -> str:
        """What this wearer's gauge reads in."""
        units = (w.unit for w in self.picture.wearers if w.wearer == wearer)
        return next(units, self.picture.pressure_unit)


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


@dataclass(frozen=True, slots=True)
class Fit:
    """What the columns must fit beside the screen."""

    unit: str = "bar"
    """What every gauge reads in; empty where they differ, and each figure has its unit."""
    digits: int = NUMBER_DIGITS
    """Of the greatest number of a wearer."""


FITS = Fit()


def fit_of(picture: Picture) -> Fit:
    """What is to be fitted for this picture."""
    units = {w.unit for w in picture.wearers} or {picture.pressure_unit}
    digits = len(str(picture.wearers[-1].wearer)) if picture.wearers else 0
    return Fit(units.pop() if len(units) == 1 else "", max(digits, NUMBER_DIGITS))


def is_lost(wearer: WearerView) -> bool:
    """Tell whether the word on this line is there for want of a signal."""
    words = wearer.state.casefold()
    return words.startswith(("no signal", "signal gap"))


def is_estimate(air: AirView) -> bool:
    """Tell whether the air shown is no reading, or an old one; it is then drawn faint."""
    return air.source in FALLING or air.source is AirFrom.ENTRY


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
        AirFrom.ASSUMED: look.glyphs.estimate,
        AirFrom.VOICE: look.glyphs.voice,
        AirFrom.ENTRY: look.glyphs.entry,
    }
    return marks.get(air.source, " ")


def air_strip(air: AirView, look: Look) -> str:
    """Ten cells, rounded down; blank where nothing is known."""
    if air.fraction is None or air.source is AirFrom.ASSUMED:
        return "unknown"
    lit = wording.strip_cells(air.fraction)
    return look.glyphs.full * lit + look.glyphs.empty * (wording.STRIP_CELLS - lit)


# ---------------------------------------------------------------- cells


def _state(wearer: WearerView, context: RowContext) -> Segment:
    lost = is_lost(wearer)
    role = block(wearer.priority, lost=lost)
    if role is Role.QUIET and (wearer.crew_alarm or order_words.row_state(wearer) != wearer.state):
        role = Role.STRONG
    mark = sign(wearer.priority, context.look.glyphs, lost=lost)
    if not wearer.acknowledged and not context.look.blink_on and role is not Role.STRONG:
        mark = " "
    return f"{mark} {order_words.row_state(wearer)}", role


def _way(wearer: WearerView, context: RowContext) -> Segment:
    """One cell, whatever else stands on the line: on the way out, or sent in to help."""
    glyphs = context.look.glyphs
    if order_words.is_coming_out(wearer):
        return glyphs.coming_out, Role.STRONG
    return glyphs.committed if order_words.is_committed(wearer) else "", Role.STRONG


def _number(wearer: WearerView, context: RowContext) -> Segment:
    role = Role.SELECTED if wearer.wearer in context.selected else Role.STRONG
    return str(wearer.wearer), role


def _name(wearer: WearerView, context: RowContext) -> Segment:
    named = wearer.call_sign or wearer.name
    if context.look.width >= BROAD and wearer.call_sign:
        named = f"{wearer.call_sign} {wearer.name}"
    role = Role.SELECTED if wearer.wearer in context.selected else _facts(wearer)
    return clean(named), role


def _strip(wearer: WearerView, context: RowContext) -> Segment:
    return air_strip(wearer.air, context.look), air_role(wearer)


def _pressure(wearer: WearerView, context: RowContext) -> Segment:
    air = wearer.air
    if air.pressure_bar is None:
        return "?", Role.STRONG
    mark = air_mark(air, context.look).strip()
    return mark + wording.pressure(air.pressure_bar, wearer.unit), air_role(wearer)


def _pressure_unit(wearer: WearerView, context: RowContext) -> Segment:
    text, role = _pressure(wearer, context)
    return (text if text == "?" else text + wearer.unit), role


def _litres(wearer: WearerView, _context: RowContext) -> Segment:
    contents = wearer.air.contents_l
    return ("" if contents is None else wording.litres(contents)), air_role(wearer)


def _rate(wearer: WearerView, context: RowContext) -> Segment:
    air = wearer.air
    if air.rate_l_min is None:
        return "", Role.QUIET
    about = context.look.glyphs.estimate if air.rate_about else ""
    words = about + wording.rate(air.rate_l_min)
    if len(words) > RATE_CELLS:
        words = f">{wording.FIGURE_MAX}"
    return words, air_role(wearer)


def next_words(wearer: WearerView, look: Look, cells: int) -> str:
    """What the air comes to next, or the word for why nothing says so."""
    if not wearer.under_air:
        return ""
    if wearer.augmented:
        return "augmented"
    mark = wearer.air.next
    if mark is None:
        return "?" if wearer.apparatus == OPEN_CIRCUIT else "no times"
    return wording.next_mark(mark, cells, look.glyphs.estimate if mark.estimate else "")


def _next(wearer: WearerView, context: RowContext) -> Segment:
    mark = wearer.air.next
    role = air_role(wearer)
    if mark is not None and mark.estimate:
        role = Role.ESTIMATE
    elif mark is None or mark.seconds < 0:
        role = Role.STRONG
    return next_words(wearer, context.look, NEXT_CELLS), role


def turn_words(wearer: WearerView, look: Look) -> str:
    """Where to turn back; marked where the pressure at connecting was not read."""
    air = wearer.air
    if air.turn_bar is None:
        return ""
    mark = "" if air.start_sure else look.glyphs.estimate
    return mark + wording.turn_pressure(air.turn_bar, wearer.unit)


def _turn(wearer: WearerView, context: RowContext) -> Segment:
    return turn_words(wearer, context.look), _facts(wearer)


def signal_words(wearer: WearerView, look: Look) -> str:
    """The age of what is shown, or the word for why there is none."""
    read_ns, no_pack = wearer.air.reading_age_ns, wearer.silence_ns is None
    by_voice = wearer.signal is Signal.BY_VOICE and no_pack
    if (wearer.air.source is AirFrom.VOICE or by_voice) and read_ns is not None:
        return f"{look.glyphs.voice}{wording.short_age(read_ns)}"
    words = {
        Signal.NONE: "none",
        Signal.NEVER: "never",
        Signal.NOT_PROVEN: "unsure",
        Signal.SIGNED_OFF: "off",
    }
    if wearer.signal in words or wearer.silence_ns is None:
        return words.get(wearer.signal, "none")
    return wording.short_age(wearer.silence_ns)


def _signal(wearer: WearerView, context: RowContext) -> Segment:
    quiet = wearer.signal in {Signal.HEARD, Signal.NONE, Signal.SIGNED_OFF}
    return signal_words(wearer, context.look), Role.QUIET if quiet else Role.STRONG


def _loss(wearer: WearerView, _context: RowContext) -> Segment:
    """Of the frames that its sequence numbers promise, so many hundredths did not come."""
    sent = wearer.frames_taken + wearer.frames_lost
    words = f"{wording.loss_percent(wearer.frames_taken, wearer.frames_lost)} %" if sent else ""
    return words, Role.QUIET


def _state_for(wearer: WearerView, _context: RowContext) -> Segment:
    return wording.short_age(order_words.state_for_ns(wearer)), _facts(wearer)


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
    at_ns = wearer.location_at_ns if context.look.width >= BROAD else None
    return place_words(wearer.location, at_ns, context), _facts(wearer)


NAME = Column("NAME", 10, _name, grows=1)
FIGURE = Column("", 5, _pressure, right=True)
RATE = Column("L/min", RATE_CELLS, _rate, right=True)
COLUMNS: tuple[Column, ...] = (
    Column("  STATE", 15, _state, gap=0),
    Column("", 1, _way, gap=0),
    Column("No", NUMBER_DIGITS, _number, right=True),
    NAME,
    Column("AIR", wording.STRIP_CELLS, _strip, gap=0),
    FIGURE,
    Column("L", 5, _litres, right=True, from_width=BROAD, gap=2),
    RATE,
    Column("NEXT", NEXT_CELLS, _next, gap=0),
    Column("TURN AT", 5, _turn, right=True),
    Column("SIGNAL", 7, _signal, right=True),
    Column("LOSS", 5, _loss, right=True, from_width=LINK_WIDE),
    Column("FOR", 6, _state_for, right=True),
    Column("ON AIR", 10, _on_air, right=True, from_width=WIDE, gap=2),
    Column("PLACE", 12, _place, from_width=WIDE, grows=1),
)
"""Where two columns have no gap between them, cells of the second begin with a blank."""
FIGURE_UNIT = Column("", 10, _pressure_unit, right=True)
"""Where gauges differ; on a narrow screen it stands in the place of the rate too."""


@lru_cache(maxsize=8)
def layout(width: int, fitted: Fit = FITS) -> tuple[tuple[Column, int], ...]:
    """The columns shown on a screen of this width, with the cells each takes."""
    shown = [column for column in COLUMNS if max(width, NARROW) >= column.from_width]
    if not fitted.unit:
        shown = [FIGURE_UNIT if column is FIGURE else column for column in shown]
        if width < WIDE:
            shown.remove(RATE)
    taken = sum(column.width + column.gap for column in shown) - shown[-1].gap
    spare = max(0, width - taken)
    # Call signs need no more room; places do, until names stand beside the call signs.
    grows = {c.heading: 0 if c is NAME and WIDE <= width < BROAD else c.grows for c in shown}
    shares = sum(grows.values())
    more = fitted.digits - NUMBER_DIGITS
    extra = {"No": more, "NAME": -more}
    widths: list[tuple[Column, int]] = []
    for column in shown:
        # The last that grows takes what is left.
        share = grows[column.heading]
        grown = spare * share // shares if share else 0
        spare, shares = spare - grown, shares - share
        widths.append((column, column.width + grown + extra.get(column.heading, 0)))
    return tuple(widths)


def _placed(text: str, width: int, look: Look, *, right: bool) -> str:
    if right and cell_len(text) > width:
        # A figure that is cut is another figure; this is none.
        return look.glyphs.cut * width
    fitted = fit(text, width, look.glyphs)
    return fitted.rstrip().rjust(width) if right else fitted


def heading(look: Look, fitted: Fit = FITS) -> Line:
    """The line above the wearers; a heading may begin in the room of the column before."""
    text = ""
    for column, width in layout(look.width, fitted):
        word = f"AIR {fitted.unit}" if column.heading == "AIR" else column.heading
        end = len(text) + width
        if column.right:
            text = text[: end - len(word)].ljust(end - len(word)) + word
        text = (text if column.right else text + word).ljust(end + column.gap)
    return ((text[: look.width], Role.FAINT),)


def wearer_line(wearer: WearerView, context: RowContext, fitted: Fit = FITS) -> Line:
    """One wearer's line; exactly as wide as its columns."""
    line: list[Segment] = []
    for column, width in layout(context.look.width, fitted):
        text, role = column.cell(wearer, context)
        line.append((_placed(text, width, context.look, right=column.right), role))
        if column.gap:
            line.append((" " * column.gap, Role.QUIET))
    return tuple(line[:-1])
