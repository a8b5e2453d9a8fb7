"""What stands for no delay, what is held, and what frames prove of a pack's clock."""

from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from protocol.delays import DelayGauge

S = 1_000_000_000


def test_age_is_what_came_on_top_of_the_quickest() -> None:
    gauge = DelayGauge()
    assert gauge.take(1, 1000, 101 * S) == 0  # 100 s of difference stands for no delay
    assert gauge.take(1, 2000, 101 * S + S // 2) == 0  # half a second quicker: the new best
    # 10 s later; best 99.5 s has risen by 500 ppm of 10 s = 5 ms.
    assert gauge.take(1, 7000, 111 * S + S // 2) == 5 * S - S // 200
    assert gauge.take(2, 0, 200 * S) == 0  # another boot, another clock


def test_held_beyond_ten_seconds() -> None:
    assert not DelayGauge.held(10 * S)
    assert DelayGauge.held(10 * S + 1)
    assert DelayGauge.held(2 * S, limit_ns=S)


def test_a_slow_pack_clock_is_not_taken_for_delay() -> None:
    gauge = DelayGauge()
    ages = []
    for step in range(0, 8 * 3600, 5):
        # 490 ppm slow: 1.8 s an hour, 14 s in a working day.
        uptime_ms = int(step * 1000 * (1 - 490e-6))
        ages.append(gauge.take(1, uptime_ms, step * S))
    assert max(ages) <= 2_000_000  # rounding to whole ms


def echoed(made_ns: int) -> int:
    """When the newest beacon was sent that a frame can answer with: one each 5 s."""
    return made_ns // (5 * S) * 5 * S


@pytest.mark.parametrize("ppm", [10_000, 3_000, -3_000, -10_000])
def test_a_clock_that_is_wrong_is_measured_by_echoes_and_its_frames_are_not_held(
    ppm: int,
) -> None:
    gauge = DelayGauge()
    random, made, proven_ns = Random(1), 0, None
    while made < 3_600 * S:
        made += random.randint(4_500, 5_000) * 1_000_000
        uptime_ms = made * (1_000_000 - ppm) // 10**12
        came = made + 50_000_000
        age = gauge.take(1, uptime_ms, came, came - echoed(made))
        assert not DelayGauge.held(age)
        gauge.measure(uptime_ms, came, came - echoed(made))
        if proven_ns is None and gauge.clock_ppm:
            proven_ns = made
    # Never more than it is; after an hour within the 5 s between two beacons: 1,400 ppm.
    assert abs(ppm) - 1_400 < gauge.clock_ppm * (1 if ppm > 0 else -1) <= abs(ppm)
    # The excess over the tolerance has come to 5 s and the 0.05 s on the way.
    assert proven_ns is not None
    assert proven_ns < 5.05 * S * 1_000_000 / (abs(ppm) - 500) + 60 * S
    # Beacons fail from here on: what has been proven is followed, the rest adds up.
    held = [s for s in range(0, 3_600, 5) if gauge_age(gauge, made + s * S, ppm) > 10 * S]
    # 10 s at 1,400 ppm that nothing has proven, if at most: two hours.
    assert held == []


def gauge_age(gauge: DelayGauge, made_ns: int, ppm: int) -> int:
    """The age of a frame at once received that answers no beacon."""
    return gauge.take(1, made_ns * (1_000_000 - ppm) // 10**12, made_ns)


@given(
    st.integers(-15_000, 15_000),
    st.lists(st.tuples(st.integers(1, 120), st.integers(0, 60), st.integers(0, 3)), max_size=60),
)
@settings(max_examples=200)
def test_whoever_holds_frames_back_can_never_teach_it_a_wrong_clock(
    ppm: int, frames: list[tuple[int, int, int]]
) -> None:
    """Whatever is held for how long, and whichever old beacon is answered: no more than true."""
    gauge, made, came = DelayGauge(), 0, 0
    for pause_s, held_s, beacons_back in frames:
        made += pause_s * S
        came = max(came, made + held_s * S)
        oldest = came - max(0, echoed(made) - beacons_back * 5 * S)
        uptime_ms = made * (1_000_000 - ppm) // 10**12
        age = gauge.take(1, uptime_ms, came, oldest)
        assert age <= oldest
        gauge.measure(uptime_ms, came, oldest)
        # Uptimes are whole milliseconds; over the least of 60 s that is 17 ppm.
        assert gauge._least - 17 <= ppm <= gauge._most + 17
        if abs(ppm) <= 480:
            assert gauge.clock_ppm == 0


@given(st.integers(-500, 500), st.integers(11, 59), st.integers(1, 100))
def test_what_is_held_back_is_found_whatever_was_taught(ppm: int, held_s: int, taught: int) -> None:
    """Frames held back longer and longer, up to the 10 s that go unnoticed; then one beyond it."""
    gauge = DelayGauge()
    for n in range(taught):
        made = n * 5 * S
        came = made + min(n * S // 10, 9 * S)
        uptime_ms = made * (1_000_000 - ppm) // 10**12
        gauge.take(1, uptime_ms, came, came - echoed(made))
        gauge.measure(uptime_ms, came, came - echoed(made))
    made = taught * 5 * S
    came = made + (held_s + 10) * S
    uptime_ms = made * (1_000_000 - ppm) // 10**12
    assert DelayGauge.held(gauge.take(1, uptime_ms, came, came - echoed(made)))


def test_a_frame_held_for_a_minute_is_found_whatever_the_order_of_arrival() -> None:
    gauge = DelayGauge()
    gauge.take(1, 5_000, 5 * S)
    age = gauge.take(1, 10_000, 70 * S)
    assert DelayGauge.held(age)
    assert gauge.take(1, 70_000, 70 * S) == 0


@given(st.lists(st.tuples(st.integers(1, 3), st.integers(0, 10**7)), min_size=1), st.integers())
def test_delays_by_a_clock_that_reads_more(frames: list[tuple[int, int]], more_ns: int) -> None:
    one, other = DelayGauge(), DelayGauge()
    now = 0
    for boot, uptime_ms in frames[:-1]:
        now += S
        one.take(boot, uptime_ms, now)
        other.take(boot, uptime_ms, now + more_ns)
    boot, uptime_ms = frames[-1]
    moved = one.moved(more_ns)
    now += S
    assert moved.take(boot, uptime_ms, now + more_ns) == other.take(boot, uptime_ms, now + more_ns)
