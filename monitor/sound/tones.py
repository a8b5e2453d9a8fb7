"""The tones, as timing and pitch. Pure.

Danger, caution and notice take their timing from IEC 60601-1-8 as a model (its figures from
memory): pulses and spacings of a high, medium and low priority signal. Each pitch has four
harmonics inside 300 to 4000 Hz, not more than 15 dB under the strongest part, so that a small
loudspeaker and an old ear have something left to work with.

Evacuation is the temporal pattern of ISO 8201: three pulses of 0.5 s, each followed by 0.5 s of
silence, the third by 1.5 s. It means "everybody out" and nothing else, so no alarm ever uses it.
"""

from dataclasses import dataclass

HARMONIC_DB = (0.0, -3.0, -6.0, -6.0, -9.0)
"""Level of the fundamental and its four harmonics, against the fundamental."""
CYCLES_MAX = 3
"""Of the evacuation tone: many buildings sound the same pattern, so it is kept short."""
NS_PER_MS = 1_000_000


@dataclass(frozen=True, slots=True)
class Tone:
    """Pulses of one pitch, with silences between them."""

    name: str
    pitch_hz: int
    pulse_ms: int
    gaps_ms: tuple[int, ...]
    """Silence after each pulse but the last."""
    tail_ms: int = 0
    """Silence after the last."""

    @property
    def length_ms(self) -> int:
        """From the start of the first pulse to the end of the tail."""
        return self.pulse_ms * (len(self.gaps_ms) + 1) + sum(self.gaps_ms) + self.tail_ms

    @property
    def length_ns(self) -> int:
        """The same in ns."""
        return self.length_ms * NS_PER_MS


_SPACING_MS = 75
_PULSE_MS = 125
_THIRD_MS = 2 * _SPACING_MS + _PULSE_MS
"""After the third pulse of five."""
_FIVE_MS = (_SPACING_MS, _SPACING_MS, _THIRD_MS, _SPACING_MS)
DANGER = Tone("danger", 660, _PULSE_MS, (*_FIVE_MS, 500, *_FIVE_MS))
"""Ten pulses: three and two, and again."""
CAUTION = Tone("caution", 440, 200, (200, 200))
NOTICE = Tone("notice", 330, 200, (200,))
"""No alarm sounds it: it is what one hears at the start, to know that there is sound."""


def evacuation(cycles: int = CYCLES_MAX) -> Tone:
    """Give the evacuation tone of 1 to ``CYCLES_MAX`` cycles of 4 s."""
    assert 1 <= cycles <= CYCLES_MAX, "asked for a tone that is not made"
    gaps_ms = (500, 500, 1500) * cycles
    return Tone("evacuation", 520, 500, gaps_ms[:-1], gaps_ms[-1])
