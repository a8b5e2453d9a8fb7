"""What ``outby watch`` asks first where an incident was interrupted: go on with it, by one key.

After a power loss nobody should have to know the name of a file. Here are the edges: the list of
journals, the keyboard. On a terminal that can draw one key is enough; else a word on a line.
"""

import os
import select
import sys
from collections.abc import Callable, Sequence
from enum import Enum
from pathlib import Path
from typing import TYPE_CHECKING

from monitor.cli.journals import span, when
from monitor.errors import BadUsage

if TYPE_CHECKING:
    from monitor.archive.survey import Entry

OFFERED_MAX = 9
"""One digit each; the one that was recorded last is the first."""
LATELY_NS = 7 * 24 * 3_600 * 1_000_000_000
"""Older ones are not offered: whoever was under air then has long been out."""
STOPPED_LATELY_NS = 24 * 3_600 * 1_000_000_000
"""One whose recorder was stopped in good order is offered for so long: most often the machine was
shut down or somebody logged out, and nobody meant the incident to end."""
ESCAPE_S = 0.05
"""What follows Esc within this is part of another key."""


class Choice(Enum):
    """What else may be chosen than one of them."""

    NEW = "open a new incident"
    LEAVE = "leave"


def interrupted(folder: Path, now_ns: int) -> list["Entry"]:
    """Give those that were interrupted lately, the last first. ``now_ns``: the wall clock."""
    from monitor.archive.survey import State, survey

    lately = {State.INTERRUPTED: LATELY_NS, State.OPEN: STOPPED_LATELY_NS}
    found = (one for one in survey(folder) if one.state in lately)
    return [one for one in found if now_ns - one.changed_wall_ns <= lately[one.state]][:OFFERED_MAX]


def asked(
    entries: Sequence["Entry"],
    now_ns: int,
    *,
    draws: bool,
    typed: bool,
    read: Callable[[], str] | None = None,
) -> Path | Choice:
    """Ask whether to go on with one. Raises BadUsage where nobody can be asked.

    ``draws``: one key is enough; ``typed``: somebody is at the keyboard, else ``read`` gives what
    they say.
    """
    if not typed:
        first = entries[0]
        raise BadUsage(
            "an incident was interrupted",
            f"{_title(first)}, last recorded {when(first.changed_wall_ns)}",
            f"go on with it: outby watch {first.path.stem}; or say what a new one needs",
        )
    for line in told(entries, now_ns, keys=draws):
        print(line)
    read = read or (_key if draws else _line)
    while True:
        found = chosen(read(), len(entries))
        if isinstance(found, Choice):
            return found
        if found is not None:
            return entries[found].path
        if not draws:
            print("Type go, a number of the list, new, or cancel.")


def told(entries: Sequence["Entry"], now_ns: int, *, keys: bool) -> list[str]:
    """Say which they are and how to answer."""
    lines = ["", "INTERRUPTED. The recorder ended, or the power went, and nobody records now:", ""]
    for place, entry in enumerate(entries, start=1):
        ago = span(max(0, now_ns - entry.changed_wall_ns))
        number = f"{place}  " if len(entries) > 1 else ""
        lines.append(f"  {number}{_title(entry)}")
        lines.append(f"  {' ' * len(number)}last recorded {when(entry.changed_wall_ns)}, {ago} ago")
    go, other, leave = ("Enter", "n", "Esc") if keys else ("go", "new", "cancel")
    several = " the first; its digit: another" if len(entries) > 1 else " it, as it was"
    rows = ((go, f"go on with{several}"), (other, "open a new incident"), (leave, "leave"))
    return [*lines, "", *(f"  {key:<8}{what}" for key, what in rows), ""]


def chosen(said: str, count: int) -> int | Choice | None:
    """Give the place of the one that was meant, from 0; None: that was no answer."""
    word = said.strip().casefold()
    if said in {"\r", "\n"} or word in {"go", "g"}:
        return 0
    if word in {"n", "new"}:
        return Choice.NEW
    if said in {"\x1b", "\x03", "\x04"} or word in {"cancel", "q"}:
        return Choice.LEAVE
    digit = word.isascii() and word.isdigit() and 1 <= int(word[:3]) <= count
    return int(word) - 1 if digit else None


def _title(entry: "Entry") -> str:
    use = {"exercise": "EXERCISE", "real": "REAL"}.get(entry.use, entry.use)
    return f"{entry.name or 'no name'}, {use}"


def _line() -> str:
    try:
        return input("> ") or " "
    except (EOFError, KeyboardInterrupt):
        return "\x04"


def _key() -> str:
    """One key, as it is pressed. The terminal is left as it was found."""
    import termios
    import tty

    fd = sys.stdin.fileno()
    before = termios.tcgetattr(fd)
    try:
        # What was typed ahead was not meant for this question.
        tty.setcbreak(fd, termios.TCSAFLUSH)
        pressed = os.read(fd, 1)
        while pressed.startswith(b"\x1b") and select.select([fd], [], [], ESCAPE_S)[0]:
            more = os.read(fd, 1)
            if not more:
                break
            pressed += more
    except KeyboardInterrupt:
        return "\x03"
    finally:
        termios.tcsetattr(fd, termios.TCSADRAIN, before)
    return pressed.decode("ascii", "replace") if pressed else "\x04"
