"""The pressures of one wear, to be drawn: an hour at one a second in less than 16 kB."""

from array import array
from itertools import pairwise

POINTS_MAX = 7200
"""Two hours at one a second; then every second one goes, and the rest goes on."""
SECONDS_MAX = 0xFFFF
"""Eighteen hours: a later reading is not kept. No set lasts so long."""
DBAR_MAX = 0xFFFF


class PressureHistory:
    """Readings in order of time; seconds are whole and count from connecting."""

    __slots__ = ("_dbar", "_seconds")

    def __init__(self) -> None:
        self._seconds = array("H")
        self._dbar = array("H")

    def take(self, seconds: int, dbar: int) -> None:
        """Keep a reading, in tenths of a bar; of several in a second the last.

        Passed over: one older than the last, and one outside what can be kept.
        """
        if not (0 <= seconds <= SECONDS_MAX and 0 <= dbar <= DBAR_MAX):
            return
        kept = self._seconds
        if kept and seconds <= kept[-1]:
            if seconds == kept[-1]:
                self._dbar[-1] = dbar
            return
        if len(kept) == POINTS_MAX:
            self._thin()
        kept.append(seconds)
        self._dbar.append(dbar)

    def points(self) -> tuple[tuple[int, float], ...]:
        """Seconds since connecting and gauge pressure in bar."""
        return tuple((at, dbar / 10) for at, dbar in zip(self._seconds, self._dbar, strict=True))

    def gaps(self, longer_than_s: float) -> tuple[tuple[int, int], ...]:
        """Spells between two readings that are longer, from and to."""
        return tuple(
            (before, after)
            for before, after in pairwise(self._seconds)
            if after - before > longer_than_s
        )

    def _thin(self) -> None:
        """Keep every second reading, and the last one in place of the one before it."""
        for kept in (self._seconds, self._dbar):
            last = kept[-1]
            del kept[1::2]
            kept[-1] = last
