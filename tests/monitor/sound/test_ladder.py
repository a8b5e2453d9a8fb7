"""The ladder asked every 50 ms of a made-up time, and what it had played."""

from collections.abc import Callable
from itertools import pairwise

import pytest

from monitor.incident.picture import Sounding
from monitor.sound.ladder import Ladder
from monitor.sound.tones import CAUTION, DANGER

MS = 1_000_000
S = 1_000_000_000
STEP_NS = 50 * MS
QUIET = Sounding()


def heard(waits: Callable[[int], Sounding], until_s: float) -> list[tuple[float, str]]:
    """All that sounded, with the second it began; ``waits`` says what waits at a time."""
    ladder, cues = Ladder(), []
    for now_ns in range(0, round(until_s * S), STEP_NS):
        cue = ladder.look(now_ns, waits(now_ns))
        if cue is not None:
            cues.append((now_ns / S, cue if isinstance(cue, str) else cue.name))
    return cues


def test_nothing_waits_nothing_sounds() -> None:
    assert heard(lambda _: QUIET, 60) == []


def test_a_danger_sounds_at_once_and_again_every_ten_seconds() -> None:
    # A burst of 2.75 s, then 7.5 s: 10.25 s from start to start.
    cues = heard(lambda _: Sounding(danger_ns=0), 30)
    assert cues == [(0, "danger"), (10.25, "danger"), (20.5, "danger")]


def test_from_30_s_on_it_insists() -> None:
    # Announced again at 30 s: at once; then every 2.75 + 2.5 = 5.25 s.
    def waits(now_ns: int) -> Sounding:
        insists = now_ns >= 30 * S
        return Sounding(danger_ns=30 * S if insists else 0, insistent=insists)

    assert [at for at, _ in heard(waits, 41)][3:] == [30, 35.25, 40.5]


def test_a_caution_repeats_rarely() -> None:
    # 1 s and 25 s of silence.
    cues = heard(lambda _: Sounding(caution_ns=0), 53)
    assert cues == [(0, "caution"), (26, "caution"), (52, "caution")]


def test_a_new_danger_cuts_a_caution_short() -> None:
    def waits(now_ns: int) -> Sounding:
        return Sounding(danger_ns=500 * MS if now_ns >= 500 * MS else None, caution_ns=0)

    assert heard(waits, 5) == [(0, "caution"), (0.5, "danger")]


def test_a_second_danger_sounds_after_the_burst_that_sounds_already() -> None:
    # One at 0, one at 1 s; the burst ends at 2.75 s, the shortest silence at 5.25 s.
    cues = heard(lambda now_ns: Sounding(danger_ns=S if now_ns >= S else 0), 10)
    assert cues == [(0, "danger"), (5.25, "danger")]


def test_a_second_danger_does_not_wait_for_the_next_turn() -> None:
    # The first burst ends at 2.75 s; 2.5 s of silence are over at 5.25 s.
    cues = heard(lambda now_ns: Sounding(danger_ns=4 * S if now_ns >= 4 * S else 0), 10)
    assert cues == [(0, "danger"), (5.25, "danger")]
    cues = heard(lambda now_ns: Sounding(danger_ns=7 * S if now_ns >= 7 * S else 0), 10)
    assert cues == [(0, "danger"), (7, "danger")]


def test_a_caution_under_a_danger_is_not_heard_until_that_is_taken() -> None:
    def waits(now_ns: int) -> Sounding:
        if now_ns < 5 * S:
            return Sounding(danger_ns=0, caution_ns=1 * S)
        return Sounding(caution_ns=1 * S)

    assert heard(waits, 10) == [(0, "danger"), (5, "caution")]


def test_what_is_taken_stops_in_the_middle() -> None:
    cues = heard(lambda now_ns: Sounding(danger_ns=0) if now_ns < S else QUIET, 10)
    assert cues == [(0, "danger"), (1, "stop")]


def test_a_danger_taken_in_its_burst_stops_and_the_caution_below_it_sounds() -> None:
    def waits(now_ns: int) -> Sounding:
        return Sounding(danger_ns=0 if now_ns < S else None, caution_ns=0)

    assert heard(waits, 10) == [(0, "danger"), (1, "stop"), (1.05, "caution")]


def test_one_of_two_dangers_taken_does_not_stop_the_other() -> None:
    cues = heard(lambda now_ns: Sounding(danger_ns=1 if now_ns < S else 0), 5)
    assert cues == [(0, "danger")]


def test_silenced_it_stops_and_comes_back_when_the_silence_ends() -> None:
    def waits(now_ns: int) -> Sounding:
        return Sounding(danger_ns=0, silenced_ns=max(0, 61 * S - now_ns) if now_ns >= S else 0)

    assert heard(waits, 63) == [(0, "danger"), (1, "stop"), (61, "danger")]


def test_taken_and_come_again_sounds_again() -> None:
    def waits(now_ns: int) -> Sounding:
        if S <= now_ns < 2 * S:
            return QUIET
        return Sounding(danger_ns=2 * S if now_ns >= 2 * S else 0)

    assert heard(waits, 4) == [(0, "danger"), (1, "stop"), (2, "danger")]


@pytest.mark.parametrize("every_ms", [100, 400, 1_000, 3_000])
def test_a_flood_of_cautions_is_no_flood_of_sound(every_ms: int) -> None:
    """However fast they come, there is more silence than sound."""
    cues = heard(lambda now_ns: Sounding(caution_ns=now_ns // (every_ms * MS) * every_ms * MS), 60)
    assert len(cues) * CAUTION.length_ns <= 60 * S / 2


def test_a_burst_of_danger_is_never_cut_by_more_danger() -> None:
    cues = heard(lambda now_ns: Sounding(danger_ns=now_ns), 60)
    starts = [at for at, _ in cues]
    pairs = pairwise(starts)
    assert all(later - at >= DANGER.length_ns / S + 2.5 for at, later in pairs)
