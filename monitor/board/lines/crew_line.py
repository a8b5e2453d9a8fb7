"""The line of a crew: since when it is in, when it must turn and be warned, what it does. Pure.

Times of day, to be compared with the clock on the wall; each is the earliest of its wearers,
rounded down. It is the line that folds out last: of a quiet crew on a small screen it is all that
stands, and then says how its wearers are.
"""

from collections.abc import Sequence

from monitor.board.lines.columns import RowContext
from monitor.board.lines.header import Piece, fitted
from monitor.board.words import wording
from monitor.board.words.marks import Line, Look, Role, clean, fit, width_of
from monitor.board.words.order_words import row_state
from monitor.incident.picture import EmergencyView, NextMark, Phase, Picture, WearerView

S = 1_000_000_000
NAME_MAX = 14
"""Cells of a crew's name where all of it does not fit."""
DOING_MIN = 8
"""Cells: in fewer a task says nothing."""
MARK_WORDS = {"turn": "turn", "low": "warning", "empty": "empty"}
LEAST_TIME = "LEAST TIME"
EMERGENCY = "EMERGENCY CREW"
READY_PHASES = frozenset({Phase.CHECKED_IN, Phase.ON_AIR})


def crew_line(
    name: str, wearers: Sequence[WearerView], context: RowContext, *, folded: Sequence[WearerView]
) -> Line:
    """One crew in one line; ``folded``: those of its wearers who have no line of their own."""
    picture, look = context.picture, context.look
    stands_by = next((e for e in picture.emergency if e.crew == name), None)
    inside = [w for w in wearers if w.under_air]
    pieces = [
        Piece(f"  {clean(name)}", Role.TEXT, short=f"  {fit(clean(name), NAME_MAX, look.glyphs)}"),
        *_standing_by(stands_by, wearers, context),
        *_leader(wearers),
        *_times(inside, context),
        *_folded(folded),
    ]
    line = fitted(pieces, look)
    if look.width - width_of(line) > DOING_MIN + 1 and (doing := doing_words(wearers)):
        room = look.width - width_of(line) - 2
        line = (*line, ("  " + fit(doing, room, look.glyphs).rstrip(), Role.QUIET))
    spare = look.width - width_of(line)
    return (*line, (" " * spare, Role.QUIET)) if spare > 0 else line


def doing_words(wearers: Sequence[WearerView]) -> str:
    """``search: drying loft``: what they do and where, as last told of any of them."""
    task = next((w.task for w in wearers if w.task), "")
    told = [w for w in wearers if w.location]
    place = max(told, key=lambda w: w.location_at_ns or 0).location if told else ""
    return ": ".join(clean(part) for part in (task, place) if part)


def earliest(wearers: Sequence[WearerView], target: str) -> NextMark | None:
    """The first of these marks among them; None: nobody tells one."""
    marks = [
        mark
        for w in wearers
        for mark in ((w.air.next,) if w.air.next else ()) + w.air.ahead
        if mark.target == target
    ]
    return min(marks, key=lambda mark: mark.seconds, default=None)


def first_of(picture: Picture) -> int:
    """Who comes to a mark before anybody of another crew; 0: nobody, or nobody else is in."""
    inside = [w for w in picture.wearers if w.under_air]
    timed = [(w.air.next.seconds, w.wearer, w.crew) for w in inside if w.air.next is not None]
    if not timed:
        return 0
    seconds, number, crew = min(timed)

    def other(wearer: int, theirs: str) -> bool:
        return wearer != number and (not crew or theirs != crew)

    if not any(other(w.wearer, w.crew) for w in inside):
        return 0
    return 0 if any(s == seconds and other(n, c) for s, n, c in timed) else number


def _clock(picture: Picture, ahead_ns: int, look: Look) -> str:
    return wording.day_time(picture.wall_ns + ahead_ns, look.zone)


def _leader(wearers: Sequence[WearerView]) -> list[Piece]:
    leads = next((w for w in wearers if w.leader), None)
    return [Piece(f"leader {leads.wearer}", rank=5)] if leads else []


