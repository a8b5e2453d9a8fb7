"""Every key of a replay in one table. No key that acts on a live board means anything here.

The keys of the board that only look (numbers, Up and Down, d, k, s, b, h, Esc) are the board's own
and mean the same; the others are keys that the board does not use.
"""

from monitor.board.keys.table import KEYS as BOARD_KEYS
from monitor.board.keys.table import Key

LOOKS = frozenset({"digit", "crew", "leave", "step", "wearer", "sort", "theme", "help", "rub out"})
"""Commands of the board that change nothing but the screen."""

OWN: tuple[Key, ...] = (
    Key(("full_stop",), ".", "run", "run, and stand still"),
    Key(("greater_than_sign",), ">", "second on", "stand still a second later"),
    Key(("less_than_sign",), "<", "second back", "stand still a second earlier"),
    Key(("plus",), "+", "faster", "faster, or as fast as it can"),
    Key(("slash",), "/", "slower", "slower, down to a quarter"),
    Key(("pagedown",), "PgDn", "next", "the next of its kind"),
    Key(("pageup",), "PgUp", "previous", "the one before"),
    Key(("number_sign", "apostrophe"), "# '", "kind", "alarms, orders, notes, clock"),
    Key(("colon", "semicolon"), ": ;", "jump", "to a time: six digits"),
    Key(("home",), "Home", "start", "to the start"),
    Key(("end",), "End", "end", "to the end"),
)
LOOKING: tuple[Key, ...] = tuple(key for key in BOARD_KEYS if key.does in LOOKS)
QUIT = Key(("q", "ctrl+c", "ctrl+q", "ctrl+z"), "q", "quit", "leave the replay")
KEYS: tuple[Key, ...] = (*OWN, *LOOKING, QUIT)
BY_NAME = {name: key for key in KEYS for name in key.names}
