"""The questions that a key can open, about what, and the numbered answers. Pure."""

from collections.abc import Callable
from enum import Enum, auto

from monitor.board.marks import clean
from monitor.incident.events import ASIDE_MINUTES_MAX
from monitor.incident.picture import AlarmView, Picture, PutAsideView

RESET_REASONS = ("answered, well", "out, well", "out, hurt", "mistake", "set at fault", "see log")
"""Numbered picks; together they fit one line."""
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
    RESET = auto()
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
    MORE = auto()
    """The table of what has no key of its own: two digits."""
    SHEET = auto()
    """A sheet is filled in: keys write."""


ORDER_MODES = frozenset({Mode.ORDER, Mode.ORDERS, Mode.WHY_OUT, Mode.WHY_CLOSE})
"""Their place is below the alarm lines."""


def _may_be_put_aside(picture: Picture) -> list[About]:
    return [alarm for alarm in picture.alarms if alarm.may_be_put_aside]


ABOUT: dict[Mode, Callable[[Picture], list[About]]] = {
    Mode.RESET: lambda picture: [alarm for alarm in picture.alarms if alarm.latched],
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


def called(alarm: About) -> str:
    """What an alarm is called in a question and in what became of it."""
    return f"{alarm.word}, {clean(alarm.subject)}"
