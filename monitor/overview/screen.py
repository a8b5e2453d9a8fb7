"""The overview as lines: header, alarms of all doors, a line a door, their crews. Pure."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from monitor.board.keys.hands import Hands
from monitor.board.lines.alarm_lines import alarm_block, is_new
from monitor.board.lines.columns import RowContext, is_estimate
from monitor.board.lines.crew_line import crew_line
from monitor.board.lines.header import Desk, Piece, fitted
from monitor.board.pages.screen import Shown, opening_screen, screen
from monitor.board.session.watchdog import banner, laid_over
from monitor.board.words import wording
from monitor.board.words.marks import BLANK, Line, Look, Role, clean, crop, fit
from monitor.board.words.order_words import emergency_words
from monitor.incident.air.detail import AirDetail
from monitor.incident.picture import Picture, Priority
from monitor.overview.doors import Door, Hearing, Trust, least_air, next_mark
from monitor.overview.overview import Overview, as_of, as_picture, crews_of

WIDE = 100
"""From here on a door's line has its stage and longer names."""
HINTS = "number: that door's board  PgUp PgDn crews  b light  q leave"
HINTS_DOOR = "Esc all doors  number, d, s as on that board  q leave"
WAITING = "no door yet: a mirror brings them (outby mirror), or name journals"
DOORS_SHARE = 3
"""Door lines take at most a third of the screen; the rest are counted."""
ROUND = 5
"""Header, heading of the doors, message and keys, and one line between."""
S = 1_000_000_000
CREW_SHORT = {"READY": "READY", "COMMITTED": "COMMITTED", "NOT AT DOOR": "AWAY", "NONE": "NONE"}
"""The emergency crew's state, where there is no room for its name."""


@dataclass(frozen=True, slots=True)
class Seen:
    """State of the screen beside the overview."""

    typed: str = ""
    message: str = ""
    top: int = 0
    """How many crew lines are scrolled by."""


@dataclass(frozen=True, slots=True)
class Column:
    """One column of the doors' lines."""

    heading: str
    cells: int
    wide: int
    right: bool = False


COLUMNS = (
    Column("No", 2, 2, right=True), Column("DOOR", 7, 14), Column("OFFICER", 8, 14),
    Column("STAGE", 0, 7), Column("IN", 3, 3, right=True), Column("OUT", 3, 3, right=True),
    Column("LEAST", 5, 7, right=True), Column("NEXT", 12, 12), Column("NEW", 3, 3, right=True),
    Column("ORD", 3, 3, right=True), Column("EM.CREW", 9, 16), Column("AGE", 6, 6, right=True),
    Column("TRUST", 8, 8),
)  # fmt: skip


