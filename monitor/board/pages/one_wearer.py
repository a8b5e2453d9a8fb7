"""The screen of one wearer: who, the plan, the pressure so far and to come, every figure's rule.

Pure. It stands between the alarm lines and the keys, where the list of wearers is otherwise. What
does not fit goes to a further page; nothing is left out unsaid.
"""

import textwrap
from typing import NamedTuple

from monitor.board.lines import air_chart
from monitor.board.lines.columns import (
    RowContext,
    air_mark,
    air_role,
    is_lost,
    place_words,
    signal_words,
    turn_words,
)
from monitor.board.words import wording
from monitor.board.words.marks import (
    BLANK,
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
from monitor.incident.air.detail import AirDetail, Rule
from monitor.incident.picture import AirFrom, NextMark, Signal, WearerView

LEGEND_LINES = 2
CHART_MAX = 20
"""Lines; a higher one says no more."""
START_NS = 60_000_000_000
"""A pressure first told later than so long after connecting is not that of connecting."""
LABEL_CELLS = 12
"""The names of the figures stand below one another."""
COLUMNS_COST = 1
"""A line more than without columns is well spent on them."""
TARGETS = {"turn": "turn-back", "low": "low air", "empty": "empty"}
WAYS = {"T": "table", "R": "plan, real gas", "F": "forecast"}


class Page(NamedTuple):
    """One page of the screen, exactly as many lines as asked for."""

    lines: list[Line]
    more: bool
    """Another page follows."""


def wearer_page(
    wearer: WearerView, detail: AirDetail | None, context: RowContext, lines: int, page: int
) -> Page:
    """Lay out one page, counted from 0; the last one for a number beyond it.

    Everything on one page if the chart then has its least height; else the chart has the first
    page and the rules the next, below who it is and how.
    """
    look = context.look
    head = [*_who(wearer, context), *_state(wearer, context)]
    top = [*head, *_plan(wearer, detail, context), *facts(wearer, context)]
    told = rules(detail.rules if detail else (), look)
    room = lines - len(top) - len(told)
    if detail is None or room >= air_chart.LINES_MIN + 1:
        return Page(_filled([*top, *_drawing(detail, context, room), *told], lines), more=False)
    pages = [[*top, *_drawing(detail, context, lines - len(top) - 1)]]
    room = max(1, lines - len(head) - 1)
    while told:
        # The last page needs no foot.
        taken = room if len(told) > room + 1 else room + 1
        pages.append([*head, *told[:taken]])
        told = told[taken:]
    place = min(page, len(pages) - 1)
    left = sum(len(later) - len(head) for later in pages[place + 1 :])
    shown = pages[place]
    if left:
        words = f"  d: {wording.counted(left, 'more line')} of figures and their rules"
        foot: Line = ((fit(words, look.width, look.glyphs).rstrip(), Role.FAINT),)
        shown = [*_filled(shown, lines - 1), foot]
    return Page(_filled(shown, lines), more=left > 0)


def _filled(drawn: list[Line], lines: int) -> list[Line]:
    return [*drawn, *[BLANK] * (lines - len(drawn))][: max(lines, 0)]


def _drawing(detail: AirDetail | None, context: RowContext, room: int) -> list[Line]:
    """The chart, what its letters mean and what its lines do, in at most so many lines."""
    if detail is None or not detail.points or room < air_chart.LINES_MIN:
        return []
    look = context.look
    offset = context.picture.wall_ns - context.picture.t
    spare = room - air_chart.LINES_MIN
    events = air_chart.legend(detail, look, min(LEGEND_LINES, spare), offset)
    key = [air_chart.key_line(detail, look)] if spare > len(events) else []
    height = min(CHART_MAX, room - len(events) - len(key))
    return [*air_chart.air_chart(detail, look, height, offset), *events, *key]


# ---------------------------------------------------------------- the lines on top


def _who(wearer: WearerView, context: RowContext) -> list[Line]:
    called = f"{wearer.wearer} {clean(wearer.call_sign or wearer.name)}"
    mates = [w for w in context.picture.wearers if w.crew == wearer.crew and w is not wearer]
    words = [
        clean(wearer.name) if wearer.call_sign else "",
        f"crew {clean(wearer.crew)}" if wearer.crew else "no crew",
        "leader" if wearer.leader else "",
        _mates(mates if wearer.crew else [], context),
        f"pack {wearer.pack}" if wearer.pack else "no pack",
        f"set {clean(wearer.set_id)}" if wearer.set_id else "",
        f"cylinder {clean(wearer.cylinder_id)}" if wearer.cylinder_id else "",
        f"SET AT FAULT: {clean(wearer.defect)}" if wearer.defect else "",
        "" if wearer.apparatus == "open circuit" else wearer.apparatus,
        f"task: {clean(wearer.task)}" if wearer.task else "",
        f"brief: {clean(wearer.brief)}" if wearer.brief else "",
        f"by {clean(wearer.communications)}" if wearer.communications else "",
        f"watched by {clean(wearer.moved_to)}" if wearer.moved_to else "",
        f"came out at {clean(wearer.door)}" if wearer.door else "",
    ]
    return _wrapped([(called, Role.SELECTED), *((w, Role.TEXT) for w in words if w)], context.look)


def _mates(mates: list[WearerView], context: RowContext) -> str:
    """``with 3 188 bar, 5 ?``: the others of the crew under air."""
    said = []
    for mate in mates:
        bar = mate.air.pressure_bar
        mark = air_mark(mate.air, context.look).strip()
        air = "?" if bar is None else f"{mark}{wording.pressure(bar, mate.unit)} {mate.unit}"
        if mate.under_air:
            said.append(f"No {mate.wearer} {air}")
    return f"with {', '.join(said)}" if said else ""


def _state(wearer: WearerView, context: RowContext) -> list[Line]:
    lost = is_lost(wearer)
    mark = sign(wearer.priority, context.look.glyphs, lost=lost)
    words = [(f"for {wording.age(wearer.state_for_ns)}", Role.TEXT), *_air(wearer, context)]
    return _wrapped(
        [(f"{mark} {wearer.state}".strip(), block(wearer.priority, lost=lost)), *words],
        context.look,
    )


def _air(wearer: WearerView, context: RowContext) -> list[Segment]:
    air = wearer.air
    if air.pressure_bar is None:
        return [("air unknown", Role.STRONG)]
    mark = air_mark(air, context.look).strip()
    read = f"{mark}{wording.pressure(air.pressure_bar, wearer.unit)} {wearer.unit}"
    words = [(read, Role.STRONG if air_role(wearer) is not Role.ESTIMATE else Role.ESTIMATE)]
    if air.source is AirFrom.ASSUMED:
        words.append(("nobody has told it", Role.STRONG))
    if air.reading_age_ns is not None:
        words.append((f"read {wording.short_age(air.reading_age_ns)} ago", Role.TEXT))
    if air.contents_l is not None:
        words.append((f"{wording.litres(air.contents_l)} L", Role.TEXT))
    if air.rate_l_min is not None:
        about = "about " if air.rate_about else ""
        words.append((f"{about}{wording.rate(air.rate_l_min)} L/min", Role.TEXT))
    if air.rate_mean_l_min is not None:
        words.append((f"mean {wording.rate(air.rate_mean_l_min)}", Role.TEXT))
    return words


def next_sentence(mark: NextMark, sign_of: str = "") -> str:
    """``turn-back in 6 min (forecast)``, ``turn-back 2 min ago (table)``."""
    left = wording.until(mark.seconds)
    over = left.startswith("+")
    span = left.removeprefix("+")
    span = f"{span.removesuffix('h')} h" if span.endswith("h") else f"{span} min"
    when = f"{sign_of}{span} ago" if over else f"in {sign_of}{span}"
    return f"{TARGETS[mark.target]} {when} ({WAYS[mark.by]})"


def _at_start(detail: AirDetail) -> bool:
    """Whether the first pressure that is drawn is about that of connecting."""
    return detail.points[0][0] - detail.start_ns < START_NS


def _plan(wearer: WearerView, detail: AirDetail | None, context: RowContext) -> list[Line]:
    """When they connected, what the air comes to next, where to turn, and how far they are."""
    look, picture = context.look, context.picture
    words = []
    if wearer.wear_ns is not None:
        wall_ns = picture.wall_ns - wearer.wear_ns
        start = f"on air {wording.day_time(wall_ns, look.zone)}"
        if detail is not None and detail.points and _at_start(detail):
            bar = wording.pressure(detail.points[0][1], wearer.unit)
            start += f" at {bar} {wearer.unit}"
        words.append((f"{start}, {wording.age(wearer.wear_ns)}", Role.TEXT))
    mark = wearer.air.next
    if wearer.augmented:
        words.append(("on another supply: no forecast", Role.STRONG))
    elif mark is not None:
        estimate = look.glyphs.estimate if mark.estimate else ""
        role = Role.ESTIMATE if mark.estimate else Role.STRONG
        words.append((next_sentence(mark, estimate), role))
    if wearer.air.turn_bar is not None:
        words.append((f"turn at {turn_words(wearer, look)} {wearer.unit}", Role.TEXT))
    if wearer.back_ns is not None:
        words.append((f"going back for {wording.age(wearer.back_ns)}", Role.TEXT))
    elif wearer.objective_ns is not None:
        words.append((f"at the objective for {wording.age(wearer.objective_ns)}", Role.TEXT))
    return _wrapped(words or [("not on air", Role.TEXT)], look)


def _wrapped(pieces: list[Segment], look: Look) -> list[Line]:
    """Pieces side by side, two blanks between them; what does not fit goes on below."""
    lines: list[list[Segment]] = [[pieces[0]]]
    for text, role in pieces[1:]:
        longer = [*lines[-1], ("  ", Role.QUIET), (text, role)]
        if width_of(longer) <= look.width:
            lines[-1] = longer
        else:
            lines.append([("  ", Role.QUIET), (text, role)])
    return [crop(tuple(line), look.width) for line in lines]


# ---------------------------------------------------------------- figures and rules


def facts(wearer: WearerView, context: RowContext) -> list[Line]:
    """The link with its rule, the pack, where the wearer is; in as few lines as they take."""
    look = context.look
    flowed = air_chart.flow(facts_words(wearer, context), look.width)
    return [((fit(text, look.width, look.glyphs).rstrip(), Role.TEXT),) for text in flowed]


def facts_words(wearer: WearerView, context: RowContext) -> list[str]:
    """The same as pieces of text."""
    words = [*_link(wearer, context), *_pack(wearer), _where(wearer, context)]
    return [word for word in words if word]


def link_rule(wearer: WearerView) -> str:
    """``silent 47 s, limit 45 s``: the rule beyond which it is no signal."""
    if wearer.silence_ns is None:
        return "never heard" if wearer.pack else ""
    words = f"silent {wording.short_age(wearer.silence_ns)}"
    if wearer.silence_limit_ns is not None:
        words += f", limit {wearer.silence_limit_ns // wording.SECOND_NS} s"
    return words


def _link(wearer: WearerView, context: RowContext) -> list[str]:
    if wearer.pack is None:
        return [wearer.signal]
    sent = wearer.frames_taken + wearer.frames_lost
    lost = f" ({wording.loss_percent(wearer.frames_taken, wearer.frames_lost)} %)" if sent else ""
    signal = "" if wearer.signal is Signal.NEVER else wearer.signal
    spoken = signal_words(wearer, context.look)
    frames = f"frames {wearer.frames_taken} taken, {wearer.frames_lost} lost{lost}"
    return [
        f"{signal}: {link_rule(wearer)}" if signal else link_rule(wearer),
        f"by voice {spoken[1:]} ago" if wearer.signal is Signal.BY_VOICE else "",
        f"{frames}, {wearer.frames_late} late",
        "" if wearer.signal_dbm is None else f"{wearer.signal_dbm} dBm",
    ]


def _pack(wearer: WearerView) -> list[str]:
    pre = wearer.pre_alarms
    return [
        f"motion {wearer.motion}" if wearer.motion else "",
        wording.counted(pre, "pre-alarm") if wearer.pack else "",
        "" if wearer.battery_percent is None else f"battery {wearer.battery_percent} %",
    ]


def _where(wearer: WearerView, context: RowContext) -> str:
    place = place_words(wearer.location, wearer.location_at_ns, context)
    return f"last place {place}" if place else "no place told"


def rules(given: tuple[Rule, ...], look: Look) -> list[Line]:
    """Each figure, and the rule behind it in words: in columns, or closed up if that saves much."""
    labels = max([LABEL_CELLS, *(len(clean(rule.label)) for rule in given)])
    figures = max((len(clean(rule.figure)) for rule in given), default=0)
    in_columns = [line for rule in given for line in _rule(rule, labels, figures, look)]
    in_a_row = [line for rule in given for line in _rule(rule, 0, 0, look)]
    return in_columns if len(in_columns) <= len(in_a_row) + COLUMNS_COST else in_a_row


def _rule(rule: Rule, labels: int, figures: int, look: Look) -> list[Line]:
    """One rule; what does not fit goes on below its words, or below the first line."""
    head = f"{clean(rule.label):<{labels}}  "
    figure = f"{clean(rule.figure):>{figures}}  "
    start = len(head) + len(figure)
    below = start if labels else 4
    words = textwrap.wrap(
        clean(rule.words),
        max(20, look.width),
        initial_indent=" " * start,
        subsequent_indent=" " * below,
    )
    first = words[0][start:] if words else ""
    lines: list[Line] = [((head, Role.QUIET), (figure, Role.STRONG), (first, Role.TEXT))]
    lines += [((more, Role.TEXT),) for more in words[1:]]
    return [crop(line, look.width) for line in lines]
