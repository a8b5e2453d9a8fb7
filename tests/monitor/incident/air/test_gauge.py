import math

import pytest

from monitor.incident.air.gauge import GaugeCheck, GaugeFault, stuck_after_s
from protocol.packets import Motion

S = 1_000_000_000
RATED = 300.0


def judged(
    *bars: float | None, every_s: int = 5, motion: Motion = Motion.MOVING, step_bar: float = 1.0
) -> list[GaugeFault | None]:
    """What a check says of readings that come so often."""
    check = GaugeCheck()
    return [check.take(bar, n * every_s * S, motion, RATED, step_bar) for n, bar in enumerate(bars)]


def test_a_gauge_that_falls_as_air_is_breathed_is_believed() -> None:
    # About 50 L/min from 6.8 L: 8 bar a minute.
    assert set(judged(*(300 - n * 8 // 12 for n in range(300)))) == {None}


@pytest.mark.parametrize("bar", [None, math.nan, math.inf])
def test_no_pressure_told_is_unreadable(bar: float | None) -> None:
    assert judged(300, bar, 299) == [None, GaugeFault.UNREADABLE, None]


@pytest.mark.parametrize("bar", [-0.1, 376.0, 6000.0])
def test_outside_what_a_cylinder_can_hold(bar: float) -> None:
    assert judged(300, bar, 299) == [None, GaugeFault.OUTSIDE, None]


def test_a_full_cylinder_in_the_sun_is_not_outside() -> None:
    # 300 bar filled at 15 C: 341 bar at 40 C, 374 at 60 C (equation of state of air).
    assert judged(341, 374) == [None, None]


def test_without_the_rated_pressure_only_below_zero_is_outside() -> None:
    check = GaugeCheck()
    assert check.take(500, 0, Motion.MOVING, None) is None
    assert check.take(-1, S, Motion.MOVING, None) is GaugeFault.OUTSIDE


def test_another_cylinder_is_rising_at_its_second_reading() -> None:
    assert judged(80, 79, 295, 294) == [None, None, None, GaugeFault.RISING]


def test_rising_lasts_until_it_is_as_low_again() -> None:
    assert judged(80, 79, 295, 294, 79, 78)[3:] == [GaugeFault.RISING, None, None]


def test_gas_that_warms_is_not_rising() -> None:
    # 20 K at 200 bar, at constant contents: 200 + 20 x 1.02 = 220 bar; lowest 200, allowed 225.
    assert set(judged(200, 200, 205, 210, 215, 220)) == {None}
    # At 300 bar 300 + 20 x 1.65 = 333; allowed 336.
    assert set(judged(300, 300, 310, 320, 333)) == {None}


def test_one_bad_reading_is_noise_whichever_way() -> None:
    assert set(judged(50, 50, 40, 50, 49)) == {None}
    assert set(judged(50, 50, 90, 49, 49)) == {None}


def test_stuck_after_three_minutes_of_motion_in_whole_bars() -> None:
    # Two steps of 1 bar in 13.6 L, at most 1.1 L each: 29.9 L; at 10 L/min 179.5 s.
    assert stuck_after_s(1.0) == pytest.approx(179.5, abs=0.1)
    found = judged(*[200.0] * 40)
    # The reading at 180 s is number 36.
    assert found[:36] == [None] * 36
    assert set(found[36:]) == {GaugeFault.STUCK}


def test_a_gauge_of_fine_steps_is_given_a_minute() -> None:
    assert stuck_after_s(0.1) == 60
    found = judged(*[200.0] * 15, step_bar=0.1)
    assert (found[12], found[13]) == (None, GaugeFault.STUCK)


def test_a_step_ends_it() -> None:
    found = judged(*[200.0] * 40, *[199.0] * 36)
    assert found[39] is GaugeFault.STUCK
    # Until five minutes are over in which it fell by that one step.
    assert set(found[40:60]) == {None}
    assert found[60] is GaugeFault.STUCK


def test_less_than_a_step_is_no_change() -> None:
    assert judged(*[200.0, 199.5] * 20)[-1] is GaugeFault.STUCK


def test_whoever_is_still_breathes_half_as_much_and_whoever_lies_may_not_at_all() -> None:
    # Twice 179.5 s: the reading at 360 s is number 72.
    found = judged(*[200.0] * 100, motion=Motion.STILL)
    assert found.index(GaugeFault.STUCK) == 72
    assert set(judged(*[200.0] * 400, motion=Motion.PRE_ALARM)) == {None}
    assert set(judged(*[200.0] * 400, motion=Motion.ALARM)) == {None}


def test_whose_motion_nobody_knows_is_taken_to_move() -> None:
    assert judged(*[200.0] * 37, motion=Motion.UNKNOWN)[36] is GaugeFault.STUCK


def test_a_gauge_that_falls_too_little_is_stuck() -> None:
    # 1 bar in 170 s of a 6.8 L cylinder: over 300 s it has fallen by 1 bar, and one more may be
    # hidden in its steps: 2 x 6.8 x 1.1 = 15 L, where 50 are the least at 10 L/min.
    bars = [250.0 - t // 170 for t in range(0, 1205, 5)]
    check = GaugeCheck()
    found = [
        check.take(bar, n * 5 * S, Motion.MOVING, RATED, 1.0, 6.8 * 1.1)
        for n, bar in enumerate(bars)
    ]
    assert found.index(GaugeFault.STUCK) == 60
    assert set(found[60:]) == {GaugeFault.STUCK}
    assert check.trusted is not None
    assert check.trusted[:2] == (0, 250.0)


def test_the_least_breathing_is_not_stuck() -> None:
    # 11 L/min from 6.8 L, about 0.9 L a bar and litre there: 1 bar each 33 s.
    assert set(judged(*[200.0 - t // 33 for t in range(0, 1800, 5)])) == {None}


def test_a_stuck_gauge_that_only_moves_again_stays_in_doubt() -> None:
    # 20 min at 250, then it falls as breathing makes it fall, but from 250: at 10 L/min 200 L have
    # gone at least, 200 / (13.6 x 1.1) = 13.4 bar; with 10 that gauges may differ by it must be
    # down to 246.6 at least, plus what the time since asks: at 240 it is believed.
    stuck = [250.0] * 241
    falling = [250.0 - n * 0.5 for n in range(1, 60)]
    found = judged(*stuck, *falling, step_bar=0.5)
    assert found[240] is GaugeFault.STUCK
    assert found[241] is GaugeFault.STUCK
    assert found[-1] is None


def test_a_stuck_gauge_that_comes_free_is_believed_once_it_falls_as_it_must() -> None:
    # It jumps to where it should be.
    found = judged(*[250.0] * 60, 190.0, 189.0)
    assert found[59] is GaugeFault.STUCK
    assert found[60:] == [None, None]


def test_rest_between_counts_half() -> None:
    check, motions = GaugeCheck(), (Motion.MOVING, Motion.STILL)
    found = [check.take(200, n * 5 * S, motions[n % 2], RATED) for n in range(100)]
    # Two readings add 7.5 s: more than 179.5 s at number 48.
    assert found.index(GaugeFault.STUCK) == 48