def overview_screen(overview: Overview, look: Look, seen: Seen) -> list[Line]:
    """Lay out everything: as many lines as the screen is high."""
    if not overview.doors:
        return opening_screen(look, WAITING)
    lines = [header_line(overview, look)]
    like = overview.doors[0].picture
    if overview.alarms:
        block = alarm_block(as_picture(overview, like), look, holds=False)
        lines += block.lines
    most = max(1, look.height // DOORS_SHARE)
    lines += door_lines(overview.doors, look, most)
    bottom = _bottom(seen, look)
    room = max(0, look.height - len(lines) - len(bottom))
    crews = [line for door in overview.doors for line in crew_lines(door, look)]
    top = min(seen.top, max(0, len(crews) - room))
    shown = crews[top : top + room]
    if room and top + room < len(crews):
        left = len(crews) - top - room + 1
        words = f"  + {left} more lines: PgDn"
        shown[-1] = ((fit(words, look.width, look.glyphs), Role.STRONG),)
    shown += [BLANK] * (room - len(shown))
    return [crop(line, look.width) for line in [*lines, *shown, *bottom]][: look.height]


def header_line(overview: Overview, look: Look) -> Line:
    """What it is, how many are in, and what of that is not as of now."""
    uses = {door.picture.use for door in overview.doors}
    use = " EXERCISE " if uses == {"exercise"} else " REAL " if uses == {"real"} else " MIXED "
    old, age_ns = overview.old
    name = clean(overview.operation).upper() or "ALL DOORS"
    inside = f"under air {overview.under_air}"
    apart = f"{inside}, of these {old} {as_of(age_ns)}" if old else inside
    return fitted(
        [
            Piece(f"{name} ", Role.STRONG, short=f"{fit(name, 20, look.glyphs).rstrip()} "),
            # One piece: no total without what of it is old.
            Piece(apart, Role.STRONG, short=f"{inside}, {old} OLD" if old else ""),
            Piece(" OVERVIEW ", Role.BLOCK),
            Piece(use, Role.BLOCK),
            Piece(wording.counted(len(overview.doors), "door"), rank=3),
            Piece(wording.day_time(overview.wall_ns, look.zone, seconds=True), Role.STRONG, 2),
            Piece(f"out {overview.came_out}", rank=4),
        ],
        look,
    )


def door_lines(doors: Sequence[Door], look: Look, most: int) -> list[Line]:
    """Heading and a line a door; beyond ``most`` the quietest at the end are counted."""
    lines = [_row([column.heading for column in COLUMNS], look, [Role.FAINT] * len(COLUMNS))]
    told = doors if len(doors) <= most else doors[: most - 1]
    lines += [door_line(door, look) for door in told]
    if len(told) < len(doors):
        left = doors[len(told) :]
        inside = sum(door.picture.under_air for door in left)
        words = f"  + {len(left)} more doors, {inside} under air: window too small"
        lines.append(((fit(words, look.width, look.glyphs), Role.STRONG),))
    return lines


def door_line(door: Door, look: Look) -> Line:
    """One door: who, how many, what comes next by the clock, how old, how sure."""
    picture = door.picture
    least, role = _least(door, look)
    new = sum(map(is_new, picture.alarms))
    orders = sum(order.is_open for order in picture.orders)
    heard = door.hearing
    worst = min((a.priority for a in picture.alarms if is_new(a)), default=None)
    crew = emergency_words(picture).removeprefix("emergency crew ")
    if look.width < WIDE:
        crew = next(short for word, short in CREW_SHORT.items() if crew.startswith(word))
    said = {Hearing.NOT_HEARD: "NOT HEARD", Hearing.CLOSED: "closed"}
    age = said.get(heard, "" if heard is Hearing.NOW else wording.short_age(door.age_ns))
    cells = [
        (str(door.number), Role.STRONG),
        (clean(door.name), Role.STRONG),
        (clean(picture.officer), Role.TEXT),
        (clean(picture.stage), Role.QUIET),
        (str(picture.under_air), Role.STRONG),
        (str(picture.came_out), Role.QUIET),
        (least, role),
        (_next(door, look), role),
        (str(new) if new else "", _of(worst)),
        (str(orders) if orders else "", Role.STRONG),
        (crew, Role.STRONG if picture.under_air else Role.QUIET),
        ("NOT H." if heard is Hearing.NOT_HEARD else age or "now", _age_role(heard)),
        (door.trust.value, _trust_role(door.trust)),
    ]
    return _row([text for text, _ in cells], look, [role for _, role in cells])


def _age_role(heard: Hearing) -> Role:
    return {Hearing.NOT_HEARD: Role.DANGER, Hearing.OLD: Role.CAUTION}.get(heard, Role.QUIET)


def _trust_role(trust: Trust) -> Role:
    if trust is Trust.REFUSED:
        return Role.DANGER
    return Role.QUIET if trust in {Trust.HERE, Trust.PROVED} else Role.STRONG


def _of(priority: Priority | None) -> Role:
    return {Priority.DANGER: Role.DANGER, Priority.CAUTION: Role.CAUTION}.get(
        priority or Priority.NOTICE, Role.QUIET
    )


def _least(door: Door, look: Look) -> tuple[str, Role]:
    wearer = least_air(door)
    if wearer is None:
        return "", Role.QUIET
    bar = wearer.air.pressure_bar
    if bar is None:
        return "?", Role.STRONG
    about = is_estimate(wearer.air) or door.falling is not None
    mark = look.glyphs.estimate if about else ""
    role = Role.ESTIMATE if about else Role.TEXT
    return mark + wording.pressure(bar, wearer.unit), role


def _next(door: Door, look: Look) -> str:
    """``turn 22:31``, by the door's own clock; one that is past says so: ``low +2``."""
    mark = next_mark(door)
    if mark is None:
        return "?" if door.picture.under_air else ""
    sign = look.glyphs.estimate if mark.estimate or door.falling is not None else ""
    if mark.seconds < 0:
        return f"{mark.target} {wording.until(mark.seconds)}"
    now_ns = door.picture.wall_ns + (door.age_ns if door.falling is not None else 0)
    return f"{mark.target} {sign}{wording.day_time(now_ns + mark.seconds * S, look.zone)}"


def _row(texts: Sequence[str], look: Look, roles: Sequence[Role]) -> Line:
    line: list[tuple[str, Role]] = []
    for column, text, role in zip(COLUMNS, texts, roles, strict=True):
        cells = column.wide if look.width >= WIDE else column.cells
        if not cells:
            continue
        placed = fit(text, cells, look.glyphs)
        line += [
            (placed.rstrip().rjust(cells) if column.right else placed, role),
            (" ", Role.QUIET),
        ]
    return tuple(line[:-1])


def crew_lines(door: Door, look: Look) -> Iterator[Line]:
    """A door's name, and a line for each of its crews."""
    clock = ""
    if door.clock_ns:
        ways = "behind" if door.clock_ns > 0 else "ahead"
        clock = f"  its clock is {wording.age(abs(door.clock_ns))} {ways} of this one"
    old = f"  {as_of(door.age_ns)}, air estimated" if door.falling is not None else ""
    name = f"{door.number} {clean(door.name)}{clock}{old}"
    role = Role.STRONG if door.hearing is Hearing.NOW else Role.ESTIMATE
    yield ((fit(name, look.width, look.glyphs), role),)
    context = RowContext(door.shown, look)
    for crew, wearers in crews_of(door):
        yield crew_line(crew, wearers, context, folded=wearers)


def _bottom(seen: Seen, look: Look) -> list[Line]:
    said = f"door {seen.typed}_" if seen.typed else seen.message
    return [
        ((fit(said, look.width, look.glyphs), Role.STRONG),),
        ((fit(HINTS, look.width, look.glyphs), Role.FAINT),),
    ]


# ---------------------------------------------------------------- one door


@dataclass(frozen=True, slots=True)
class Looked:
    """How a door's board is looked at."""

    by_time: bool = False
    message: str = ""
    detail: AirDetail | None = None


def door_screen(
    overview: Overview, door: Door, look: Look, hands: Hands, looked: Looked
) -> tuple[list[Line], bool]:
    """That door's board as it is, view only, with what happens at the others on top.

    Also gives whether its page goes on.
    """
    inner = replace(look, height=max(1, look.height - 1))
    desk = Desk(holds=False, by=door.picture.holder, away=True)
    shown = Shown(desk, looked.by_time, 0, caution=False, detail=looked.detail)
    drawn = screen(door.shown, inner, hands, shown)
    lines = drawn.lines
    if door.hearing is Hearing.NOT_HEARD:
        lines = laid_over(
            lines, banner(door.picture, inner, door.age_ns, door.fault or "not heard")
        )
    said = looked.message
    lines = [
        *lines[:-2],
        ((fit(said, look.width, look.glyphs), Role.STRONG),) if said else lines[-2],
        ((fit(HINTS_DOOR, look.width, look.glyphs), Role.FAINT),),
    ]
    return [crop(one, look.width) for one in [door_head(overview, door, look), *lines]], drawn.more


def door_head(overview: Overview, door: Door, look: Look) -> Line:
    """Which door it is, how old and how sure its picture is, and what waits at the others."""
    others = [other for other in overview.doors if other is not door]
    dangers = [d for d in others if _dangers(d.picture)]
    unheard = [d for d in others if d.hearing is Hearing.NOT_HEARD]
    names = ", ".join(clean(d.name) for d in dangers)
    lost = ", ".join(clean(d.name) for d in unheard)
    quiet = "other doors quiet" if others and not dangers and not unheard else ""
    return fitted(
        [
            Piece(f" DOOR {door.number} {clean(door.name)} ", Role.BLOCK),
            Piece(as_of(door.age_ns), Role.TEXT, rank=1),
            Piece(door.trust.value, _trust_role(door.trust)),
            Piece(f" DANGER AT {names} " if names else "", Role.DANGER, short=" DANGER ELSEWHERE "),
            Piece(f" NOT HEARD: {lost} " if lost else "", Role.CAUTION, short=" NOT HEARD "),
            Piece(quiet, rank=2),
        ],
        look,
    )


def _dangers(picture: Picture) -> bool:
    return any(a.priority is Priority.DANGER and is_new(a) for a in picture.alarms)
