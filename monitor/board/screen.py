"""The whole board as lines for one screen: header, alarms, wearers, keys. Pure."""

from dataclasses import dataclass, replace

from monitor.board.alarm_lines import AlarmBlock, alarm_block
from monitor.board.hands import RESET_REASONS, Hands, Mode, names
from monitor.board.header import Desk, header_lines, unjoined_line
from monitor.board.keys import help_texts
from monitor.board.marks import BLANK, Line, Look, Role, clean, crop, fit
from monitor.board.rows import list_lines
from monitor.incident.picture import Picture

CAUTION_LINES = (
    "An aid, not a certified safety device. The wearer's gauge and warning device,",
    "the maker's instructions and local rules come first; keep tallies and paper.",
)
HINTS = "h keys  Space take  number then c e g o x  s least air  b daylight  q leave"
HINTS_VIEW = "h keys  s least air  b daylight  t take the board  q leave"


@dataclass(frozen=True, slots=True)
class Shown:
    """State of the screen beside the picture."""

    desk: Desk
    by_air: bool = False
    help_open: bool = False
    caution: bool = True
    """The caution stands on the screen from the start until the first key."""
    message: str = ""
    """What became of the last key or act."""
    message_role: Role = Role.STRONG


def screen(
    picture: Picture, look: Look, hands: Hands, shown: Shown
) -> tuple[list[Line], AlarmBlock]:
    """Exactly ``look.height`` lines, and what can be read of the alarms in them."""
    head = list(header_lines(picture, look, shown.desk))
    alarms = alarm_block(picture, look, holds=shown.desk.holds)
    if len(head) + len(alarms.lines) > look.height:
        # What is cut off at the bottom cannot be read, and what cannot be read is not taken.
        alarms = replace(alarms, shown=(), top=None)
    bottom = _bottom(picture, look, hands, shown)
    unjoined = unjoined_line(picture, look)
    if unjoined is not None:
        bottom.insert(0, unjoined)
    room = look.height - len(head) - len(alarms.lines) - len(bottom)
    if shown.help_open:
        middle = help_lines(look)[: max(room, 0)]
    else:
        chosen = frozenset(hands.chosen)
        middle = list_lines(picture, look, max(room, 0), chosen, by_air=shown.by_air)
    middle += [BLANK] * (room - len(middle))
    lines = [*head, *alarms.lines, *middle, *bottom][: look.height]
    return [crop(line, look.width) for line in lines], alarms


HELP_HALF = 40
"""Two columns of keys fit the narrowest screen."""


def help_lines(look: Look) -> list[Line]:
    """The key table in two columns, and what the marks mean."""
    entries = [f"{key:<10}{words}" for key, words in help_texts()]
    half = (len(entries) + 1) // 2
    rows = [f"{left:<{HELP_HALF}}" for left in entries[:half]]
    for place, right in enumerate(entries[half:]):
        rows[place] += right
    g = look.glyphs
    marks = (
        f"{g.estimate} estimate, falling   {g.voice} by voice   {g.entry} entry record   ? unknown"
    )
    texts = [*rows, marks]
    return [((fit(text, look.width, g), Role.QUIET),) for text in texts]


def _bottom(picture: Picture, look: Look, hands: Hands, shown: Shown) -> list[Line]:
    lines: list[Line] = []
    if shown.caution:
        lines += [((fit(text, look.width, look.glyphs), Role.FAINT),) for text in CAUTION_LINES]
    prompt = prompt_lines(picture, hands)
    message: Line = ((fit(shown.message, look.width, look.glyphs), shown.message_role),)
    if prompt is not None:
        if shown.message_role is Role.CAUTION:
            # NOT TAKEN, USE VOICE is never hidden by a question.
            lines.append(message)
        return [
            *lines,
            *(((fit(text, look.width, look.glyphs), Role.SELECTED),) for text in prompt),
        ]
    hints = HINTS if shown.desk.holds else HINTS_VIEW
    lines.append(message)
    lines.append(((fit(hints, look.width, look.glyphs), Role.FAINT),))
    return lines


def prompt_lines(picture: Picture, hands: Hands) -> tuple[str, str] | None:
    """Give the open question or chosen wearer, and the answers; None if there is neither."""
    match hands.mode:
        case Mode.QUIT:
            stop = "    2 stop recording too" if hands.holds else ""
            return "LEAVE THE BOARD?", f"1 recording goes on{stop}    Esc stay"
        case Mode.TAKE_BOARD:
            whose = clean(picture.holder) or "nobody"
            return f"TAKE THE BOARD from {whose}?", "1 take it    Esc leave it"
        case Mode.READING:
            who = names(picture, hands.chosen)
            question = f"GAUGE READING {who}: {hands.typed}_ {picture.pressure_unit}"
            return question, "digits    Enter if fewer than three    Backspace    Esc nothing"
        case Mode.RESET:
            alarm = hands.reset_alarm(picture)
            if alarm is None:
                return "THIS ALARM HAS GONE", "Esc"
            picks = "  ".join(f"{i} {reason}" for i, reason in enumerate(RESET_REASONS, 1))
            return f"RESET {alarm.word}, {clean(alarm.subject)}: why?", picks
        case Mode.BOARD:
            return _chosen_lines(picture, hands)


def _chosen_lines(picture: Picture, hands: Hands) -> tuple[str, str] | None:
    if hands.chosen:
        who = names(picture, hands.chosen)
        steps = "c on air  e gone in  g gauge reading  o out  x off air  k whole crew"
        return f"CHOSEN {who}", steps
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
