"""The alarm lines on top of the board: one clear line a cause, most urgent first. Pure.

Each says what, who, crew, last place and when, air, mate, how long; what to do stands below it,
or beside it when lines are short. What does not fit is left out whole, never cut, in the order
of what can be missed most easily.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from monitor.board import wording
from monitor.board.columns import RowContext, air_mark, is_estimate, place_words
from monitor.board.marks import (
    Line,
    Look,
    Role,
    Segment,
    block,
    clean,
    crop,
    fit,
    sign,
    width_of,
)
from monitor.incident.picture import AlarmView, Picture, Priority

TAKE = "NEW  Space = take it"
TAKE_CAUTION = "NEW  Space = take it, a = all cautions"
RESET = "over: r = reset with a reason"
HEAD_MAX = 20
"""Subjects stand below one another up to this width; a longer word pushes only its own."""
LINES_MIN = 3
"""However small the window, one alarm in full and the count of the others."""


@dataclass(frozen=True, slots=True)
class AlarmBlock:
    """The lines, and which alarms can be read in them."""

    lines: tuple[Line, ...]
    shown: tuple[int, ...]
    """Alarm numbers on the screen."""
    top: int | None
    """The one that Space takes: the first that waits for the officer."""


@dataclass(frozen=True, slots=True)
class Field:
    """A piece of an alarm line; the highest ``rank`` is the first to be left out."""

    text: str
    role: Role
    rank: int


def waiting(alarms: Sequence[AlarmView]) -> AlarmView | None:
    """Give the first alarm that nobody has taken; notices need no taking."""
    return next(
        (a for a in alarms if not a.acknowledged and a.priority is not Priority.NOTICE), None
    )


def lines_max(height: int) -> int:
    """The most lines that alarms may take from the list of wearers."""
    return max(LINES_MIN, (height - 6) * 2 // 5)


def alarm_block(picture: Picture, look: Look) -> AlarmBlock:
    """Lay out as many alarms as fit, in full if they do, short if they do not."""
    alarms = picture.alarms
    if not alarms:
        return AlarmBlock((), (), None)
    room = lines_max(look.height)
    top = waiting(alarms)
    context = RowContext(picture, look)
    chosen, in_full = _choose(alarms, top, room)
    lines: list[Line] = []
    head = min(HEAD_MAX, max(width_of([_head(alarm, look)]) for alarm in chosen))
    for alarm in chosen:
        if alarm.number in in_full:
            lines += [_line(alarm, context, head, full=True), _to_do(alarm, top, look)]
        else:
            lines.append(_line(alarm, context, head, full=False))
    left = [a for a in alarms if a not in chosen]
    if left:
        lines.append(_more(left, look))
    return AlarmBlock(
        tuple(lines), tuple(a.number for a in chosen), None if top is None else top.number
    )


def _choose(
    alarms: Sequence[AlarmView], top: AlarmView | None, room: int
) -> tuple[list[AlarmView], set[int]]:
    """Give the alarms that get a line, and which of them get a second one."""
    if len(alarms) * 2 <= room:
        return list(alarms), {a.number for a in alarms}
    first = top or alarms[0]
    places = room - 1  # the first has two lines
    if len(alarms) > places:
        places -= 1  # the count of the others
    chosen = list(alarms[:places])
    if first not in chosen:
        chosen[-1] = first
    in_full = {first.number}
    spare = room - len(chosen) - 1 - (len(alarms) > len(chosen))
    for alarm in chosen:
        if spare > 0 and alarm.number not in in_full:
            in_full.add(alarm.number)
            spare -= 1
    return chosen, in_full


def _head(alarm: AlarmView, look: Look) -> Segment:
    lost = alarm.word.casefold().startswith("no signal")
    mark = sign(alarm.priority, look.glyphs, lost=lost)
    if not alarm.acknowledged and not look.blink_on:
        mark = " "
    return f"{mark} {alarm.word} ", block(alarm.priority, lost=lost)


def air_words(alarm: AlarmView, context: RowContext) -> tuple[str, Role]:
    """Pressure with its unit, marked if it is not a reading."""
    air = alarm.air
    if air is None or air.pressure_bar is None:
        return "", Role.TEXT
    unit = context.picture.pressure_unit
    mark = air_mark(air, context.look).strip()
    text = f"{mark}{wording.pressure(air.pressure_bar, unit)} {unit}"
    if is_estimate(air) and air.reading_age_ns is not None:
        text += f", read {wording.short_age(air.reading_age_ns)} ago"
    return text, Role.ESTIMATE if is_estimate(air) else Role.STRONG


def mate_words(alarm: AlarmView, unit: str) -> str:
    """Give the mates' air, the least first: ``mate 188`` or ``mates 97, 143, ?``."""
    if not alarm.mates:
        return ""
    known = sorted(bar for _, _, bar in alarm.mates if bar is not None)
    words = [wording.pressure(bar, unit) for bar in known]
    words += ["?"] * (len(alarm.mates) - len(known))
    return f"{'mate' if len(words) == 1 else 'mates'} {', '.join(words)}"


