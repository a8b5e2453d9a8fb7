"""The whole board as lines for one screen: header, alarms, wearers, keys. Pure."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

from monitor.board.acts import undo
from monitor.board.acts.questions import (
    ASIDE_REASONS,
    NOTES,
    ORDER_MODES,
    RESET_REASONS,
    Mode,
    called,
    minutes_for,
)
from monitor.board.keys.hands import READING_DIGITS, Hands
from monitor.board.keys.table import help_texts
from monitor.board.lines import order_lines
from monitor.board.lines.ahead import ahead_lines
from monitor.board.lines.alarm_lines import (
    LINES_MIN,
    AlarmBlock,
    alarm_block,
    lines_max,
    put_aside_line,
)
from monitor.board.lines.columns import RowContext
from monitor.board.lines.header import Desk, header_lines, unjoined_line
from monitor.board.lines.rows import list_lines
from monitor.board.pages.form_page import form_page, form_prompt
from monitor.board.pages.large import large_lines
from monitor.board.pages.more_page import find_page, more_page
from monitor.board.pages.one_wearer import Page, wearer_page
from monitor.board.pages.order_page import order_page
from monitor.board.pages.view_pages import view_page
from monitor.board.words.choosing import names
from monitor.board.words.marks import BLANK, Line, Look, Role, clean, crop, fit
from monitor.incident.air.detail import AirDetail
from monitor.incident.picture import Picture

CHOSEN_MORE = (
    "  d all  k crew  , and  g gauge  m supply  f evacuate  - voice",
    "   k crew  , and  f evacuate  - by voice",
    "",
)
CHOSEN_STEPS = "c on air  e gone in  i at objective  n sent on  u started back  o out  x off air"
FIND_KEYS = "letters  Up Down  Enter opens the marked  Space takes the alarm  Esc the table"
CAUTION_LINES = (
    "An aid, not a certified safety device. The wearer's gauge and warning device,",
    "the maker's instructions and local rules come first; keep tallies and paper.",
)
HINTS = "h keys  Space take  f evacuate  Tab orders  Enter more  number, c e o x  q leave"
HINTS_VIEW = "h keys  number, then d  s least time  b light  t take the board  q leave"
HINTS_ORDER = "Esc the board  d on  number, then - by voice  o out  f evacuate  h keys  q leave"
HINTS_ORDER_VIEW = "Esc the board  d on  h keys  t take the board  q leave"
HINTS_VIEW_PAGE = "Esc the board  d on  Enter more to do  h keys  Space take  q leave"
HINTS_WEARER = "Esc the board  d on  Up Down another wearer  h keys  Space take  q leave"
PAGE_LINES = 4
"""So many fewer lines has the alarms' place while something else than the list is looked at: on the
smallest screen the top one and a count are left, on a high one the more urgent stay whole."""
ROUND_A_SHEET = 5
"""Two lines of the header; what is asked, its keys, and what became of the act before."""
ORDERS_BESIDE_LINES = 2
"""The same of orders that stand: the counts, and the words to say."""


@dataclass(frozen=True, slots=True)
class Shown:
    """State of the screen beside the picture."""

    desk: Desk
    by_time: bool = False
    help_page: int = 0
    """Which page of the keys is looked at, from 1; 0: none."""
    caution: bool = True
    """The caution stands on the screen from the start until the first key."""
    message: str = ""
    """What became of the last key or act."""
    message_role: Role = Role.STRONG
    detail: AirDetail | None = None
    """Of the wearer whose own screen is open."""
    large: bool = False
    """Large figures instead of the list."""


class Drawn(NamedTuple):
    """A screen."""

    lines: list[Line]
    """Exactly as many as it is high."""
    alarms: AlarmBlock
    """What can be read of the alarms in them."""
    more: bool
    """What is looked at instead of the list has a further page."""
    order: bool = False
    """An order that is open can be read."""


def screen(picture: Picture, look: Look, hands: Hands, shown: Shown) -> Drawn:
    """Lay out everything."""
    head = list(header_lines(picture, look, shown.desk))
    whole = not (shown.help_page or hands.watched or hands.listed or hands.elsewhere)
    alarm_lines = lines_max(look.height) if whole else _room_beside(picture, look, hands)
    alarms = alarm_block(
        picture,
        look,
        holds=shown.desk.holds,
        room=alarm_lines,
        chosen=hands.named,
        keys_write=hands.mode is Mode.SHEET,
    )
    aside = put_aside_line(picture, look)
    head += [aside] if aside is not None else []
    if len(head) + len(alarms.lines) > look.height:
        # What is cut off at the bottom cannot be read, and what cannot be read is not taken.
        alarms = replace(alarms, shown=(), top=None)
    head += alarms.lines
    panel = order_lines.panel(picture, hands, look)
    head += panel
    readable = bool(panel) and len(head) <= look.height
    bottom = _bottom(picture, look, hands, shown)
    read_whole = shown.help_page or hands.mode in {Mode.MORE, Mode.FIND}
    unjoined = None if read_whole else unjoined_line(picture, look)
    if unjoined is not None:
        bottom.insert(0, unjoined)
    if hands.listed is None:
        room = ORDERS_BESIDE_LINES
        if whole:
            spare = alarm_lines - len(alarms.lines) - len(panel)
            free = look.height - len(head) - len(bottom)
            room = order_lines.room_for(picture, look.height, spare, free, asked=bool(panel))
        head += order_lines.order_block(picture, look, room)
    room = max(0, look.height - len(head) - len(bottom))
    middle, more = _middle(picture, look, hands, shown, room)
    middle += [BLANK] * (room - len(middle))
    lines = [*head, *middle, *bottom][: look.height]
    return Drawn([crop(line, look.width) for line in lines], alarms, more, readable)


def _room_beside(picture: Picture, look: Look, hands: Hands) -> int:
    """Lines of alarms beside a page; a sheet that does not need all of its place gives more."""
    least = beside_lines(look.height)
    if hands.mode is not Mode.SHEET or hands.filling is None:
        return least
    wants = len(form_page(hands.filling, look, look.height).lines)
    others = ORDERS_BESIDE_LINES * bool(picture.orders) + bool(picture.unjoined)
    free = look.height - ROUND_A_SHEET - others - bool(picture.put_aside) - wants
    return max(least, min(lines_max(look.height), free))


def beside_lines(height: int) -> int:
    """The most lines of alarms while something else than the list is looked at."""
    return max(LINES_MIN, lines_max(height) - PAGE_LINES)


def _middle(picture: Picture, look: Look, hands: Hands, shown: Shown, room: int) -> Page:
    """The keys, one wearer, one order, or the list of wearers: at most ``room`` lines."""
    if hands.mode is Mode.SHEET and hands.filling is not None:
        return form_page(hands.filling, look, room)  # what is asked, over what was looked at
    if hands.mode is Mode.MORE:
        return more_page(look, room, hands.typed, hands.aids.table)
    if hands.mode is Mode.FIND:
        return find_page(look, room, hands.found, hands.place)
    if shown.help_page:
        return help_page(look, room, shown.help_page)
    if hands.viewed is not None:
        return view_page(hands.viewed, picture, look, room, hands.page, hands.aids.log())
    chosen = frozenset(hands.chosen)
    for place, order in enumerate(picture.orders, 1):
        if order.number == hands.listed:
            context = RowContext(picture, look, chosen)
            return order_page(order, (place, len(picture.orders)), context, room, hands.page)
    for wearer in picture.wearers:
        if wearer.wearer == hands.watched:
            context = RowContext(picture, look, chosen)
            return wearer_page(wearer, shown.detail, context, room, hands.page)
    if shown.large:
        return Page(large_lines(picture, look, room), more=False)
    lines = list_lines(picture, look, room, chosen, by_time=shown.by_time)
    lines += ahead_lines(picture, look, room - len(lines))
    return Page(lines, more=False)


HELP_HALF = 40
"""Two columns of keys fit the narrowest screen."""
HELP_KEY = 11
"""Cells for the keys' own names."""


