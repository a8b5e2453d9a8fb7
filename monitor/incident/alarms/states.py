"""The states of an alarm and every way from one to another.

Theory of operation
-------------------
The state set of IEC 62682 / ISA-18.2. An alarm has a *condition*, true or not, found by the fold,
and a *state*: what the officer has still to do about it. The two are kept apart. What the officer
does never changes the condition, and a condition that goes never takes away what the officer has
not seen.

- An alarm is normal (A) until its condition begins; then it waits (B) until it is taken (C).
- The condition ends. Taken, the alarm is over (A). Not taken, it still waits (D), without colour.
- Some alarms latch: the end of the condition does not end them (E, F), only a reset does, with a
  reason, after they were taken. They never go back to A by themselves.
- An alarm that becomes more urgent waits anew (B), whoever had taken it.
- Three ways put an alarm away, without a line and without a sound: the officer puts it aside for a
  time (G), the rules hold it back while the base is known to be deaf or a grouped alarm says the
  same (H), it is out of service (I). Meanwhile the condition may come and go. It comes back by the
  condition of that moment: waiting (B) if it holds, else over (A). One that latches comes back
  latched (E) though its condition has gone: it lives from its first condition on, so there is
  something that nobody has answered for. What was put aside comes back at once if it worsens.
  What a grouped alarm has told by name, and the officer has taken there, comes back as taken (C).

``_GRID`` lists every pair of state and input, and ``TABLE`` is made from it. What is marked ``-``
is refused: nothing changes, and the engine keeps the refusal for the log.
"""

from dataclasses import dataclass
from enum import StrEnum


class State(StrEnum):
    """Where an alarm stands. The letters of the standard in the order given here: A to I."""

    NORMAL = "normal"
    UNACKNOWLEDGED = "unacknowledged"
    ACKNOWLEDGED = "acknowledged"
    RETURNED = "returned, unacknowledged"
    LATCHED_UNACKNOWLEDGED = "latched, unacknowledged"
    LATCHED_ACKNOWLEDGED = "latched, acknowledged"
    SHELVED = "shelved"
    SUPPRESSED = "suppressed by design"
    OUT_OF_SERVICE = "out of service"


LETTERS: dict[str, State] = dict(zip("ABCDEFGHI", State, strict=True))


class Input(StrEnum):
    """What can happen to an alarm."""

    RAISE = "condition begins"
    CLEAR = "condition ends"
    WORSEN = "becomes more urgent"
    ACKNOWLEDGE = "acknowledged"
    RESET = "reset"
    SHELVE = "shelved"
    UNSHELVE = "shelving ends"
    SUPPRESS = "suppressed by design"
    RELEASE = "suppression ends"
    RELEASE_TAKEN = "suppression ends, taken meanwhile"
    REMOVE = "taken out of service"
    RESTORE = "back in service"


# "B": to that state. "D/E": one that does not latch, one that does. "B?A/E": B while the condition
# holds, else A or E. "-": refused. A latching alarm is never in D, another never in E or F.
_GRID = {
    #    raise clear worsen ack  reset shelve unshelve suppress release taken  remove restore
    "A": "B    -     -      -    -     G      -        H        -       -      I      -",
    "B": "-    D/E   B      C    -     G      -        H        -       -      I      -",
    "C": "-    A/F   B      -    -     G      -        H        -       -      I      -",
    "D": "B/-  -     -      A/-  -     G/-    -        H/-      -       -      I/-    -",
    "E": "-/B  -     -      -/F  -     -/G    -        -/H      -       -      -/I    -",
    "F": "-/B  -     -      -    -/A   -/G    -        -/H      -       -      -/I    -",
    "G": "G    G     B      -    -     -      B?A/E    H        -       -      I      -",
    "H": "H    H     H      -    -     -      -        -        B?A/E   C?A/E  I      -",
    "I": "I    I     I      -    -     -      -        -        -       -      -      B?A/E",
}


@dataclass(frozen=True, slots=True)
class Cell:
    """Where one pair leads."""

    plain: State | None
    """For an alarm that does not latch; None: refused."""
    latching: State | None
    """For one that does."""
    while_true: State | None = None
    """If given: the next state, either way, when the condition holds at that moment."""


def _cell(text: str) -> Cell:
    while_true, _, otherwise = text.rpartition("?")
    plain, _, latching = otherwise.partition("/")
    return Cell(LETTERS.get(plain), LETTERS.get(latching or plain), LETTERS.get(while_true))


TABLE: dict[tuple[State, Input], Cell] = {
    (LETTERS[letter], what): _cell(text)
    for letter, row in _GRID.items()
    for what, text in zip(Input, row.split(), strict=True)
}

WAITING = frozenset({State.UNACKNOWLEDGED, State.RETURNED, State.LATCHED_UNACKNOWLEDGED})
"""The officer has not taken these yet."""
LATCHED = frozenset({State.LATCHED_UNACKNOWLEDGED, State.LATCHED_ACKNOWLEDGED})
PUT_AWAY = frozenset({State.SHELVED, State.SUPPRESSED, State.OUT_OF_SERVICE})
"""Not among the alarm lines."""


def next_state(state: State, what: Input, *, latching: bool, condition: bool) -> State | None:
    """The state that follows, or None: refused. ``condition``: whether it holds just now."""
    cell = TABLE[state, what]
    if cell.while_true is not None and condition:
        return cell.while_true
    return cell.latching if latching else cell.plain
