"""Which tone sounds when: the most urgent that waits, again and again until it is taken. Pure.

The recorder's player and, where there is none, each board's bell follow the same ladder.

| waits | tone | again, from the end of one to the start of the next |
|---|---|---|
| a danger for 30 s or longer | danger | 2.5 s |
| a danger | danger | 7.5 s |
| a caution | caution | 25 s |
| a notice | none | |

The silences are inside those of IEC 60601-1-8 (from memory: 2.5 to 15 s between bursts of high
priority, 2.5 to 30 s of medium). What is announced sounds at once, or, if the same tone sounds or
has only just sounded, after the shortest silence. A danger cuts a caution short. A tone stops when
what it is about has been taken, or when the officer silences all sound.
"""

from dataclasses import dataclass
from typing import Literal

from monitor.incident.picture import Sounding
from monitor.sound.tones import CAUTION, DANGER, Tone

SHORTEST_NS = 2_500_000_000
"""Silence between two bursts, so that they can be told apart."""
DANGER_AGAIN_NS = 7_500_000_000
CAUTION_AGAIN_NS = 25_000_000_000

Cue = Tone | Literal["stop"] | None
"""Play this now, in place of whatever plays; stop what plays; nothing."""


@dataclass(frozen=True, slots=True)
class _Rung:
    tone: Tone
    again_ns: int


_INSISTENT = _Rung(DANGER, SHORTEST_NS)
_DANGER = _Rung(DANGER, DANGER_AGAIN_NS)
_CAUTION = _Rung(CAUTION, CAUTION_AGAIN_NS)


class Ladder:
    """Asked often, it says when to play what. Times are of any one clock that never goes back."""

    def __init__(self) -> None:
        """Nothing sounds yet."""
        self._tone: Tone | None = None
        self._newest_ns = -1
        self._ends_ns = 0
        self._again_ns = 0

    def look(self, now_ns: int, waits: Sounding) -> Cue:
        """Say what is to be done at ``now_ns``."""
        rung, newest_ns = _rung(waits)
        plays = now_ns < self._ends_ns
        if rung is None or (plays and self._tone is DANGER and rung.tone is not DANGER):
            # Taken, over or silenced: what waits below it sounds at the next look.
            self._tone, self._newest_ns, self._ends_ns = None, -1, now_ns
            return "stop" if plays else None
        if rung.tone is self._tone:
            if newest_ns > self._newest_ns:
                self._again_ns = min(self._again_ns, self._ends_ns + SHORTEST_NS)
            self._newest_ns = newest_ns
            if now_ns < self._again_ns:
                return None
        self._tone, self._newest_ns = rung.tone, newest_ns
        self._ends_ns = now_ns + rung.tone.length_ns
        self._again_ns = self._ends_ns + rung.again_ns
        return rung.tone


def _rung(waits: Sounding) -> tuple[_Rung | None, int]:
    """The rung in force, and when what is newest on it was announced."""
    if waits.silenced_ns:
        return None, -1
    if waits.danger_ns is not None:
        return _INSISTENT if waits.insistent else _DANGER, waits.danger_ns
    if waits.caution_ns is not None:
        return _CAUTION, waits.caution_ns
    return None, -1