def help_page(look: Look, room: int, page: int) -> Page:
    """One page of the key table, from 1, in two columns; what the marks mean on the last."""
    entries = [f"{key:<{HELP_KEY}}{words}" for key, words in help_texts()]
    g = look.glyphs
    marks = [
        (
            f"{g.estimate} estimate  {g.voice} by voice  {g.entry} entry record  ? unknown  "
            f"{g.coming_out} coming out  {g.committed} committed"
        ),
        "NEXT in minutes at the earliest, by  T table   R plan, real gas   F forecast",
    ]
    rows = -(-len(entries) // 2)
    if rows + len(marks) > room:
        rows = max(1, room - 1)
    pages = [entries[at : at + 2 * rows] for at in range(0, len(entries), 2 * rows)]
    if -(-len(pages[-1]) // 2) + len(marks) > room:
        pages.append([])
    place = min(page, len(pages)) - 1
    more = place + 1 < len(pages)
    left, right = pages[place][:rows], pages[place][rows:]
    if not more:
        half = -(-len(pages[place]) // 2)
        left, right = pages[place][:half], pages[place][half:]
    texts = [f"{one:<{HELP_HALF}}" for one in left]
    for at, other in enumerate(right):
        texts[at] += other
    texts += ["h: more keys"] if more else marks
    return Page([((fit(text, look.width, g), Role.QUIET),) for text in texts[:room]], more=more)


def _bottom(picture: Picture, look: Look, hands: Hands, shown: Shown) -> list[Line]:
    lines: list[Line] = []
    if shown.caution:
        lines += [((fit(text, look.width, look.glyphs), Role.FAINT),) for text in CAUTION_LINES]
    prompt = prompt_lines(picture, hands, look.width)
    message: Line = ((fit(shown.message, look.width, look.glyphs), shown.message_role),)
    if prompt is not None:
        told = hands.mode is Mode.SHEET and bool(shown.message)
        if told or shown.message_role is Role.CAUTION:
            # NOT TAKEN, USE VOICE is never hidden by a question; nor, in a sheet that opens again
            # and again, what became of the act before.
            lines.append(message)
        return [
            *lines,
            *(((fit(text, look.width, look.glyphs), Role.SELECTED),) for text in prompt),
        ]
    hints = HINTS if shown.desk.holds else HINTS_VIEW
    if hands.watched is not None:
        hints = HINTS_WEARER
    elif hands.viewed is not None:
        hints = HINTS_VIEW_PAGE
    elif hands.listed is not None:
        hints = HINTS_ORDER if shown.desk.holds else HINTS_ORDER_VIEW
    lines.append(message)
    lines.append(((fit(hints, look.width, look.glyphs), Role.FAINT),))
    return lines


def prompt_lines(picture: Picture, hands: Hands, width: int) -> tuple[str, str] | None:
    """Give the open question or chosen wearer, and the answers; None if there is neither."""
    match hands.mode:
        case Mode.QUIT:
            stop = "    2 stop recording too" if hands.holds else ""
            return "LEAVE THE BOARD?", f"1 recording goes on{stop}    Esc stay"
        case Mode.NOTE:
            whose = f" of {names(picture, hands.chosen[-1:])}" if hands.chosen else ""
            return f"NOTE{whose}, for the record", _picks(NOTES)
        case Mode.UNDO if hands.step_asked is not None:
            return undo.question(hands.step_asked, picture), "1 take it back    Esc leave it"
        case Mode.TAKE_BOARD:
            whose = clean(picture.holder) or "nobody"
            return f"TAKE THE BOARD from {whose}?", "1 take it    Esc leave it"
        case Mode.READING:
            return _reading_lines(picture, hands)
        case Mode.START:
            return _start_lines(picture, hands)
        case Mode.SHEET if hands.filling is not None:
            return form_prompt(hands.filling)
        case Mode.MORE:
            whose = f" for {names(picture, hands.chosen)}" if hands.chosen else ""
            return f"MORE{whose}: two digits  {hands.typed}_", "Enter: by letters    Esc the board"
        case Mode.FIND:
            return f"FIND: {hands.typed}_    LETTERS WRITE", FIND_KEYS
        case Mode.BOARD:
            return _chosen_lines(picture, hands, width)
    if hands.mode in ORDER_MODES:
        return None
    return _about_lines(picture, hands)


def _about_lines(picture: Picture, hands: Hands) -> tuple[str, str]:
    """Give a question about an alarm; the same key again asks about the next one."""
    alarm = hands.asked_about(picture)
    if alarm is None:
        return "THIS ALARM HAS GONE", "Esc"
    what = called(alarm)
    match hands.mode:
        case Mode.ASIDE_WHY:
            return f"PUT ASIDE {what}: why?    p another", _picks(ASIDE_REASONS)
        case Mode.ASIDE_FOR:
            minutes = [f"{minutes} min" for minutes in minutes_for(alarm)]
            return f"PUT ASIDE {what}: for how long?", _picks(minutes)
        case Mode.TAKE_BACK:
            return f"LET IT COME BACK: {what}?    v another", "1 yes    Esc leave it"
        case Mode.RESET_SURE:
            return f"RESET {what}: {hands.why}", "Enter = reset it    Esc leave it"
    return f"RESET {what}: why?    r another", _picks(RESET_REASONS)


def _picks(answers: Sequence[str]) -> str:
    return "  ".join(f"{number} {answer}" for number, answer in enumerate(answers, 1))


def _reading_lines(picture: Picture, hands: Hands) -> tuple[str, str]:
    crew = len(hands.chosen) > 1
    what = "LOWEST GAUGE OF" if crew else "GAUGE READING"
    unit = hands.unit(picture)
    whose = "k this one alone" if crew else "k lowest of the crew"
    question = f"{what} {names(picture, hands.chosen)}: {hands.typed}_ {unit}"
    fewer = "three" if READING_DIGITS[unit] == 3 else "four"  # noqa: PLR2004 - as it says
    return question, f"digits  Enter if fewer than {fewer}  {whose}  Backspace  Esc nothing"


def _start_lines(picture: Picture, hands: Hands) -> tuple[str, str]:
    asked = hands.starts_asked()
    unit = hands.unit(picture)
    more = f", then {len(asked) - 1} more" if len(asked) > 1 else ""
    question = f"GAUGE AT CONNECTING of {names(picture, asked[:1])}: {hands.typed}_ {unit}{more}"
    return question, "digits  Enter  Backspace  Esc leaves it open: counted from the least fill"


def _chosen_lines(picture: Picture, hands: Hands, width: int) -> tuple[str, str] | None:
    if hands.chosen:
        who = f"CHOSEN {names(picture, hands.chosen)}"
        more = next((form for form in CHOSEN_MORE if len(who) + len(form) <= width), "")
        return f"{who}{more}", CHOSEN_STEPS
    if hands.typed:
        return f"wearer {hands.typed}_", ""
    return None


def opening_screen(look: Look, words: str) -> list[Line]:
    """Before the first picture: the caution, and what is being waited for."""
    texts = [
        ("OUTBY", Role.STRONG),
        ("", Role.QUIET),
        *((text, Role.QUIET) for text in CAUTION_LINES),
        ("", Role.QUIET),
        (words, Role.STRONG),
    ]
    lines: list[Line] = [
        ((fit(text, look.width, look.glyphs), role),) if text else BLANK for text, role in texts
    ]
    return (lines + [BLANK] * look.height)[: look.height]
