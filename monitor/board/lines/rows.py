"""The list of wearers as lines for a given width and height. Pure."""

from collections.abc import Sequence

from monitor.board.lines import columns, folding
from monitor.board.lines.columns import RowContext
from monitor.board.lines.crew_line import crew_line, first_of
from monitor.board.lines.folding import Item, Kind
from monitor.board.words import wording
from monitor.board.words.marks import Line, Look, Role, fit
from monitor.board.words.order_words import COMING_OUT, is_coming_out
from monitor.incident.picture import Picture, Priority, WearerView


def list_lines(
    picture: Picture, look: Look, lines: int, selected: frozenset[int], *, by_time: bool
) -> list[Line]:
    """Heading and wearers, at most ``lines`` lines."""
    fitted = columns.fit_of(picture)
    context = RowContext(picture, look, selected, first_of(picture))
    drawn = [columns.heading(look, fitted)]
    for item in folding.items(picture, lines - 1, selected, by_time=by_time):
        if item.kind is Kind.WEARER:
            drawn.append(columns.wearer_line(item.wearers[0], context, fitted))
        elif item.kind is Kind.CREW:
            crew = sorted((*item.shown, *item.wearers), key=lambda w: w.wearer)
            drawn.append(crew_line(crew[0].crew, crew, context, folded=item.wearers))
        else:
            drawn.append(folded_line(item, look))
    if not picture.wearers:
        drawn.append((("  nobody is on the board yet", Role.FAINT),))
    return drawn[:lines]


def folded_line(item: Item, look: Look) -> Line:
    """One line that stands for several wearers."""
    if item.kind is Kind.TOO_MANY:
        return too_many_line(item.wearers, look)
    if item.crews:
        text = f"+ {wording.counted(item.crews, 'quiet crew')}, {len(item.wearers)} wearers"
    else:
        text = f"+ {wording.counted(len(item.wearers), 'quiet wearer')}"
    coming = sum(1 for w in item.wearers if is_coming_out(w))
    if coming:
        text += f", {coming} {COMING_OUT}"
    least = least_words(item.wearers)
    whole = f"  {text}, {least}" if least else f"  {text}"
    return ((fit(whole, look.width, look.glyphs), Role.QUIET),)


def least_words(wearers: Sequence[WearerView]) -> str:
    """Who of those under air comes to a mark first, or has the least; unknown air goes before."""
    under_air = [w for w in wearers if w.under_air]
    if not under_air:
        return ""
    unknown = [w for w in under_air if w.air.pressure_bar is None]
    if unknown:
        return f"air unknown: No {unknown[0].wearer}"
    timed = [(w.air.next.seconds, w.wearer, w.air.next) for w in under_air if w.air.next]
    if len(timed) == len(under_air):
        _, number, mark = min(timed, key=lambda one: one[:2])
        return f"least {wording.next_mark(mark, wording.SHORT_MAX)} (No {number})"
    least = min(under_air, key=lambda w: w.air.pressure_bar or 0.0)
    shown = wording.pressure(least.air.pressure_bar or 0.0, least.unit)
    return f"least {shown} {least.unit} (No {least.wearer})"


def too_many_line(wearers: Sequence[WearerView], look: Look) -> Line:
    """Say that the window is too small, and what is not shown."""
    dangers = sum(1 for w in wearers if w.priority is Priority.DANGER)
    abnormal = sum(1 for w in wearers if folding.is_abnormal(w))
    text = f"  WINDOW TOO SMALL: {len(wearers)} more, {abnormal} not ok"
    if dangers:
        text += f", {wording.counted(dangers, 'danger')}"
    role = Role.DANGER if dangers else Role.CAUTION
    return ((fit(text, look.width, look.glyphs), role),)
