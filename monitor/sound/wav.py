"""A tone as a WAV file, by the standard library alone. The same tone gives the same bytes."""

import io
import math
import sys
import wave
from array import array

from monitor.sound.tones import HARMONIC_DB, Tone

RATE_HZ = 48_000
"""What sound hardware runs at: nothing has to be converted on the way."""
PEAK = 0.9
"""Of full scale, at the loudest point: louder would be clipped by some outputs."""
RAMP_MS = 5
"""Each pulse comes and goes within this: no clicks."""


def wav(tone: Tone) -> bytes:
    """Give the tone as a WAV file: 16 bits, one channel."""
    pulse = _pulse(tone)
    made = array("h")
    for gap_ms in (*tone.gaps_ms, tone.tail_ms):
        made += pulse
        made.frombytes(bytes(2 * _samples(gap_ms)))
    if sys.byteorder == "big":
        made.byteswap()
    file = io.BytesIO()
    with wave.open(file, "wb") as writer:
        writer.setnchannels(1)
        writer.setsampwidth(2)
        writer.setframerate(RATE_HZ)
        writer.writeframes(made.tobytes())
    return file.getvalue()


def _samples(length_ms: int) -> int:
    return RATE_HZ * length_ms // 1000


def _pulse(tone: Tone) -> "array[int]":
    """One pulse: fundamental and harmonics, faded in and out."""
    parts = [
        (math.tau * tone.pitch_hz * number / RATE_HZ, 10 ** (level_db / 20))
        for number, level_db in enumerate(HARMONIC_DB, start=1)
    ]
    length, ramp = _samples(tone.pulse_ms), _samples(RAMP_MS)
    wave_form = [
        sum(level * math.sin(step * n) for step, level in parts)
        * math.sin(math.pi / 2 * min(1, n / ramp, (length - n) / ramp)) ** 2
        for n in range(length)
    ]
    loudest = max(abs(value) for value in wave_form)
    return array("h", (round(value / loudest * PEAK * 32_767) for value in wave_form))
