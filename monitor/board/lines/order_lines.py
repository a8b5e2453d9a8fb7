"""Orders in their place below the alarm lines: the one that is open, then those that stand. Pure.

What is open is read here before it is sent. Of an order that stands: its counts, the words to say
by voice, and who has not answered or is not out, with motion, air and last place.
"""

import textwrap
from collections.abc import Sequence

from monitor.board.acts.drafts import (
    EVERYBODY,
    WHOSE,
    Draft,
    called_order,
    covered,
    say_words,
    scope_of,
)
from monitor.board.acts.questions import CLOSE_REASONS, Mode
from monitor.board.keys.order_hands import OrderHands
from monitor.board.lines.alarm_lines import Field, air_field, fields_kept, place_field
from monitor.board.lines.columns import RowContext
from monitor.board.lines.folding import is_abnormal
from monitor.board.lines.header import Piece, fitted
from monitor.board.words import wording
from monitor.board.words.choosing import names
from monitor.board.words.marks import Line, Look, Role, Segment, clean, fit, width_of
from monitor.board.words.order_words import (
    asks_out,
    counts,
    crew_words,
    crews_missing_first,
    missing_words,
    progress,
    state_words,
)
from monitor.incident.orders.order import COME_OUT_REASONS
from monitor.incident.picture import OrderLineView, OrderView, Picture, Signal

OVER_SHOWN_NS = 120_000_000_000
"""An order that is over keeps its one line for two minutes; then it is in the list of orders."""
WHO_MAX = 14
"""Cells for number and name, so that what follows stands below one another."""
PROGRESS_CELLS = 24
"""Where these names differ: ``acknowledged, coming out``."""
LINES_MIN = 2
"""However small the window: the counts, and the words to say."""
SAID_LINES_MAX = 2
"""Of words to say: the scope is short enough for that."""
READY_HINT = "  number only that one  k crew  , another  Left Right whose order  Esc nothing"
MENU = (
    "  1 come out  2 roll call  3 test    f evacuate  d list of orders  Esc nothing",
    "  emergency crew: 4 ready  5 committed  6 stood down    7 close an order by hand",
)


