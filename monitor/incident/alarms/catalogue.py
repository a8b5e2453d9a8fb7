"""One row an alarm: what it means, when it counts, how it ends, what to do.

Danger, caution and notice are the three priorities. ``scope`` says in which phase of a wear the
same fact is an alarm; outside it the fact is a check result or nothing (a warning tried out at the
door does not alarm).
"""

import hashlib
import json
from collections.abc import Iterable

from monitor.incident.alarms.entry import Entry, Kind, Scope
from monitor.incident.alarms.of_base import OF_BASE
from monitor.incident.alarms.of_orders import OF_ORDERS
from monitor.incident.alarms.of_people import OF_PEOPLE
from monitor.incident.alarms.of_wearers import OF_WEARERS
from monitor.incident.picture import Phase, Priority

__all__ = (
    "CATALOGUE",
    "Entry",
    "Kind",
    "Scope",
    "in_scope",
    "line_word",
    "off_delay_ns",
    "row_word",
)

UNDER_AIR_PHASES = frozenset({Phase.ON_AIR, Phase.ENTERED, Phase.OUT})
"""Breathing from the set: the air clock runs until off air."""
NOT_OUT_PHASES = frozenset({Phase.ON_AIR, Phase.ENTERED})
"""Once out, a wearer stands at the door, in view."""
AT_DOOR_PHASES = frozenset({Phase.CHECKED_IN, Phase.ON_AIR})
NOTED_OUT_PHASES = frozenset({Phase.OUT, Phase.OFF_AIR})

_PHASES: dict[Scope, frozenset[Phase | None]] = {
    Scope.ENTERED: frozenset({Phase.ENTERED}),
    Scope.NOT_OUT: frozenset(NOT_OUT_PHASES),
    Scope.CHECKED_IN: frozenset({Phase.CHECKED_IN}),
    Scope.AT_DOOR: frozenset(AT_DOOR_PHASES),
    Scope.UNDER_AIR: frozenset(UNDER_AIR_PHASES),
    Scope.OFF_AIR: frozenset({Phase.OFF_AIR}),
    Scope.NOTED_OUT: frozenset(NOTED_OUT_PHASES),
    Scope.NOT_JOINED: frozenset({None}),
}
"""Any phase does for a scope that is not among these."""

_ROWS = (*OF_WEARERS, *OF_PEOPLE, *OF_ORDERS, *OF_BASE)
CATALOGUE: dict[Kind, Entry] = {entry.kind: entry for entry in _ROWS}


def digest(rows: Iterable[Entry] = _ROWS) -> str:
    """Tell one catalogue from another: SHA-256 over every row, in hex."""
    told = [[str(getattr(row, name)) for name in Entry.__slots__] for row in rows]
    return hashlib.sha256(json.dumps(told).encode()).hexdigest()


_OFF_DELAY_NS = {entry.kind: entry.off_delay_s * 1_000_000_000 for entry in _ROWS}


def off_delay_ns(kind: Kind) -> int:
    """How long the condition must be over before the alarm is, in ns."""
    return _OFF_DELAY_NS[kind]


def in_scope(kind: Kind, phase: Phase | None) -> bool:
    """Whether the fact is an alarm for a wearer in this phase; None: a pack nobody has."""
    phases = _PHASES.get(CATALOGUE[kind].scope)
    return phases is None or phase in phases


def line_word(kind: Kind, priority: Priority) -> str:
    """The alarm line's word: capitals for danger and caution."""
    word = CATALOGUE[kind].word
    return word if priority is Priority.NOTICE else word.upper()


def row_word(kind: Kind, priority: Priority) -> str:
    """The same for the wearer's own line."""
    word = CATALOGUE[kind].row_word
    return word if priority is Priority.NOTICE else word.upper()
