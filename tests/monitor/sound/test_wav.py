"""What is in the samples, measured: when it is on, and what it is made of."""

import io
import math
import wave
from array import array

import pytest

from monitor.sound.tones import CAUTION, DANGER, NOTICE, Tone, evacuation
from monitor.sound.wav import RATE_HZ, wav

ALL = [DANGER, CAUTION, NOTICE, evacuation()]
WINDOW = 5 * RATE_HZ // 1000
"""5 ms: longer than half a period of the lowest pitch, 1.5 ms."""


def samples(data: bytes) -> "array[int]":
    with wave.open(io.BytesIO(data)) as file:
        assert (file.getnchannels(), file.getsampwidth(), file.getframerate()) == (1, 2, RATE_HZ)
        return array("h", file.readframes(file.getnframes()))


def spells_ms(heard: "array[int]") -> list[float]:
    """How long it is on, off, on ...: on while a quarter as loud as it ever gets."""
    loud = [
        max(abs(value) for value in heard[at : at + WINDOW]) for at in range(0, len(heard), WINDOW)
    ]
    on = [level >= max(loud) / 4 for level in loud]
    spells, start = [], 0
    for at in range(1, len(on) + 1):
        if at == len(on) or on[at] != on[start]:
            spells.append((at - start) * WINDOW * 1000 / RATE_HZ)
            start = at
    return spells


def level_db(heard: "array[int]", hertz: float) -> float:
    """How strong one frequency is (Goertzel's recurrence), in dB of no matter what."""
    turn = 2 * math.cos(math.tau * hertz / RATE_HZ)
    one = two = 0.0
    for value in heard:
        one, two = value + turn * one - two, one
    return 10 * math.log10(one * one + two * two - turn * one * two + 1e-9)


@pytest.mark.parametrize("tone", ALL, ids=lambda tone: tone.name)
def test_on_and_off_are_as_the_table_says_within_a_tenth(tone: Tone) -> None:
    wanted = [
        length for gap in (*tone.gaps_ms, tone.tail_ms) for length in (tone.pulse_ms, gap) if length
    ]
    assert spells_ms(samples(wav(tone))) == pytest.approx(wanted, rel=0.1)


def test_the_evacuation_tone_is_that_of_iso_8201() -> None:
    # On-times begin at 0, 1, 2, then 4, 5, 6 s; the fourth second is silent.
    heard = samples(wav(evacuation(2)))
    assert len(heard) == 8 * RATE_HZ
    spells = spells_ms(heard)
    assert spells == pytest.approx([500, 500, 500, 500, 500, 1_500] * 2, rel=0.1)
    begins = [sum(spells[:at]) / 1000 for at in range(0, len(spells), 2)]
    assert begins == pytest.approx([0, 1, 2, 4, 5, 6], abs=0.05)


@pytest.mark.parametrize("tone", ALL, ids=lambda tone: tone.name)
def test_its_spectrum_is_the_pitch_and_four_harmonics_within_15_db(tone: Tone) -> None:
    pulse = samples(wav(tone))[: RATE_HZ * tone.pulse_ms // 1000]
    levels = [level_db(pulse, tone.pitch_hz * number) for number in range(1, 6)]
    assert max(levels) - min(levels) <= 15
    # Half-way between them there is next to nothing: these are its harmonics and no noise.
    between = [level_db(pulse, tone.pitch_hz * (number + 0.5)) for number in range(1, 5)]
    assert max(between) < min(levels) - 15


@pytest.mark.parametrize("tone", ALL, ids=lambda tone: tone.name)
def test_it_is_loud_and_never_clipped_and_begins_and_ends_softly(tone: Tone) -> None:
    pulse = samples(wav(tone))[: RATE_HZ * tone.pulse_ms // 1000]
    assert max(abs(value) for value in pulse) == round(0.9 * 32_767)
    assert max(abs(value) for value in (*pulse[:10], *pulse[-10:])) < 500


@pytest.mark.parametrize("tone", ALL, ids=lambda tone: tone.name)
def test_the_same_tone_gives_the_same_bytes(tone: Tone) -> None:
    assert wav(tone) == wav(tone)
