"""IEC 60601-1-8 (figures from memory) and ISO 8201, as limits on what the tables say."""

import pytest

from monitor.sound.tones import CAUTION, DANGER, HARMONIC_DB, NOTICE, Tone, evacuation

LOW_HZ, HIGH_HZ = 300, 4_000
"""Where harmonics count."""


def test_danger_is_ten_pulses_three_and_two_twice() -> None:
    # Short, short, long, short, then the longest of all, then the same five again.
    short, _, third, *_ = DANGER.gaps_ms
    assert 75 <= DANGER.pulse_ms <= 200
    assert 50 <= short <= 125
    assert third == 2 * short + DANGER.pulse_ms
    assert DANGER.gaps_ms == (short, short, third, short, 500, short, short, third, short)
    assert 350 <= DANGER.gaps_ms[4] <= 1_300


@pytest.mark.parametrize(("tone", "pulses"), [(CAUTION, 3), (NOTICE, 2)])
def test_caution_is_three_slower_pulses_and_notice_two(tone: Tone, pulses: int) -> None:
    assert len(tone.gaps_ms) + 1 == pulses
    assert 125 <= tone.pulse_ms <= 250
    assert all(125 <= gap <= 250 for gap in tone.gaps_ms)


def test_the_length_is_that_of_all_pulses_and_gaps() -> None:
    # 10 x 125 + 6 x 75 + 2 x 275 + 500 = 2750; 3 x 200 + 2 x 200 = 1000.
    assert DANGER.length_ms == 2_750
    assert CAUTION.length_ns == 1_000_000_000
    # ISO 8201: one cycle is 0.5 + 0.5 + 0.5 + 0.5 + 0.5 + 1.5 = 4.0 s.
    assert [evacuation(n).length_ms for n in (1, 2, 3)] == [4_000, 8_000, 12_000]


@pytest.mark.parametrize("tone", [DANGER, CAUTION, NOTICE, evacuation()])
def test_each_pitch_has_four_harmonics_that_are_heard(tone: Tone) -> None:
    assert 150 <= tone.pitch_hz <= 1_000
    heard = [
        level
        for number, level in enumerate(HARMONIC_DB[1:], start=2)
        if LOW_HZ <= tone.pitch_hz * number <= HIGH_HZ and level >= -15
    ]
    assert len(heard) >= 4


def test_no_two_tones_have_one_pitch() -> None:
    assert len({tone.pitch_hz for tone in (DANGER, CAUTION, NOTICE, evacuation())}) == 4


@pytest.mark.parametrize("cycles", [0, 4])
def test_the_evacuation_tone_is_never_longer_than_three_cycles(cycles: int) -> None:
    with pytest.raises(AssertionError):
        evacuation(cycles)
