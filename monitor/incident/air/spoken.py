"""A gauge that is read out: whether what is said can be, after what was said before.

Air only falls, and no slower than the least breathing, as for a gauge that is stuck (``gauge``). So
of an earlier reading no more than so much can be left; one over that, by more than gauges differ
and people round, is in doubt. It may say one of two things:

- it rests: about what was said before, though air was breathed. To be said again makes it no
  better; a gauge that comes free is believed once it is as low as it must be;
- it rises: more than was said before. Then one of the two was misread or misheard. Within two
  minutes it puts the one before right; later, the next word that agrees with it does.
"""

from collections.abc import Iterator
from typing import NamedTuple

from monitor.incident.air.gauge import LEAST_L_MIN
from monitor.incident.air.shown import SECOND_NS

CORRECTED_NS = 120 * SECOND_NS
"""A higher reading by voice within so long puts the one before it right; a later one is a reading
of its own, before which air was used (our own choice)."""
KEPT_MAX = 12
"""Readings kept to hold the next against."""


class Word(NamedTuple):
    """One reading that was read out."""

    t: int
    """When, incident time in ns."""
    bar: float
    breathed_s: float
    """For how long the wearer had breathed from the own cylinder by then."""
    note: bytes = b""
    """What the caller notes with it."""


class Doubt(NamedTuple):
    """Why a word cannot be."""

    left_bar: float
    """The most that can be left."""
    rests_since: Word | None
    """From this one on the gauge shows no breathing; None: it rises."""


def most_left_bar(before: Word, breathed_s: float, litres_per_bar: float) -> float:
    """What the least breathing leaves of a reading.

    ``litres_per_bar``: free air that a bar is at most in this cylinder.
    """
    passed_s = max(0.0, breathed_s - before.breathed_s)
    return before.bar - LEAST_L_MIN / 60.0 * passed_s / litres_per_bar


class SpokenGauge:
    """What was read out of one cylinder in one wear, as far as it is believed."""

    __slots__ = ("_believed", "_doubted")

    def __init__(self) -> None:
        self._believed: list[Word] = []
        self._doubted: Word | None = None
        """The last word, where it is in doubt."""

    @property
    def last(self) -> Word | None:
        """The last one that is believed."""
        return self._believed[-1] if self._believed else None

    def doubt(self, word: Word, slack_bar: float, litres_per_bar: float) -> Doubt | None:
        """Hold a word against those before; None: it can be.

        ``slack_bar``: what two readings may differ by.
        """
        over = list(self._over(word, slack_bar, litres_per_bar))
        rests = [one for one in over if word.bar <= one.bar + slack_bar]
        if over and not rests:
            corrects = over == self._believed[-1:] and word.t - over[0].t <= CORRECTED_NS
            if corrects or self._agrees(word, over, slack_bar, litres_per_bar):
                over = []
        self._doubted = word if over else None
        if not over:
            return None

        def left_bar(one: Word) -> float:
            return most_left_bar(one, word.breathed_s, litres_per_bar)

        return Doubt(min(map(left_bar, over)), min(rests, key=left_bar, default=None))

    def believe(self, word: Word, slack_bar: float, litres_per_bar: float) -> None:
        """Keep a word that is believed. What contradicts it was not so."""
        over = set(self._over(word, slack_bar, litres_per_bar))
        kept = [one for one in self._believed if one not in over]
        self._believed = [*kept, word][-KEPT_MAX:]
        self._doubted = None

    def _over(self, word: Word, slack_bar: float, litres_per_bar: float) -> Iterator[Word]:
        """The earlier ones that leave less than is said."""
        for one in self._believed:
            left = most_left_bar(one, word.breathed_s, litres_per_bar)
            if one.t < word.t and word.bar > left + slack_bar:
                yield one

    def _agrees(
        self, word: Word, over: list[Word], slack_bar: float, litres_per_bar: float
    ) -> bool:
        """Whether the last word was as high over these, and leaves what is said now."""
        last = self._doubted
        if last is None:
            return False
        left = most_left_bar(last, word.breathed_s, litres_per_bar)
        rose = all(last.bar > one.bar + slack_bar for one in over)
        return rose and word.bar <= left + slack_bar
