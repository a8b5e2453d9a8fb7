"""A row: one fact in the one order that everything follows.

The recorder's sequencer makes rows, the journal keeps them, readers turn them back into events
for the fold. A frame's row holds the bytes as heard; every other row holds compact JSON.
"""

from dataclasses import dataclass
from enum import IntEnum


class RowKind(IntEnum):
    """What a row's ``data`` is. The value is what the journal stores."""

    FRAME = 1
    """A genuine frame, as heard, without line framing or a base radio's envelope."""
    ACT = 2
    """Something an officer did (JSON, one of ``events.Act``)."""
    FACT = 3
    """Something the base itself noticed (JSON, one of ``events.Fact``)."""
    ANNOUNCED = 4
    """What was announced, and when (JSON): evidence for a later look, never read by the fold."""


class Standing(IntEnum):
    """What a frame proves. The recorder judges, since only it holds keys and freshness windows."""

    LIVE = 0
    """Genuine, new, and its pack has echoed a recent beacon of this base. Only this is 'heard'."""
    NOT_PROVEN = 1
    """Genuine as far as it goes, but the pack has not yet echoed one of this base's beacons."""
    HELD = 2
    """Genuine and proven, but delayed on its way beyond the limit: not the present state."""
    OLD = 3
    """Genuine, but boot counter or sequence went back: two packs with one identity, or a repair."""
    UNPROVEN_DISTRESS = 4
    """A call for help under no key that the base holds, or at an open base under any: shown, as
    unproven."""
    OLD_NOW = 5
    """As ``OLD``, yet it answers with a recent beacon of this base: no recording, but a second pack
    of the identity, or one that has lost its counter."""


@dataclass(slots=True)
class Row:
    """One row of the journal, in the order of its number."""

    t: int
    """Incident time, ns: the later of its own stamp and the instant after the last horizon."""
    kind: RowKind
    data: bytes
    link: int = 0
    """Number of the link a frame came by; 0 for none."""
    late_ns: int = 0
    """How far ``t`` lies after the stamp taken when the bytes were read."""
    standing: Standing = Standing.LIVE
    signal_dbm: int | None = None
    """Signal level at the base radio, where one reported it."""
