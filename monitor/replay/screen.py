"""The board's screen with a replay's lines around it, never to be taken for a live one. Pure."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

from monitor.board.keys.hands import Hands
from monitor.board.lines.header import Desk
from monitor.board.pages.screen import HELP_HALF, HELP_KEY, Shown, screen
from monitor.board.words.choosing import names
from monitor.board.words.marks import BLANK, Line, Look, Role, Segment, crop, fit
from monitor.incident.air.detail import AirDetail
from monitor.incident.picture import Picture
from monitor.replay import marks, pacing, times
from monitor.replay.keys import KEYS
from monitor.replay.marks import Mark, MarkKind
from monitor.replay.pacing import Pacing

REPLAY = " REPLAY "
HINTS = ". run  < > step  + / speed  PgUp PgDn alarms  : time  h keys  q leave"
OWN_LINES = 4
"""On top what is replayed; below the time line, what was said or chosen, and the keys."""
BOARD_BOTTOM = 2
"""Lines of the board's own below the wearers, which these replace."""
SIGNS = {
    MarkKind.ALARM: "a", MarkKind.ORDER: "o", MarkKind.NOTE: "n", MarkKind.BOOKMARK: "b",
    MarkKind.CLOCK: "c",
}  # fmt: skip
DANGER, HERE, PASSED, AHEAD = "A", "|", "=", "-"


@dataclass(frozen=True, slots=True)
class Replayed:
    """What a replay shows beside the picture."""

    pacing: Pacing
    marks: Sequence[Mark]
    end_ns: int
    kind: MarkKind = MarkKind.ALARM
    """What PgUp and PgDn go to."""
    seeking: bool = False
    message: str = ""
    by_time: bool = False
    help_open: bool = False
    detail: AirDetail | None = None
    left_out: str = ""
    """What of a damaged journal is not shown, and why."""


class Laid(NamedTuple):
    """A screen, and whether the page of one wearer goes on."""

    lines: list[Line]
    more: bool


def replay_screen(picture: Picture, look: Look, hands: Hands, shown: Replayed) -> Laid:
    """Lay out everything: as many lines as the screen is high."""
    # Nothing blinks: a sign on a screen that stands still is to be seen.
    inner = replace(look, height=max(1, look.height - OWN_LINES + BOARD_BOTTOM), blink_on=True)
    desk = Desk(holds=False, by=picture.holder)
    asked = Shown(desk, shown.by_time, False, False, detail=shown.detail)
    drawn = screen(picture, inner, hands, asked)
    middle = help_lines(look)[: len(drawn.lines)] if shown.help_open else drawn.lines
    middle = middle + [BLANK] * (len(drawn.lines) - len(middle))
    lines = [
        top_line(picture, look, shown),
        *middle[: max(0, len(middle) - BOARD_BOTTOM)],
        time_line(picture, look, shown),
        _said(_message(picture, hands, shown), look, Role.STRONG),
        _said(HINTS, look, Role.FAINT),
    ]
    return Laid([crop(line, look.width) for line in lines[: look.height]], drawn.more)


def top_line(picture: Picture, look: Look, shown: Replayed) -> Line:
    """REPLAY, how it runs, and where it stands."""
    where = f"{times.span(picture.t)} of {times.span(shown.end_ns)}"
    if shown.seeking:
        state = "GOING THERE"
    elif picture.t >= shown.end_ns:
        state = "DAMAGED FROM HERE" if shown.left_out else "AT THE END"
    elif shown.pacing.running:
        state = f"runs {pacing.words(shown.pacing.speed)}"
    else:
        state = f"STANDS STILL, then {pacing.words(shown.pacing.speed)}"
    text = f"  {state}, {where}, not live"
    return (
        (REPLAY, Role.BLOCK),
        (fit(text, max(1, look.width - len(REPLAY)), look.glyphs), Role.STRONG),
    )


def time_line(picture: Picture, look: Look, shown: Replayed) -> Line:
    """The whole recording from left to right: where it stands, alarms, orders, notes."""
    here = marks.cell_of(picture.t, shown.end_ns, look.width)
    line: list[Segment] = []
    for place, mark in enumerate(marks.cells(shown.marks, shown.end_ns, look.width)):
        if place == here:
            line.append((HERE, Role.SELECTED))
        elif mark is None:
            line.append((PASSED if place < here else AHEAD, Role.FAINT))
        elif mark.danger:
            line.append((DANGER, Role.DANGER))
        else:
            line.append((SIGNS[mark.kind], Role.STRONG))
    return tuple(line)


def help_lines(look: Look) -> list[Line]:
    """The key table in two columns, and what the time line's signs mean."""
    entries = [f"{key.shown:<{HELP_KEY}}{key.words}" for key in KEYS]
    half = (len(entries) + 1) // 2
    rows = [f"{left:<{HELP_HALF}}" for left in entries[:half]]
    for place, right in enumerate(entries[half:]):
        rows[place] += right
    signs = (
        f"time line: {HERE} here  {DANGER} danger  a other alarm  o order  n note  b mark  c clock"
    )
    return [_said(text, look, Role.QUIET) for text in [*rows, signs]]


def _message(picture: Picture, hands: Hands, shown: Replayed) -> str:
    if shown.message:
        return shown.message
    if hands.chosen:
        return f"CHOSEN {names(picture, hands.chosen)}    d all of it"
    if hands.typed:
        return f"wearer {hands.typed}_"
    if shown.left_out and picture.t >= shown.end_ns:
        return f"not shown: {shown.left_out}"
    if said := marks.words_at(shown.marks, picture.t):
        return f"{said}."
    return f"PgUp PgDn: {shown.kind}s    # another kind"


def _said(text: str, look: Look, role: Role) -> Line:
    return ((fit(text, look.width, look.glyphs), role),)
