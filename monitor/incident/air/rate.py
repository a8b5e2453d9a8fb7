"""How fast one wearer uses air: the sums that rates and forecasts are made of.

Theory. Each reading gives litres used over the seconds since the one before. Kept of them:

    T, U      all seconds and litres since connecting: the mean rate is U / T
    A, B      the same, fading with e^(-d / 60 s): the recent rate is A / B
    r_1 .. r_n   mean rates of stretches of a minute, as n, sum and sum of squares: how unevenly
              this wearer works

Litres are free air (1.01325 bar, 15 C); a rate is litres a second. Noise of the gauge may make a
stretch negative: it is taken as it is, since the next one gives it back and the totals stay true.
"""

import math
import struct
from typing import NamedTuple

FADE_S = 60.0
"""Memory of the recent rate: long against the steps of a gauge, short against a spell of work."""
MINUTE_S = 60.0
MINUTE_S_MAX = 120.0
"""A stretch without readings longer than this says nothing about single minutes."""

_RECORD = struct.Struct("<8dI")
"""The sums live packed: boxed one by one they would take three times the memory."""


class Sums(NamedTuple):
    """What has been added up, see the theory above."""

    seconds: float
    litres: float
    recent_l: float
    recent_s: float
    minute_s: float
    """Of the minute not yet complete."""
    minute_l: float
    rates: float
    """Sum of the rates of whole minutes, L/s."""
    squares: float
    """Sum of their squares."""
    minutes: int
    """How many they are."""

    def recent_l_s(self) -> float | None:
        """Rate of about the last minute, never under 0; None before the second reading."""
        return max(0.0, self.recent_l / self.recent_s) if self.recent_s else None

    def mean_l_s(self) -> float | None:
        """Rate of all of it, never under 0; None before the second reading."""
        return max(0.0, self.litres / self.seconds) if self.seconds else None

    def since(self, before: "Sums") -> "Sums":
        """What was added after ``before``, sums of the same wear.

        All are plain sums but the recent ones, which have faded meanwhile. The minute in which it
        began counts whole: it is one of many.
        """
        seconds = max(0.0, self.seconds - before.seconds)
        kept = math.exp(-seconds / FADE_S)
        return Sums(
            seconds,
            self.litres - before.litres,
            self.recent_l - before.recent_l * kept,
            max(0.0, self.recent_s - before.recent_s * kept),
            self.minute_s,
            self.minute_l,
            self.rates - before.rates,
            max(0.0, self.squares - before.squares),
            max(0, self.minutes - before.minutes),
        )


NOTHING = Sums(0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0)


class Consumption:
    """The sums of one wear. One ``take`` a reading, from connecting on."""

    __slots__ = ("record",)

    def __init__(self) -> None:
        self.record = bytes(_RECORD.size)
        """All of it, packed. Putting an earlier one back forgets what was added since."""

    @property
    def sums(self) -> Sums:
        """All of them."""
        return Sums._make(_RECORD.unpack(self.record))

    def take(self, used_l: float, seconds: float) -> None:
        """Add the litres used in the seconds since the reading before.

        Nothing is added for no time, or for anything that is not a number.
        """
        if not (0.0 < seconds < math.inf and math.isfinite(used_l)):
            return
        total_s, total_l, recent_l, recent_s, minute_s, minute_l, rates, squares, minutes = (
            _RECORD.unpack(self.record)
        )
        kept = math.exp(-seconds / FADE_S)
        # A gap longer than the memory counts as one memory: the mean over ten minutes is no more
        # certain to be the present rate than the mean over one.
        share = 1.0 if seconds <= FADE_S else FADE_S / seconds
        minute_s += seconds
        minute_l += used_l
        if minute_s >= MINUTE_S:
            if minute_s <= MINUTE_S_MAX:
                rate = minute_l / minute_s
                rates += rate
                squares += rate * rate
                minutes += 1
            minute_s = minute_l = 0.0
        self.record = _RECORD.pack(
            total_s + seconds,
            total_l + used_l,
            recent_l * kept + used_l * share,
            recent_s * kept + seconds * share,
            minute_s,
            minute_l,
            rates,
            squares,
            minutes,
        )

    def recent_l_s(self) -> float | None:
        """As of its sums."""
        return self.sums.recent_l_s()

    def mean_l_s(self) -> float | None:
        """As of its sums."""
        return self.sums.mean_l_s()