def room_for(picture: Picture, height: int, spare: int, free: int, *, asked: bool) -> int:
    """How many lines standing orders may take on a screen so high.

    ``spare``: lines that alarms leave over of theirs. ``free``: all that the list of wearers would
    have; it keeps its heading, a line for everybody abnormal and one for the rest, unless that
    would leave less of the orders than their words and two who have not answered.
    ``asked``: a question about orders is open; while it is, their words alone must do.
    """
    kept = 2 + sum(1 for wearer in picture.wearers if is_abnormal(wearer))
    most = max(LINES_MIN, (height - 6) // 3) + spare
    return max(LINES_MIN + 2 * (not asked), min(most, free - kept))


# ---------------------------------------------------------------- an order that is open


def panel(picture: Picture, hands: OrderHands, look: Look) -> list[Line]:
    """The question about orders that is open, with its answers; empty if there is none."""
    match hands.mode:
        case Mode.ORDER:
            return _ready(picture, hands, look)
        case Mode.ORDERS:
            whom = names(picture, hands.chosen) if hands.chosen else "nobody chosen"
            return _asked(f"ORDERS: which?    {whom}", MENU, look)
        case Mode.WHY_OUT:
            draft_scope = names(picture, hands.chosen)
            picks = _picks(COME_OUT_REASONS, look)
            return _asked(f"COME OUT, whole crew of {draft_scope}: why?    0 none", picks, look)
        case Mode.WHY_CLOSE | Mode.CLOSE_SURE:
            order = hands.asked_to_close(picture)
            if order is None:
                return _asked("THIS ORDER IS OVER", ("  Esc",), look)
            if hands.mode is Mode.CLOSE_SURE:
                what = f"CLOSE {called_order(order)}: {hands.why}"
                sure = "  Enter = close it    Esc leave it"
                return _asked(what, [f"  {missing_words(order)}", sure], look)
            what = f"CLOSE {called_order(order)}: why?    Tab another"
            answers = [f"  {missing_words(order)}", *_picks(CLOSE_REASONS, look)]
            return _asked(what, answers, look)
    return []


def _ready(picture: Picture, hands: OrderHands, look: Look) -> list[Line]:
    """An order as it would be sent: whom it covers, what to say, how to change or send it."""
    draft, chosen = hands.draft, hands.chosen
    wearers = covered(draft, picture, chosen)
    scope = f"{EVERYBODY.upper()} UNDER AIR: {picture.under_air}"
    brought_out = picture.to_account_for - picture.under_air
    if draft.order == "roll call" and brought_out > 0:
        scope += f", BROUGHT OUT: {brought_out}"
    if hands.half_typed(picture):
        scope = f"number {hands.typed}_"
    elif wearers:
        scope = f"{scope_of(draft, picture, chosen)} ({', '.join(map(str, wearers))})"
    send = "j = SEND IT"
    what = fit(f"{draft.order.upper()} {scope}", look.width - len(send) - 1, look.glyphs)
    whose = f"on the order of {WHOSE[draft.whose]}" if draft.whose else ""
    more = ", ".join(filter(None, (draft.reason, whose)))
    said = say_words(draft.order, scope_of(draft, picture, chosen))
    return [
        ((f"{what} {send}", Role.SELECTED),),
        *([((fit(f"  {more}", look.width, look.glyphs), Role.TEXT),)] if more else []),
        *_with_the_committed(picture, draft, wearers, look),
        *([] if hands.half_typed(picture) else wrapped(f"Say: {said}", Role.STRONG, look)),
        ((fit(READY_HINT, look.width, look.glyphs), Role.TEXT),),
    ]


def _with_the_committed(
    picture: Picture, draft: Draft, wearers: tuple[int, ...], look: Look
) -> list[Line]:
    """Who was sent in to help and is told to come out like all; sent in later, nobody is."""
    if draft.order != "evacuate":
        return []
    inside = {w.wearer for w in picture.wearers if w.under_air}
    covered_too = inside.intersection(wearers) if wearers else inside
    crews = [
        f"{clean(one.crew)} ({', '.join(map(str, theirs))})"
        for one in picture.emergency
        if one.state == "committed" and (theirs := sorted(covered_too.intersection(one.wearers)))
    ]
    return (
        wrapped(f"With the emergency crew: {', '.join(crews)}", Role.STRONG, look) if crews else []
    )


def wrapped(text: str, role: Role, look: Look) -> list[Line]:
    """Text over as many lines as it takes, at most ``SAID_LINES_MAX``, as wide as the screen."""
    lines = textwrap.wrap(text, max(10, look.width - 2))[:SAID_LINES_MAX]
    return [((fit(f"  {line}", look.width, look.glyphs), role),) for line in lines]


def _asked(question: str, answers: Sequence[str], look: Look) -> list[Line]:
    texts = ((question, Role.SELECTED), *((answer, Role.TEXT) for answer in answers))
    return [((fit(text, look.width, look.glyphs), role),) for text, role in texts]


def _picks(answers: Sequence[str], look: Look) -> list[str]:
    """Numbered answers, as many to a line as fit."""
    lines = [" "]
    for number, answer in enumerate(answers, 1):
        pick = f" {number} {answer} "
        if len(lines[-1]) + len(pick.rstrip()) > look.width:
            lines.append(" ")
        lines[-1] += pick
    return [line.rstrip() for line in lines]


# ---------------------------------------------------------------- orders that stand


def order_block(picture: Picture, look: Look, room: int) -> list[Line]:
    """All that stands, the most urgent in full, in at most ``room`` lines; empty if nothing does.

    Orders that came to their end lately have a line each where there is room for it.
    """
    stand = [order for order in picture.orders if order.is_open]
    over = [order for order in picture.orders if _over_lately(order, picture)]
    most = room
    if room <= 0 or not (stand or over):
        return []
    if not stand:
        return [head_line(order, look) for order in over[:room]]
    first = [head_line(stand[0], look), *spoken_lines(stand[0], look)][:room]
    room -= len(first)
    others = [head_line(order, look) for order in stand[1:]][: max(1, room // 2)]
    room -= len(others)
    waits = [line for line in stand[0].lines if line.waits]
    context = RowContext(picture, look)
    shown = waits if len(waits) <= room else waits[: max(0, room - 1)]
    lines = [_waiting_line(line, context) for line in shown]
    if len(shown) < len(waits) and room > 0:
        lines.append(_more_line(waits[len(shown) :], look))
    lines += _left_out(stand[0], look)[: max(0, room - len(lines))]
    ended = [head_line(order, look) for order in over][: max(0, room - len(lines))]
    return [*first, *lines, *others, *ended][:most]


def _over_lately(order: OrderView, picture: Picture) -> bool:
    return not order.is_open and picture.t - order.given_at_ns - order.for_ns < OVER_SHOWN_NS


def head_line(order: OrderView, look: Look) -> Line:
    """What it is, how far it has come, and for how long it has stood."""
    told = state_words(order)
    evacuation = order.order == "evacuate" and order.is_open
    pieces = [
        Piece(
            f"{look.glyphs.danger if evacuation else look.glyphs.notice} {order.order.upper()} ",
            Role.DANGER if evacuation else Role.STRONG,
        ),
        Piece(clean(order.scope), Role.TEXT, 0 if not order.everybody else 3),
        Piece(told, Role.STRONG),
    ]
    if order.is_open:
        pieces += [
            Piece(words, Role.TEXT, 2 if dispensable else 0) for words, dispensable in counts(order)
        ]
        stands, short = wording.age(order.for_ns), wording.short_age(order.for_ns)
        pieces.append(Piece(stands, Role.STRONG, short=short))
    elif order.order != "evacuate" or order.override:
        pieces.append(Piece(counts(order)[-1][0], Role.TEXT, 1))
    if order.committed:
        pieces.insert(
            -1, Piece(f"committed {order.committed}", Role.STRONG, short=f"+{order.committed}")
        )
    return fitted(pieces, look)


def spoken_lines(order: OrderView, look: Look) -> list[Line]:
    """What is to be said by voice: across the whole screen for an evacuation; a roll by crews."""
    if order.order == "evacuate":
        return wrapped(clean(order.say).upper(), Role.DANGER, look)
    if asks_out(order):
        return wrapped(f"Say: {clean(order.say)}", Role.STRONG, look)
    return [((crews_line(order, look.width), Role.STRONG),)]


def _left_out(order: OrderView, look: Look) -> list[Line]:
    """By name, whom an evacuation does not ask: they were sent in as emergency crew after it."""
    names = [f"{line.wearer} {clean(line.name)}" for line in order.lines if line.committed]
    if not names or order.order != "evacuate":
        return []
    text = f"  left out, sent in since: {', '.join(names)}"
    return [((fit(text, look.width, look.glyphs), Role.STRONG),)]


def crews_line(order: OrderView, width: int) -> str:
    """``Alpha 2 one of two, Alpha 3 two of two``: those of whom somebody is missing first."""
    text = ""
    crews = crews_missing_first(order)
    for place, crew in enumerate(crews):
        word = f"{', ' if text else '  '}{crew_words(crew)}"
        more = f", + {len(crews) - place} more"
        room = width - (len(more) if place + 1 < len(crews) else 0)
        if text and len(text) + len(word) > room:
            return text + more
        text += word
    return text


def _waiting_line(line: OrderLineView, context: RowContext) -> Line:
    """Who, how far, and what is known of them; what does not fit is left out whole."""
    look = context.look
    who = f"{line.wearer:>3} {clean(line.name)}"
    told = progress(line)
    role = Role.STRONG if line.unanswered else Role.TEXT
    line_head: list[Segment] = [
        (f"{fit(who, WHO_MAX, look.glyphs)}  ", role),
        (fit(told, max(PROGRESS_CELLS, width_of([(told, role)])), look.glyphs), role),
    ]
    air = air_field(line.air, context.unit_of(line.wearer), look)
    fields = [
        Field(motion_words(line, context), Role.TEXT, 5),
        air if air.text else Field("air unknown", Role.TEXT, 1),
        place_field(line.location, line.location_at_ns, context),
    ]
    room = look.width - width_of(line_head)
    for field in fields_kept([f for f in fields if f.text], room, look):
        line_head += [("  ", Role.TEXT), (field.text, field.role)]
    return tuple(line_head)


def motion_words(line: OrderLineView, context: RowContext) -> str:
    """What the motion sensor says; where it is not heard now, how long ago it said so."""
    if not line.telemetry or not line.motion:
        return ""
    if line.motion == "unknown":
        return "motion unknown"
    words = "motion alarm" if line.motion == "alarm" else line.motion
    for wearer in context.picture.wearers:
        heard = wearer.wearer == line.wearer and wearer.silence_ns is not None
        if heard and wearer.signal is not Signal.HEARD:
            return f"{words} {wording.short_age(wearer.silence_ns or 0)} ago"
    return words


def _more_line(left: Sequence[OrderLineView], look: Look) -> Line:
    unanswered = sum(line.unanswered for line in left)
    words = [f"{unanswered} not answered" if unanswered else ""]
    words.append(f"{len(left) - unanswered} not out" if len(left) > unanswered else "")
    text = f"  + {len(left)} more: {', '.join(filter(None, words))}    d all of it"
    return ((fit(text, look.width, look.glyphs), Role.STRONG),)
