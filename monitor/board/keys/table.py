"""Every key of the board in one table: it drives what a key does, the help and the documents.

Single keys, no chords, no shift, no function keys, no Y or Z; a key means the same everywhere.
Digits are always a number: a wearer, a reading in bar, or a numbered choice.
"""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Key:
    """One key, or a family of keys that do the same."""

    names: tuple[str, ...]
    """As the terminal library names them."""
    shown: str
    """As a person knows it."""
    does: str
    """Name of the command."""
    words: str
    """For the help screen."""
    acts: bool = False
    """Needs the board: refused on a second screen, and without a wearer where it takes one."""


DIGITS = tuple("0123456789")

KEYS: tuple[Key, ...] = (
    Key(("space",), "Space", "take", "take top (or chosen) alarm", True),
    Key(("a",), "a", "take cautions", "take all cautions in view", True),
    Key(("l",), "l", "silence", "silence all sound for 60 s", True),
    Key(("r",), "r", "reset", "reset an alarm that is over", True),
    Key(("p",), "p", "put aside", "put a caution aside (asks)", True),
    Key(("v",), "v", "take back", "let it come back (asks)", True),
    Key(("f",), "f", "evacuate", "evacuate all, or the chosen", True),
    Key(("j",), "j", "send", "send the order that is open", True),
    Key(("tab",), "Tab", "orders", "other orders, emergency crew", True),
    Key(("left", "right"), "Left Right", "whose", "open order: on whose order", True),
    Key(("minus",), "-", "by voice", "has answered by voice", True),
    Key(("insert", "equals_sign"), "Ins =", "note", "a note for the record (asks)", True),
    Key(DIGITS, "0-9", "digit", "choose a wearer by number"),
    Key(("k",), "k", "crew", "choose the whole crew"),
    Key(("comma",), ",", "and", "and another wearer or crew"),
    Key(("c",), "c", "connect", "has connected to air", True),
    Key(("e",), "e", "enter", "has gone in", True),
    Key(("g",), "g", "reading", "gauge reading, k for a crew", True),
    Key(("i",), "i", "objective", "has reached the objective", True),
    Key(("n",), "n", "new objective", "is sent on to a new one", True),
    Key(("u",), "u", "start back", "has started back", True),
    Key(("m",), "m", "supply", "on another supply, and back", True),
    Key(("o",), "o", "out", "has come out", True),
    Key(("x",), "x", "off air", "is off air", True),
    Key(("enter",), "Enter", "enter key", "more to do; ends a reading"),
    Key(("backspace",), "Backspace", "rub out", "takes a digit back"),
    Key(("escape",), "Esc", "leave", "leave a question or a screen"),
    Key(("up", "down"), "Up Down", "step", "choose wearer above, below"),
    Key(("d",), "d", "wearer", "all of a wearer, or an order"),
    Key(("s",), "s", "sort", "least time first, and back"),
    Key(("b",), "b", "theme", "daylight, and back"),
    Key(("t",), "t", "take board", "take the board (asks)"),
    Key(("w",), "w", "record again", "record again after a stop"),
    Key(("h", "question_mark"), "h ?", "help", "these keys, and back"),
    Key(
        ("q", "ctrl+c", "ctrl+q", "ctrl+z"),
        "q",
        "quit",
        "leave the board (asks)",
    ),
)

BY_NAME = {name: key for key in KEYS for name in key.names}


def help_texts() -> list[tuple[str, str]]:
    """Keys and what they do, in the order of the table."""
    return [(key.shown, key.words) for key in KEYS]