def _times(inside: Sequence[WearerView], context: RowContext) -> list[Piece]:
    """Since when they are in, then what their air comes to, by the clock."""
    picture, look = context.picture, context.look
    if not inside:
        return []
    went_in = [w.entered_ns for w in inside if w.entered_ns is not None]
    on_air = [w.wear_ns for w in inside if w.wear_ns is not None]
    since, word = (max(went_in), "in") if went_in else (max(on_air, default=None), "on air")
    said = [] if since is None else [Piece(f"{word} {_clock(picture, -since, look)}", rank=4)]
    back = [w.back_ns for w in inside if w.back_ns is not None]
    if len(back) == len(inside):
        said.append(Piece(f"back since {_clock(picture, -max(back), look)}", rank=3))
    targets = ("turn", "low") if earliest(inside, "low") else ("turn", "empty")
    for rank, target in zip((1, 2), targets, strict=True):
        mark = earliest(inside, target)
        if mark is not None:
            said.append(_mark_piece(mark, context, rank))
    dark = [str(w.wearer) for w in inside if w.air.next is None and not w.augmented]
    if dark:
        said.append(Piece(f"time of {', '.join(dark)} unknown", Role.STRONG, 1))
    if any(w.wearer == context.first for w in inside):
        said.append(Piece(LEAST_TIME, Role.STRONG, 3))
    return said


def _mark_piece(mark: NextMark, context: RowContext, rank: int) -> Piece:
    """``turn 14:38``; one that is past counts up beside its time: ``turn 14:30 +2``."""
    sign = context.look.glyphs.estimate if mark.estimate else ""
    at = _clock(context.picture, mark.seconds * S, context.look)
    late = f" {wording.until(mark.seconds)}" if mark.seconds < 0 else ""
    role = Role.STRONG if late else Role.ESTIMATE if mark.estimate else Role.TEXT
    return Piece(f"{MARK_WORDS[mark.target]} {sign}{at}{late}", role, rank)


def _folded(wearers: Sequence[WearerView]) -> list[Piece]:
    """How those are who have no line of their own, and who of them has least."""
    if not wearers:
        return []
    return [Piece(states_of(wearers), Role.QUIET), Piece(least_of(wearers), Role.QUIET, 3)]


def states_of(wearers: Sequence[WearerView]) -> str:
    """Each state among them, counted: ``2 ok``, ``1 ok, 1 out``."""
    states: dict[str, int] = {}
    for wearer in wearers:
        states[row_state(wearer)] = states.get(row_state(wearer), 0) + 1
    return ", ".join(f"{number} {state}" for state, number in states.items())


def least_of(wearers: Sequence[WearerView]) -> str:
    """``least 188 bar``: of those under air; unknown air goes before any figure."""
    under_air = [w for w in wearers if w.under_air]
    unknown = [w for w in under_air if w.air.pressure_bar is None]
    if unknown:
        return f"air unknown: No {unknown[0].wearer}"
    if not under_air:
        return ""
    least = min(under_air, key=lambda w: w.air.pressure_bar or 0.0)
    return f"least {wording.pressure(least.air.pressure_bar or 0.0, least.unit)} {least.unit}"


def _standing_by(
    stands_by: EmergencyView | None, wearers: Sequence[WearerView], context: RowContext
) -> list[Piece]:
    """That this is the emergency crew, whether it is ready, since when, with how much air."""
    if stands_by is None:
        return []
    at = _clock(context.picture, -stands_by.for_ns, context.look)
    here = [w for w in wearers if w.phase in READY_PHASES]
    if stands_by.state == "committed":
        return [Piece(f"{EMERGENCY} COMMITTED {at}", Role.STRONG)]
    if not here:
        return [Piece(f"{EMERGENCY} NOT AT DOOR", Role.STRONG)]
    count = "" if len(here) == len(wearers) else f" {len(here)} of {len(wearers)}"
    known = [w for w in here if w.air.pressure_bar is not None]
    least = min(known, key=lambda w: w.air.pressure_bar or 0.0, default=None)
    bar = None if least is None else f"{wording.pressure(least.air.pressure_bar or 0, least.unit)}"
    air = "air ?" if least is None or len(known) < len(here) else f"least {bar} {least.unit}"
    return [
        Piece(f"{EMERGENCY} READY{count}", Role.STRONG),
        Piece(air, Role.TEXT, 1),
        Piece(f"at the door since {at}", Role.QUIET, 2, short=f"since {at}"),
    ]
