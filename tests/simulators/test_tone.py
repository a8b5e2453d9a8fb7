from itertools import islice, pairwise

import pytest

from simulators.tone import CYCLE_NS, Tone

MS = 1_000_000
S = 1_000 * MS


def test_the_pulses_are_those_of_iso_8201() -> None:
    """Three of 0.5 s, 0.5 s apart, then 1.5 s off; the cycle 4.0 s; each within 10 %."""
    pulses = list(islice(Tone(1, 100 * S).pulses(200 * S), 7))
    starts = [(on - 100 * S) / S for on, _ in pulses]
    assert starts == pytest.approx([0, 1, 2, 4, 5, 6, 8], abs=0.05)
    assert all(0.45 * S <= off - on <= 0.55 * S for on, off in pulses)
    silences = [(after - off) / S for (_, off), (after, _) in pairwise(pulses)]
    assert silences == pytest.approx([0.5, 0.5, 1.5, 0.5, 0.5, 1.5], rel=0.1)
    assert pytest.approx(4.0 * S) == CYCLE_NS


def test_it_is_on_exactly_within_its_pulses() -> None:
    tone = Tone(1, 7)
    pulses = list(tone.pulses(7 + 8 * S))
    for t_ns in range(7, 7 + 8 * S, 50 * MS):
        assert tone.on(t_ns) == any(on <= t_ns < off for on, off in pulses), t_ns
    for on, off in pulses:
        assert (tone.on(on), tone.on(off - 1), tone.on(off)) == (True, True, False)


def test_a_tone_that_is_stopped_is_cut_where_it_was() -> None:
    tone = Tone(1, 0)
    assert list(tone.pulses(0)) == []
    assert list(tone.pulses(1200 * MS)) == [(0, 500 * MS), (1000 * MS, 1200 * MS)]
    assert list(tone.pulses(1000 * MS)) == [(0, 500 * MS)]
