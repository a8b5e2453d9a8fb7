"""Every key of the overview in one table. None of them acts on anything."""

from monitor.board.keys.table import KEYS as BOARD_KEYS
from monitor.board.keys.table import Key

LOOKS = frozenset({"digit", "crew", "leave", "step", "wearer", "sort", "rub out"})
"""Commands of a door's board that change nothing but the screen; they mean the same there."""

OWN: tuple[Key, ...] = (
    Key(("pagedown",), "PgDn", "on", "further crews"),
    Key(("pageup",), "PgUp", "back", "the ones before"),
    Key(("enter",), "Enter", "open", "ends a door's number"),
)
LOOKING: tuple[Key, ...] = tuple(key for key in BOARD_KEYS if key.does in LOOKS | {"theme"})
QUIT = Key(("q", "ctrl+c", "ctrl+q", "ctrl+z"), "q", "quit", "leave the overview")
KEYS: tuple[Key, ...] = (*OWN, *LOOKING, QUIT)
BY_NAME = {name: key for key in KEYS for name in key.names}
