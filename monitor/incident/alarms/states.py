"""The states of an alarm and every way from one to another.

Theory of operation: the state set of IEC 62682 / ISA-18.2. An alarm has a *condition* (true or not,
found by the engine) and a *state* (what the officer has still to do about it). Acknowledging never
changes the condition. An alarm that latches does not go back to normal when its condition goes: it
waits for a reset.

``TABLE`` lists each allowed pair of state and input. A pair that is not listed is refused. Each
cell gives the next state of an alarm that does not latch and of one that does; where an alarm comes
back from being shelved, suppressed or out of service, the condition at that moment decides.
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


class Input(StrEnum):
    """What can happen to an alarm."""

    RAISE = "condition begins"
    CLEAR = "condition ends"
    WORSEN = "condition becomes more urgent"
    ACKNOWLEDGE = "acknowledged"
    RESET = "reset"
    SHELVE = "shelved"
    UNSHELVE = "shelving ends"
    SUPPRESS = "suppressed by design"
    RELEASE = "suppression ends"
    REMOVE = "taken out of service"
    RESTORE = "back in service"


@dataclass(frozen=True, slots=True)
class Cell:
    """Where one pair leads."""

    plain: State | None
    """For an alarm that does not latch; None: refused."""
    latching: State | None
    """For one that does."""
    while_true: State | None = None
    """If given: the next state, either way, when the condition holds at that moment."""


def _same(state: State) -> Cell:
    return Cell(state, state)


_BACK = Cell(State.NORMAL, State.NORMAL, while_true=State.UNACKNOWLEDGED)
_AWAY = {
    Input.SHELVE: _same(State.SHELVED),
    Input.SUPPRESS: _same(State.SUPPRESSED),
    Input.REMOVE: _same(State.OUT_OF_SERVICE),
}


def _listed(state: State, cells: dict[Input, Cell]) -> dict[tuple[State, Input], Cell]:
    return {(state, what): cell for what, cell in cells.items()}


TABLE: dict[tuple[State, Input], Cell] = {
    **_listed(State.NORMAL, {Input.RAISE: _same(State.UNACKNOWLEDGED), **_AWAY}),
    **_listed(
        State.UNACKNOWLEDGED,
        {
            Input.CLEAR: Cell(State.RETURNED, State.LATCHED_UNACKNOWLEDGED),
            Input.WORSEN: _same(State.UNACKNOWLEDGED),
            Input.ACKNOWLEDGE: _same(State.ACKNOWLEDGED),
            **_AWAY,
        },
    ),
    **_listed(
        State.ACKNOWLEDGED,
        {
            Input.CLEAR: Cell(State.NORMAL, State.LATCHED_ACKNOWLEDGED),
            Input.WORSEN: _same(State.UNACKNOWLEDGED),
            **_AWAY,
        },
    ),
    **_listed(
        State.RETURNED,
        {
            # A latching alarm never gets here: its condition's end leads to the latched states.
            Input.RAISE: Cell(State.UNACKNOWLEDGED, None),
            Input.ACKNOWLEDGE: Cell(State.NORMAL, None),
            **{what: Cell(cell.plain, None) for what, cell in _AWAY.items()},
        },
    ),
    **_listed(
        State.LATCHED_UNACKNOWLEDGED,
        {
            Input.RAISE: Cell(None, State.UNACKNOWLEDGED),
            Input.ACKNOWLEDGE: Cell(None, State.LATCHED_ACKNOWLEDGED),
            **{what: Cell(None, cell.latching) for what, cell in _AWAY.items()},
        },
    ),
    **_listed(
        State.LATCHED_ACKNOWLEDGED,
        {
            Input.RAISE: Cell(None, State.UNACKNOWLEDGED),
            Input.RESET: Cell(None, State.NORMAL),
            **{what: Cell(None, cell.latching) for what, cell in _AWAY.items()},
        },
    ),
    # While put away in one of these three ways the condition may come and go unseen.
    **_listed(
        State.SHELVED,
        {
            Input.RAISE: _same(State.SHELVED),
            Input.CLEAR: _same(State.SHELVED),
            Input.UNSHELVE: _BACK,
        },
    ),
    **_listed(
        State.SUPPRESSED,
        {
            Input.RAISE: _same(State.SUPPRESSED),
            Input.CLEAR: _same(State.SUPPRESSED),
            Input.RELEASE: _BACK,
        },
    ),
    **_listed(
        State.OUT_OF_SERVICE,
        {
            Input.RAISE: _same(State.OUT_OF_SERVICE),
            Input.CLEAR: _same(State.OUT_OF_SERVICE),
            Input.RESTORE: _BACK,
        },
    ),
}

WAITING = frozenset({State.UNACKNOWLEDGED, State.RETURNED, State.LATCHED_UNACKNOWLEDGED})
"""The officer has not taken these yet."""
LATCHED = frozenset({State.LATCHED_UNACKNOWLEDGED, State.LATCHED_ACKNOWLEDGED})
PUT_AWAY = frozenset({State.SHELVED, State.SUPPRESSED, State.OUT_OF_SERVICE})
"""Not among the alarm lines."""


def next_state(state: State, what: Input, *, latching: bool, condition: bool) -> State | None:
    """The state that follows, or None: refused. ``condition``: whether it holds just now."""
    cell = TABLE.get((state, what))
    if cell is None:
        return None
    if cell.while_true is not None and condition:
        return cell.while_true
    return cell.latching if latching else cell.plain
