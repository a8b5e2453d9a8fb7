"""The time ahead: what falls due in the next half hour, a line a crew, from now to the right. Pure.

Each crew's line says when it must turn at the earliest, when its low-air warning is expected and
when its air ends; what is past stands at the left edge. So an eye sees which crew's marks come
close, and that two crews turn back into one stair at the same time. It fills lines that nothing
else needs.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from monitor.board.lines.crew_line import earliest
from monitor.board.words import wording
from monitor.board.words.marks import BLANK, Line, Look, Role, Segment, clean, fit
from monitor.incident.picture import Picture, WearerView

AHEAD_MIN = 30
"""Minutes that the axis shows."""
LABEL_CELLS = 16
TICK_MIN = 5
LETTERS = {"turn": "T", "low": "W", "empty": "E"}
SHADES = {"ascii": ".:+ ", "": "·░▒ "}
"""Before the turn, from it on, from the warning on, and once nothing is left."""
LINES_MIN = 3
"""A blank, the axis, one crew."""
S = 1_000_000_000


@dataclass(frozen=True, slots=True)
class Axis:
    """Where an instant stands."""

    cells: int

    def at(self, seconds: float) -> int:
        """The cell of an instant so many seconds ahead, rounded down; what is past stands at 0."""
        return max(0, int(seconds * self.cells / (AHEAD_MIN * 60)))


def ahead_lines(picture: Picture, look: Look, room: int) -> list[Line]:
    """Axis and crews in at most ``room`` lines, a blank one before; none where it does not fit.

    Where not all crews fit, those that come to a mark first have lines, in the order of the board.
    """
    if room < LINES_MIN:
        return []
    due = _due(picture)
    groups = _groups(picture)
    places = room - LINES_MIN + 1 - bool(due)
    if not groups or places < 1 or look.width <= 2 * LABEL_CELLS:
        return []
    soon = sorted(groups, key=lambda group: _first_s(group[1]))[:places]
    axis = Axis(look.width - LABEL_CELLS)
    few = f" {len(soon)} of {len(groups)}" if len(soon) < len(groups) else ""
    lines: list[Line] = [BLANK, _heading(picture, look, axis, few)]
    lines += [_crew(*group, look, axis) for group in groups if group in soon]
    if due:
        lines.append(_due_line(due, look, axis))
    return lines


def _groups(picture: Picture) -> list[tuple[str, list[WearerView]]]:
    """Everybody under air by crew; who is alone, alone."""
    groups: dict[str, list[WearerView]] = {}
    for wearer in picture.wearers:
        if wearer.under_air:
            name = wearer.crew or f"{wearer.wearer} {wearer.call_sign or wearer.name}"
            groups.setdefault(name, []).append(wearer)
    return list(groups.items())


def _first_s(wearers: Sequence[WearerView]) -> int:
    """Seconds to the first mark of any of them; of whom nothing is told comes first."""
    return min((w.air.next.seconds for w in wearers if w.air.next is not None), default=-1)


def _heading(picture: Picture, look: Look, axis: Axis, few: str) -> Line:
    """Times of day over the axis; ``few``: of how many crews so many have a line."""
    text = ""
    for minute in range(0, AHEAD_MIN, TICK_MIN):
        at = wording.day_time(picture.wall_ns + minute * 60 * S, look.zone)
        text = text.ljust(axis.at(minute * 60)) + at
    label = fit(f"  AHEAD{few}", LABEL_CELLS, look.glyphs)
    return ((fit(label + text, look.width, look.glyphs), Role.FAINT),)


def _crew(name: str, wearers: Sequence[WearerView], look: Look, axis: Axis) -> Line:
    marks = [(letter, earliest(wearers, target)) for target, letter in LETTERS.items()]
    known = [(axis.at(mark.seconds), letter, mark) for letter, mark in marks if mark is not None]
    shades = SHADES.get(look.glyphs.dots, SHADES[""])
    strip = [shades[0]] * axis.cells
    for at, letter, _ in known:
        strip[at:] = shades["TWE".index(letter) + 1] * max(0, axis.cells - at)
    late = any(mark.seconds < 0 for _, _, mark in known)
    for at, letter, _ in reversed(known):
        if at < axis.cells:
            strip[at] = letter
    dark = any(w.air.next is None and not w.augmented for w in wearers)
    label = fit(f"{'?' if dark else ' '} {clean(name)}", LABEL_CELLS - 1, look.glyphs) + " "
    if not known:
        return ((label + fit("no times known", axis.cells, look.glyphs), Role.STRONG),)
    return ((label, Role.STRONG if late else Role.TEXT), *_segments("".join(strip)))


def _segments(strip: str) -> list[Segment]:
    """Letters stand out from the shades."""
    found: list[Segment] = []
    for sign in strip:
        role = Role.STRONG if sign.isalpha() else Role.FAINT
        if found and found[-1][1] is role:
            found[-1] = found[-1][0] + sign, role
        else:
            found.append((sign, role))
    return found


def _due(picture: Picture) -> list[tuple[float, str, str]]:
    """What falls due by the clock: seconds ahead, letter, words."""
    found = [(one.due_in_ns / S, "r", f"relief {clean(one.crew)}") for one in picture.reliefs]
    if picture.roll_call_in_ns is not None and not picture.closed:
        found.append((picture.roll_call_in_ns / S, "R", "roll call"))
    return sorted(one for one in found if one[0] < AHEAD_MIN * 60)


def _due_line(due: Sequence[tuple[float, str, str]], look: Look, axis: Axis) -> Line:
    """Each at its time, with its words as far as the next leaves room."""
    text = ""
    for seconds, letter, words in due:
        said = f"{letter} {words}"
        at = max(axis.at(seconds), len(text) + 2 if text else 0)
        text = text.ljust(at) + said
    late = due[0][0] < 0
    label = fit("  due", LABEL_CELLS, look.glyphs)
    words = label + fit(text, axis.cells, look.glyphs)
    return ((words, Role.STRONG if late else Role.TEXT),)
