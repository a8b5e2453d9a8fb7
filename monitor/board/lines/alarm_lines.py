"""The alarm lines on top of the board: one clear line a cause, most urgent first. Pure.

Each says what, who, crew, last place and when, air, mate, how long; what to do and the rule behind
it stand below, or what to do beside it when lines are short. What does not fit is said more shortly
or left out whole, in the order of what can be missed most easily. Only a long name and a long place
are cut, and marked as cut, so that who and where stay on the line together.
"""

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

from monitor.board.lines.columns import RowContext, air_mark, is_estimate, place_words
from monitor.board.words import wording
from monitor.board.words.marks import (
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
from monitor.incident.picture import AirView, AlarmView, Picture, Priority

TAKE = "NEW  Space = take it"
TAKE_CAUTIONS = "NEW  Space take, a all"
"""Where more than one caution waits."""
TAKE_FROM_SHEET = "NEW  Esc, then Space"
"""While a sheet is open, where Space writes a blank."""
NEW = "NEW"
MESSAGE = "{} Enter 31 = message"
"""Beside a call for help that has been taken: how to get to the emergency message of who calls."""
OVER = "over"
"""Before the word of an alarm whose cause is over."""
RESET = "over: r = reset"
RESET_VIEW = "over, not reset"
"""On a screen that may not act no key is offered."""
OVER_TO_DO = "Over"
"""What is to do begins so of one that is over."""
RETURNED = "returned, unacknowledged"
"""The state of one that is over, needs no reset, and that nobody has taken."""
AIR_RANK = 1
BARE_RANK = 3
"""Where the age of a pressure goes: after a name is cut, before a place is left out."""
HEAD_MAX = 20
"""Sign and word, with blanks: no word of the catalogue has more than 17 cells."""
WHO_SHORT = 24
"""Cells of a long name while a place has none too many: a number and a whole call sign."""
WHO_LEAST = 14
PLACE_LEAST = 10
"""Cells of a name and of a place that are kept before the other, or the air, goes: with the word
and how long they leave 17 of 80 for the air."""
CALLS = frozenset({"distress", "motion_alarm"})
"""Kinds of alarm that need somebody at once, before anything else can be known."""
FRESH_NS = 5_000_000_000
"""So long a new call is read before an older alarm that stands above it: two beats of a slow
screen, and the time to read five lines."""
LINES_MIN = 3
"""However small the window, one alarm in full and the count of the others."""


@dataclass(frozen=True, slots=True)
class AlarmBlock:
    """The lines, and which alarms can be read in them."""

    lines: tuple[Line, ...]
    shown: tuple[int, ...]
    """Alarm numbers on the screen."""
    top: int | None
    """The one that Space takes: the first that waits for the officer, or of who is chosen."""


NO_ALARMS = AlarmBlock((), (), None)


@dataclass(frozen=True, slots=True)
class Field:
    """A piece of an alarm line; the highest ``rank`` is the first to be left out."""

    text: str
    role: Role
    rank: int
    short: str = ""
    """Said instead where room is short; a field without gives way whole."""
    short_rank: int = 0
    bare: str = ""
    """Said instead of ``short`` where that is still too long."""
    least: int = 0
    """Cells to which it may be cut, with a mark, before it is left out; 0: it is never cut."""
    cut_rank: int = 0

    @property
    def gives_way(self) -> int:
        """When its turn comes to be shortened, cut or left out: the highest first."""
        if self.short:
            return self.short_rank
        return self.cut_rank if self.least else self.rank

    def given_way(self, over: int, look: Look) -> "Field | None":
        """What is left of it where ``over`` cells are too many; None: nothing."""
        if self.short:
            return replace(self, text=self.short, short=self.bare, bare="", short_rank=BARE_RANK)
        if self.least:
            cells = max(self.least, width_of([(self.text, self.role)]) - over)
            return replace(self, text=fit(self.text, cells, look.glyphs).rstrip(), least=0)
        return None


def waiting(alarms: Sequence[AlarmView], chosen: Collection[int] = ()) -> AlarmView | None:
    """Give the first alarm that nobody has taken; notices need no taking.

    ``chosen``: wearers who come first, if an alarm of theirs waits.
    """
    new = [a for a in alarms if is_new(a)]
    theirs = [a for a in new if not set(a.wearers).isdisjoint(chosen)]
    return next(iter(theirs or new), None)


def _cautions_wait(alarms: Sequence[AlarmView]) -> int:
    return sum(1 for a in alarms if a.priority is Priority.CAUTION and is_new(a))


def is_new(alarm: AlarmView) -> bool:
    """Tell whether it waits for the officer."""
    return not alarm.acknowledged and alarm.priority is not Priority.NOTICE


def is_over(alarm: AlarmView) -> bool:
    """Tell whether its cause is over, as what is to do says then."""
    return (alarm.latched or alarm.state == RETURNED) and alarm.to_do.startswith(OVER_TO_DO)


@dataclass(frozen=True, slots=True)
class Hints:
    """What stands at the right of what to do: the key that is wanted now."""

    take: AlarmView | None
    """The one that Space takes on this screen."""
    holds: bool
    several_cautions: bool
    keys_write: bool = False

    def of(self, alarm: AlarmView) -> str:
        """Give the words for one alarm."""
        if alarm is self.take:
            several = alarm.priority is Priority.CAUTION and self.several_cautions
            if self.keys_write:
                return TAKE_FROM_SHEET
            return TAKE_CAUTIONS if several else TAKE
        calls = alarm.kind in CALLS and alarm.acknowledged and not alarm.latched
        if calls and alarm.wearers and self.holds and not self.keys_write:
            return MESSAGE.format(alarm.wearers[0])
        over = (RESET if self.holds else RESET_VIEW) if alarm.latched else ""
        return "  ".join(filter(None, (NEW if is_new(alarm) else "", over)))


def lines_max(height: int) -> int:
    """The most lines that alarms may take from the list of wearers."""
    return max(LINES_MIN, (height - 6) * 2 // 5)


def put_aside_line(picture: Picture, look: Look) -> Line | None:
    """What the officer has put aside and until when, the first to come back first; None: nothing.

    It is in view as long as there is anything.
    """
    aside = picture.put_aside
    if not aside:
        return None
    text = "put aside:"
    for shown, alarm in enumerate(aside):
        until = wording.day_time(picture.wall_ns + alarm.left_ns, look.zone)
        word = f" {alarm.word} {clean(alarm.subject)} until {until}"
        more = f", + {len(aside) - shown} more"
        last = shown + 1 == len(aside)
        if shown and width_of([(f"{text},{word}{'' if last else more}", Role.TEXT)]) > look.width:
            text += more
            break
        text += f"{',' if shown else ''}{word}"
    return ((fit(text, look.width, look.glyphs).rstrip(), Role.TEXT),)


def alarm_block(
    picture: Picture,
    look: Look,
    *,
    holds: bool = True,
    room: int | None = None,
    chosen: Collection[int] = (),
    keys_write: bool = False,
) -> AlarmBlock:
    """Lay out as many alarms as fit, in full if they do, short if they do not.

    ``holds``: this screen may act, so keys are named. ``room``: lines, if not ``lines_max``.
    ``chosen``: wearers whose alarm comes first to the key. ``keys_write``: a sheet is open.
    """
    alarms = picture.alarms
    if not alarms:
        return NO_ALARMS
    room = room or lines_max(look.height)
    top = waiting(alarms, chosen)
    context = RowContext(picture, look)
    hints = Hints(top if holds else None, holds, _cautions_wait(alarms) > 1, keys_write)
    told, in_full = _choose(alarms, top, room)
    lines: list[Line] = []
    head = min(HEAD_MAX, max(width_of([_head(alarm, look)]) for alarm in told))
    for alarm in told:
        if alarm.number in in_full:
            lines += _in_full(alarm, context, head, hints.of(alarm))
        else:
            lines.append(_line(alarm, context, head, _short_fields(alarm, context), new=True))
    left = [a for a in alarms if a not in told]
    if left:
        lines.append(_more(left, look))
    return AlarmBlock(
        tuple(lines), tuple(a.number for a in told), None if top is None else top.number
    )


def _choose(
    alarms: Sequence[AlarmView], top: AlarmView | None, room: int
) -> tuple[list[AlarmView], set[int]]:
    """Give the alarms that get a line, and which of them get a second one.

    However many stand above them, new calls for help can be read; where there are none, the last
    line is kept for the newest danger. Where there is room for one alarm alone, it says what and
    who, and not what to do, while there is such a call.
    """
    if len(alarms) * 2 <= room:
        return list(alarms), {a.number for a in alarms}
    first = top or alarms[0]
    places = room - 1  # the first has two lines
    if len(alarms) > places:
        places -= 1  # the count of the others
    fresh = sorted((a for a in alarms if is_fresh_call(a) and a is not first), key=_age)
    if places == 1 and fresh:
        places = 2  # what to do gives way
    new = fresh[: places - 1] or _newest_danger(first, alarms, places)
    rest = [a for a in alarms if a is not first and a not in new]
    chosen = sorted([first, *new, *rest][:places], key=alarms.index)
    spare = room - len(chosen) - (len(alarms) > len(chosen))
    in_full = {first.number} if spare > 0 else set()
    spare -= len(in_full)
    for alarm in chosen:
        if spare > 0 and alarm.number not in in_full:
            in_full.add(alarm.number)
            spare -= 1
    return chosen, in_full


def is_fresh_call(alarm: AlarmView) -> bool:
    """Tell whether somebody has only just called, or been found to lie still."""
    called = alarm.kind in CALLS and alarm.priority is Priority.DANGER
    return called and is_new(alarm) and alarm.raised_for_ns <= FRESH_NS


def _age(alarm: AlarmView) -> int:
    return alarm.raised_for_ns


def _newest_danger(first: AlarmView, alarms: Sequence[AlarmView], places: int) -> list[AlarmView]:
    """The newest danger that waits and would have no line: of a person, else of the base."""
    rest = [a for a in alarms if a is not first][places - 1 :] if places > 1 else []
    dangers = [a for a in rest if a.priority is Priority.DANGER and is_new(a)]
    return sorted(dangers, key=lambda a: (a.of_base, a.raised_for_ns))[:1]


def _head(alarm: AlarmView, look: Look) -> Segment:
    lost = alarm.word.casefold().startswith("no signal")
    mark = sign(alarm.priority, look.glyphs, lost=lost)
    if is_new(alarm) and not look.blink_on:
        mark = " "
    if is_over(alarm):
        # Nothing of it is now: filled in colour only while it cannot go without a reset.
        role = block(alarm.priority, lost=lost) if alarm.latched else Role.STRONG
        return f"{mark} {OVER}: {alarm.word} ", role
    return f"{mark} {alarm.word} ", block(alarm.priority, lost=lost)


def air_field(air: AirView | None, unit: str, look: Look) -> Field:
    """Pressure with its unit, marked if it is not a reading, and then with its age."""
    if air is None or air.pressure_bar is None:
        return Field("", Role.TEXT, AIR_RANK)
    mark = air_mark(air, look).strip()
    text = f"{mark}{wording.pressure(air.pressure_bar, unit)} {unit}"
    if not is_estimate(air):
        return Field(text, Role.STRONG, AIR_RANK)
    if air.reading_age_ns is None:
        return Field(text, Role.ESTIMATE, AIR_RANK)
    age = wording.short_age(air.reading_age_ns)
    return Field(f"{text}, read {age} ago", Role.ESTIMATE, AIR_RANK, f"{text} ({age})", 7, text)


def place_field(location: str, at_ns: int | None, context: RowContext) -> Field:
    """The last place told, and when; the place alone where room is short."""
    timed = place_words(location, at_ns, context)
    alone = place_words(location, None, context)
    return Field(timed, Role.TEXT, 2, alone, 6, least=PLACE_LEAST, cut_rank=4)


def _unit_of(alarm: AlarmView, context: RowContext) -> str:
    """What the gauge of the alarm's wearer reads in."""
    return context.unit_of(alarm.wearers[0]) if alarm.wearers else context.picture.pressure_unit


def mate_words(alarm: AlarmView, context: RowContext) -> str:
    """Give the mates' air, the least first: ``mate 188`` or ``mates 97, 143, ?``.

    A mate whose gauge reads in another unit than the alarm's wearer's has it said.
    """
    if not alarm.mates:
        return ""
    known = sorted((bar, context.unit_of(mate)) for mate, _, bar in alarm.mates if bar is not None)
    here = _unit_of(alarm, context)
    words = [
        wording.pressure(bar, unit) + ("" if unit == here else f" {unit}") for bar, unit in known
    ]
    words += ["?"] * (len(alarm.mates) - len(known))
    return f"{'mate' if len(words) == 1 else 'mates'} {', '.join(words)}"


def _fields(alarm: AlarmView, context: RowContext) -> list[Field]:
    """Who, where, with what air and which mates; and the crew where there is much room."""
    return [
        _who_field(clean(alarm.subject), context.look),
        Field(clean(alarm.crew) if alarm.crew not in alarm.subject else "", Role.TEXT, 9),
        place_field(alarm.location, alarm.location_at_ns, context),
        air_field(alarm.air, _unit_of(alarm, context), context.look),
        Field(mate_words(alarm, context), Role.TEXT, 5),
    ]


def _who_field(who: str, look: Look) -> Field:
    short = fit(who, WHO_SHORT, look.glyphs).rstrip()
    return Field(who, Role.STRONG, 0, "" if short == who else short, 6, least=WHO_LEAST, cut_rank=3)


def _short_fields(alarm: AlarmView, context: RowContext) -> list[Field]:
    return [*_fields(alarm, context), Field(alarm.to_do, Role.TEXT, 8)]


def _in_full(alarm: AlarmView, context: RowContext, head_width: int, hint: str) -> list[Line]:
    """Two lines; the rule behind the alarm stands in whichever has room for it."""
    look = context.look
    # Which key it is stands at the bottom too; what to do stands nowhere else.
    first = hint.split("  ", maxsplit=1)[0]
    shorter = (hint, first, first.partition(":")[0], "")
    needed = width_of([(f"  {alarm.to_do} ", Role.TEXT)])
    hint = next((h for h in shorter if needed + len(h) <= look.width), first)
    fields = _fields(alarm, context)
    rule = clean(alarm.detail)
    room = look.width - width_of([(f"  {alarm.to_do}  {rule}   {hint}", Role.TEXT)])
    if room < 0:
        fields.append(Field(rule, Role.QUIET, 10))
        rule = ""
    return [
        _line(alarm, context, head_width, fields, new=False),
        _to_do(alarm, rule, hint, look),
    ]


def _line(
    alarm: AlarmView, context: RowContext, head_width: int, fields: list[Field], *, new: bool
) -> Line:
    """Make one alarm's line; its subject starts where every other's does.

    ``new``: the line itself says so, since none below it does.
    """
    look = context.look
    duration = wording.age(alarm.raised_for_ns)
    if new and is_new(alarm):
        duration = f"{NEW}  {duration}"
    text, role = _head(alarm, look)
    head = text.ljust(head_width), role
    room = look.width - width_of([head]) - len(duration) - 2
    kept = fields_kept([f for f in fields if f.text], room, look)
    line: list[Segment] = [head]
    for field in kept:
        line += [("  ", Role.TEXT), (field.text, field.role)]
    spare = look.width - width_of(line) - len(duration)
    if spare < 1:
        line = list(crop(tuple(line), look.width - len(duration) - 1))
        spare = look.width - width_of(line) - len(duration)
    whole: Line = (*line, (" " * spare, Role.TEXT), (duration, Role.STRONG))
    return tuple((part, role) for part, _ in whole) if alarm.insistent else whole


def fields_kept(fields: list[Field], room: int, look: Look) -> list[Field]:
    """Shorten, cut or leave out the most dispensable field until the rest fits."""
    kept = list(fields)
    while (over := sum(width_of([(f.text, f.role)]) + 2 for f in kept) - room) > 0:
        next_one = max(kept, key=lambda f: f.gives_way, default=None)
        if next_one is None or not next_one.gives_way:
            break
        place = kept.index(next_one)
        left = next_one.given_way(over, look)
        kept[place : place + 1] = [] if left is None else [left]
    return kept


def _to_do(alarm: AlarmView, rule: str, hint: str, look: Look) -> Line:
    room = look.width - len(hint) - 3
    to_do = f"{alarm.to_do}  " if rule else alarm.to_do
    space = room - width_of([(to_do, Role.TEXT)])
    if not rule:
        return (f"  {fit(to_do, room, look.glyphs)} ", Role.TEXT), (hint, Role.STRONG)
    return (
        (f"  {to_do}", Role.TEXT),
        (f"{fit(rule, space, look.glyphs)} ", Role.QUIET),
        (hint, Role.STRONG),
    )


def _more(left: Sequence[AlarmView], look: Look) -> Line:
    """Count what has no line, what waits first: nothing abnormal is ever simply missing."""
    parts = []
    for priority, one in ((1, "danger"), (2, "caution"), (3, "notice")):
        for new in (True, False):
            number = sum(1 for a in left if a.priority == priority and is_new(a) is new)
            if number:
                parts.append(wording.counted(number, one) + (" NEW" if new else ""))
    worst = min(a.priority for a in left)
    mark = sign(worst, look.glyphs, lost=False)
    if any(is_new(a) for a in left) and not look.blink_on:
        mark = " "
    text = f"{mark} + {len(left)} more: {', '.join(parts)}"
    return ((fit(text, look.width, look.glyphs), block(worst, lost=False)),)