def _line(alarm: AlarmView, context: RowContext, head_width: int, *, full: bool) -> Line:
    """Make one alarm's line; its subject starts where every other's does."""
    look = context.look
    air, air_role = air_words(alarm, context)
    fields = [
        Field(clean(alarm.subject), Role.STRONG, 0),
        Field(clean(alarm.crew) if alarm.crew not in alarm.subject else "", Role.TEXT, 5),
        Field(place_words(alarm.location, alarm.location_at_ns, context), Role.TEXT, 2),
        Field(air, air_role, 1),
        Field(mate_words(alarm, context.picture.pressure_unit), Role.TEXT, 3),
        Field("" if full else alarm.to_do, Role.TEXT, 4),
        Field(alarm.detail if full else "", Role.TEXT, 6),
    ]
    duration = wording.age(alarm.raised_for_ns)
    text, role = _head(alarm, look)
    head = text.ljust(head_width), role
    room = look.width - width_of([head]) - len(duration) - 2
    kept = _kept([f for f in fields if f.text], room)
    line: list[Segment] = [head]
    for field in kept:
        line += [("  ", Role.TEXT), (field.text, field.role)]
    spare = look.width - width_of(line) - len(duration)
    if spare < 1:
        line = list(crop(tuple(line), look.width - len(duration) - 1))
        spare = look.width - width_of(line) - len(duration)
    whole: Line = (*line, (" " * spare, Role.TEXT), (duration, Role.STRONG))
    return tuple((part, role) for part, _ in whole) if alarm.insistent else whole


def _kept(fields: list[Field], room: int) -> list[Field]:
    """Leave out the most dispensable field until the rest fits."""
    kept = list(fields)
    while len(kept) > 1 and sum(width_of([(f.text, f.role)]) + 2 for f in kept) > room:
        kept.remove(max(kept, key=lambda f: f.rank))
    return kept


def _to_do(alarm: AlarmView, top: AlarmView | None, look: Look) -> Line:
    hint = ""
    if alarm is top:
        hint = TAKE if alarm.priority is Priority.DANGER else TAKE_CAUTION
    elif alarm.latched:
        hint = RESET
    elif not alarm.acknowledged and alarm.priority is not Priority.NOTICE:
        hint = "NEW"
    room = look.width - len(hint) - 3
    return (
        (f"  {fit(alarm.to_do, room, look.glyphs)} ", Role.TEXT),
        (hint, Role.STRONG),
    )


def _more(left: Sequence[AlarmView], look: Look) -> Line:
    """Count what has no line: nothing abnormal is ever simply missing."""
    parts = []
    for priority, one in ((1, "danger"), (2, "caution"), (3, "notice")):
        number = sum(1 for a in left if a.priority == priority)
        if number:
            parts.append(wording.counted(number, one))
    new = sum(1 for a in left if not a.acknowledged and a.priority is not Priority.NOTICE)
    text = f"+ {wording.counted(len(left), 'more alarm')}: {', '.join(parts)}"
    if new:
        text += f"; {new} NEW"
    worst = min(a.priority for a in left)
    return ((fit(text, look.width, look.glyphs), block(worst, lost=False)),)
