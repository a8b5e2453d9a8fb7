"""The questions that a key can open, about what, and the numbered answers. Pure."""

from collections.abc import Callable
from enum import Enum, auto

from monitor.board.words.marks import clean
from monitor.incident.alarms.entry import ASIDE_MINUTES_MAX
from monitor.incident.picture import AlarmView, Phase, Picture, PutAsideView

RESET_REASONS = ("answered, well", "out, well", "out, hurt", "mistake", "set at fault", "see log")
"""Numbered picks; together they fit one line."""
_SAYS_OUT = "out"
"""A reason that begins with this word says that the wearer is out of the hazard."""
ASIDE_REASONS = ("crew told", "bad radio spot", "set at fault", "being seen to", "see log")
ASIDE_MINUTES = (5, 10, 20, ASIDE_MINUTES_MAX)
"""Numbered picks for how long."""
CLOSE_REASONS = (
    "out by another way",
    "accounted for elsewhere",
    "given by mistake",
    "order withdrawn",
    "see log",
)
"""Why an order is closed with somebody open in it."""

NOTES = ("told command", "no answer", "area searched", "casualty found", "help asked")
"""Numbered picks of a note; together they fit one line."""

About = AlarmView | PutAsideView


class Mode(Enum):
    """What the next digit means."""

    BOARD = auto()
    READING = auto()
    START = auto()
    """What a gauge showed at connecting, of whoever has no live pack."""
    RESET = auto()
    RESET_SURE = auto()
    """A reason was picked and stands there in words: Enter takes the alarm away."""
    ASIDE_WHY = auto()
    ASIDE_FOR = auto()
    TAKE_BACK = auto()
    NOTE = auto()
    QUIT = auto()
    TAKE_BOARD = auto()
    ORDER = auto()
    """An order stands ready: digits say for whom, a key of its own sends it."""
    ORDERS = auto()
    """Which other order, or what else to do with orders."""
    WHY_OUT = auto()
    WHY_CLOSE = auto()
    CLOSE_SURE = auto()
    """A reason was picked and stands there in words: Enter closes the order."""
    MORE = auto()
    """The table of what has no key of its own: two digits."""
    FIND = auto()
    """The same table by letters: letters write, every other key does what it always does."""
    UNDO = auto()
    """Whether the step that was noted last is to be taken back."""
    SHEET = auto()
    """A sheet is filled in: keys write."""


SURE = frozenset({Mode.RESET_SURE, Mode.CLOSE_SURE})
"""What was picked stands there in words, and Enter does it."""
ORDER_MODES = frozenset({Mode.ORDER, Mode.ORDERS, Mode.WHY_OUT, Mode.WHY_CLOSE, Mode.CLOSE_SURE})
"""Their place is below the alarm lines."""


def _may_be_put_aside(picture: Picture) -> list[About]:
    return [alarm for alarm in picture.alarms if alarm.aside_minutes_max]


def _latched(picture: Picture) -> list[About]:
    return [alarm for alarm in picture.alarms if alarm.latched]


ABOUT: dict[Mode, Callable[[Picture], list[About]]] = {
    Mode.RESET: _latched,
    Mode.RESET_SURE: _latched,
    Mode.ASIDE_WHY: _may_be_put_aside,
    Mode.ASIDE_FOR: _may_be_put_aside,
    Mode.TAKE_BACK: lambda picture: list(picture.put_aside),
}
"""The alarms that a question can be about."""
ANSWERS = {
    Mode.RESET: len(RESET_REASONS),
    Mode.ASIDE_WHY: len(ASIDE_REASONS),
    Mode.ASIDE_FOR: len(ASIDE_MINUTES),
    Mode.TAKE_BACK: 1,
}
NONE = {
    Mode.RESET: "no alarm is over and waits for its reset",
    Mode.ASIDE_WHY: "no alarm that may be put aside: a danger never may",
    Mode.TAKE_BACK: "nothing is put aside",
}


def minutes_for(alarm: About) -> tuple[int, ...]:
    """For how long this alarm may be put aside: the picks."""
    most = alarm.aside_minutes_max if isinstance(alarm, AlarmView) else 0
    return tuple(minutes for minutes in ASIDE_MINUTES if minutes <= most)


def called(alarm: About) -> str:
    """What an alarm is called in a question and in what became of it."""
    return f"{alarm.word}, {clean(alarm.subject)}"


def why_no_reset(picture: Picture, wearers: tuple[int, ...], reason: str) -> str | None:
    """Why an alarm of these may not be reset for this reason; None: it may.

    "Out" is not true of somebody who is inside, and would take a distress off the board.
    """
    if reason.split(maxsplit=1)[:1] not in ([_SAYS_OUT], [_SAYS_OUT + ","]):
        return None
    inside = [w for w in picture.wearers if w.wearer in wearers and w.phase is Phase.ENTERED]
    if not inside:
        return None
    return f"NOT DONE: {inside[0].wearer} is inside: note out first ({inside[0].wearer} o)"
