"""Large figures, to be read from two metres: a block a crew, its least air and its next mark. Pure.

A view of the same picture, not a mode: every key works, alarm lines stand on top as ever. Figures
are five lines high, drawn with one sign, so that no font and no colour is needed.
"""

from collections.abc import Sequence

from monitor.board.lines.columns import air_mark, is_lost
from monitor.board.lines.folding import is_abnormal
from monitor.board.words import wording
from monitor.board.words.marks import Line, Look, Role, block, clean, fit, sign
from monitor.board.words.order_words import row_state
from monitor.incident.picture import NextMark, Picture, Priority, WearerView

FIGURES: dict[str, tuple[str, ...]] = {
    "0": ("####", "#  #", "#  #", "#  #", "####"),
    "1": ("  # ", " ## ", "  # ", "  # ", " ###"),
    "2": ("####", "   #", "####", "#   ", "####"),
    "3": ("####", "   #", " ###", "   #", "####"),
    "4": ("#  #", "#  #", "####", "   #", "   #"),
    "5": ("####", "#   ", "####", "   #", "####"),
    "6": ("####", "#   ", "####", "#  #", "####"),
    "7": ("####", "   #", "  # ", " #  ", " #  "),
    "8": ("####", "#  #", "####", "#  #", "####"),
    "9": ("####", "#  #", "####", "   #", "####"),
    "?": ("####", "   #", " ## ", "    ", " #  "),
    "+": ("    ", " #  ", "### ", " #  ", "    "),
    "~": ("    ", " # #", "# # ", "    ", "    "),
    " ": ("    ", "    ", "    ", "    ", "    "),
}
BLOCK_LINES = 7
"""Who and how, the figures, what they are."""
BLOCK_CELLS = 40
"""Two blocks stand side by side on the narrowest screen."""
BAR_CELLS = 25
"""A mark and a pressure of four figures in five cells each; minutes have the other fifteen."""
MARK_WORDS = {"turn": "turn", "low": "low", "empty": "empty"}


def large_lines(picture: Picture, look: Look, room: int) -> list[Line]:
    """Blocks in as many columns as fit; where not all do, those that need an eye first."""
    groups = _groups(picture)
    if not groups:
        nobody: Line = (("  nobody is under air", Role.FAINT),)
        return [nobody][:room]
    across = max(1, look.width // BLOCK_CELLS)
    places = across * max(0, (room - 1) // BLOCK_LINES)
    if len(groups) <= across * (room // BLOCK_LINES):
        places = len(groups)
    first = sorted(groups, key=_need)[:places]
    shown = [group for group in groups if group in first]
    lines: list[Line] = []
    for at in range(0, len(shown), across):
        lines += _side_by_side([_block(group, look) for group in shown[at : at + across]])
    left = [group for group in groups if group not in first]
    if left:
        lines.append(_left_line(left, look))
    return lines[:room]


def figures(text: str, glyph: str) -> list[str]:
    """A text of digits, five lines high."""
    drawn = (FIGURES.get(letter, FIGURES["?"]) for letter in text)
    rows = zip(*drawn, strict=True)
    return [" ".join(row).replace("#", glyph) for row in rows]


def _groups(picture: Picture) -> list[list[WearerView]]:
    groups: dict[str, list[WearerView]] = {}
    for wearer in picture.wearers:
        if wearer.under_air:
            groups.setdefault(wearer.crew or f"\0{wearer.wearer}", []).append(wearer)
    return list(groups.values())


def _need(wearers: Sequence[WearerView]) -> tuple[int, int]:
    """The most urgent first, then who comes to a mark first; unknown air counts as none."""
    worst = min((int(w.priority) for w in wearers if w.priority), default=int(Priority.NOTICE) + 1)
    mark = _next(wearers)
    return worst, -1 if mark is None else mark.seconds


def _next(wearers: Sequence[WearerView]) -> NextMark | None:
    """The first mark of any of them; None: of somebody none is told."""
    marks = [w.air.next for w in wearers]
    known = [mark for mark in marks if mark is not None]
    return min(known, key=lambda m: m.seconds) if len(known) == len(marks) else None


def _least(wearers: Sequence[WearerView]) -> WearerView:
    return min(wearers, key=lambda w: -1.0 if w.air.pressure_bar is None else w.air.pressure_bar)


def _worst(wearers: Sequence[WearerView]) -> WearerView:
    return min(wearers, key=lambda w: (int(w.priority or Priority.NOTICE + 1), not is_abnormal(w)))


def _block(wearers: Sequence[WearerView], look: Look) -> list[Line]:
    """Who and the state of the worst; the least air and the time to the next mark."""
    worst, least, mark = _worst(wearers), _least(wearers), _next(wearers)
    lost = is_lost(worst)
    state = f"{sign(worst.priority, look.glyphs, lost=lost)} {row_state(worst)}"
    who = clean(wearers[0].crew or wearers[0].call_sign or wearers[0].name)
    of = f" (No {worst.wearer})" if worst.priority is not None else ""
    head: Line = (
        (fit(f"  {who}", 16, look.glyphs), Role.STRONG),
        (fit(f" {state}{of}", BLOCK_CELLS - 16, look.glyphs), block(worst.priority, lost=lost)),
    )
    known = least.air.pressure_bar
    bar = "?" if known is None else wording.pressure(known, least.unit)
    about = "~" if known is not None and air_mark(least.air, look).strip() else ""
    minutes = "?" if mark is None else wording.until(mark.seconds)[:3]
    glyph = "#" if look.glyphs.dots == "ascii" else "█"
    left, right = figures(about + bar, glyph), figures(minutes, glyph)
    words = f"min to {MARK_WORDS[mark.target]}" if mark is not None else "time unknown"
    urgent = worst.priority is not None or mark is None or mark.seconds < 0
    role = Role.STRONG if urgent else Role.TEXT
    rest = BLOCK_CELLS - BAR_CELLS
    lines: list[Line] = [head]
    for one, other in zip(left, right, strict=True):
        text = fit(f"  {one}", BAR_CELLS, look.glyphs) + fit(other, rest, look.glyphs)
        lines.append(((text, role),))
    foot = fit(f"  {least.unit}, No {least.wearer}", BAR_CELLS, look.glyphs)
    return [*lines, ((foot + fit(words, rest, look.glyphs), Role.TEXT),)]


def _side_by_side(blocks: Sequence[Sequence[Line]]) -> list[Line]:
    rows = zip(*blocks, strict=True)
    return [tuple(segment for line in lines for segment in line) for lines in rows]


def _left_line(left: Sequence[Sequence[WearerView]], look: Look) -> Line:
    abnormal = sum(is_abnormal(w) for group in left for w in group)
    text = f"  + {wording.counted(len(left), 'more crew')}, {abnormal} not ok: s shows the list"
    return ((fit(text, look.width, look.glyphs), Role.STRONG if abnormal else Role.QUIET),)
