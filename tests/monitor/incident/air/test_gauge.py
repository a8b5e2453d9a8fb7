import math

import pytest

from monitor.incident.air.gauge import GaugeCheck, GaugeFault, stuck_after_s

S = 1_000_000_000
RATED = 300.0


def judged(
    *bars: float | None, every_s: int = 5, moving: bool = True, step_bar: float = 1.0
) -> list[GaugeFault | None]:
    """What a check says of readings that come so often."""
    check = GaugeCheck()
    return [check.take(bar, n * every_s * S, moving, RATED, step_bar) for n, bar in enumerate(bars)]


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
    assert check.take(500, 0, True, None) is None
    assert check.take(-1, S, True, None) is GaugeFault.OUTSIDE


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
    assert set(found[40:]) == {None}


def test_less_than_a_step_is_no_change() -> None:
    assert judged(*[200.0, 199.5] * 20)[-1] is GaugeFault.STUCK


def test_whoever_does_not_move_may_hardly_breathe() -> None:
    assert set(judged(*[200.0] * 400, moving=False)) == {None}


def test_rest_between_is_not_counted_as_motion() -> None:
    check = GaugeCheck()
    found = [check.take(200, n * 5 * S, n % 2 == 0, RATED) for n in range(100)]
    # Every other reading adds 5 s: more than 179.5 s at the 36th, which is number 72.
    assert found.index(GaugeFault.STUCK) == 72
