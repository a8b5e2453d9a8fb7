"""Readings of one wear, taken in."""

import pytest

from monitor.incident.air import gas
from monitor.incident.air.breathing import NEW_CYLINDER_BAR, Breathing
from monitor.incident.air.gauge import GaugeFault
from monitor.incident.air.shown import Cylinder, Reading
from monitor.incident.picture import AirFrom
from protocol.packets import Motion

S = 1_000_000_000
CYLINDER = Cylinder(6.8, 300, 105, 20)


def breathing(cylinder: Cylinder = CYLINDER) -> Breathing:
    return Breathing(0, cylinder, 1.0)


def breathe(told: Breathing, rate_l_min: float, seconds: int, start_bar: float = 300) -> float:
    """A steady breather with an exact gauge, a report each 5 s; gives the last pressure."""
    contents = gas.usable_l(start_bar, 6.8, 20)
    bar = start_bar
    for t in range(0, seconds + 1, 5):
        bar = gas.gauge_bar(contents - rate_l_min / 60 * t, 6.8, 20)
        told.take(t * S, bar, 20, motion=Motion.MOVING, told=True)
    return bar


@pytest.mark.parametrize("start_bar", [300, 250, 200, 150, 110])
def test_fifty_litres_a_minute_are_fifty_at_every_pressure(start_bar: float) -> None:
    """Pressure times volume would read 75 L/min near 300 bar.

    Equation of state of air (Lemmon et al. 2000): the gauge falls 11.0 bar/min there, 7.3 near
    55 bar, at the same 50 L/min.
    """
    told = breathing()
    breathe(told, 50, 300, start_bar)
    recent = told.consumption.recent_l_s()
    mean = told.consumption.mean_l_s()
    assert recent is not None
    assert mean is not None
    assert recent * 60 == pytest.approx(50, abs=2)
    assert mean * 60 == pytest.approx(50, abs=2)


def test_gas_that_cools_is_no_leak_where_its_temperature_is_told() -> None:
    """300 bar at 15 C are 275 bar at 0 C, with nothing used (same equation of state).

    For the count it is air gone: the mark will come by pressure too. 300 to 275.1 bar are 114 L at
    15 C (1826 and 1712 L usable of 6.8 L: CoolProp).
    """
    bars = (300.0, 300.0, 287.5, 275.1)
    told, untold = breathing(), breathing()
    for n, bar in enumerate(bars):
        gas_c = round(15 - 7.5 * max(0, n - 1))
        told.take(10 * n * S, bar, gas_c, motion=Motion.MOVING, told=True)
        untold.take(10 * n * S, bar, None, motion=Motion.MOVING, told=True)
    assert untold.leaking
    assert not told.leaking
    assert told.consumption.sums == untold.consumption.sums
    assert told.consumption.sums.litres == pytest.approx(114, abs=4)


def test_a_free_flow_is_found_and_is_over_when_it_stops() -> None:
    told = breathing()
    bar = breathe(told, 50, 60)
    contents = gas.usable_l(bar, 6.8, 20)
    found = []
    for step in range(1, 7):
        bar = gas.gauge_bar(contents - 300 / 60 * 5 * step, 6.8, 20)
        found.append(told.take((60 + 5 * step) * S, bar, 20, motion=Motion.MOVING, told=True))
    # 300 L/min are 8.3 L over the limit of 200 L/min at each report of 5 s: over 20 L with the
    # third, confirmed with the fourth.
    assert found == [False, False, False, True, False, False]
    assert told.leaking


def test_a_reading_by_voice_is_counted_and_never_a_leak() -> None:
    told = breathing()
    told.take(0, 300, None, motion=Motion.STILL, told=False)
    told.take(60 * S, 200, None, motion=Motion.STILL, told=False)
    told.take(120 * S, 100, None, motion=Motion.STILL, told=False)
    assert not told.leaking
    used = gas.usable_l(300, 6.8, 20) - gas.usable_l(100, 6.8, 20)
    assert told.consumption.sums.litres == pytest.approx(used)


def test_a_word_that_is_put_right_counts_nothing() -> None:
    """As if it had not been said: 265, 14, 240 bar are what 265 and 240 are."""
    wrong, right = breathing(), breathing()
    for told, words in (
        (wrong, ((0, 290), (200, 265), (400, 14), (410, 240), (600, 215))),
        (right, ((0, 290), (200, 265), (410, 240), (600, 215))),
    ):
        for t_s, bar in words:
            told.take(t_s * S, bar, None, motion=Motion.UNKNOWN, told=False)
    assert wrong.consumption.sums == right.consumption.sums


def test_another_cylinder_does_not_give_air_back() -> None:
    told = breathing()
    breathe(told, 50, 300, 200)
    used = told.consumption.sums.litres
    told.take(305 * S, 200 + NEW_CYLINDER_BAR, 20, motion=Motion.MOVING, told=True)
    assert told.consumption.sums.litres == used
    assert told.take(310 * S, 200 + NEW_CYLINDER_BAR, 20, motion=Motion.MOVING, told=True)
    assert told.fault is GaugeFault.RISING
    told.another_cylinder()
    assert told.fault is None
    told.take(315 * S, 200 + NEW_CYLINDER_BAR, 20, motion=Motion.MOVING, told=True)
    assert told.consumption.sums.litres == used


def test_one_bad_reading_gives_its_air_back() -> None:
    told = breathing()
    breathe(told, 50, 300, 200)
    used = told.consumption.sums.litres
    bar = told.history.points()[-1][1]
    told.take(305 * S, bar - 50, 20, motion=Motion.MOVING, told=True)
    told.take(310 * S, bar, 20, motion=Motion.MOVING, told=True)
    # The history keeps tenths of a bar: 0.7 L of this cylinder.
    assert told.consumption.sums.litres == pytest.approx(used, abs=0.7)
    assert told.fault is None


def test_on_another_supply_the_gauge_is_kept_and_nothing_counted() -> None:
    told = breathing()
    breathe(told, 50, 60)
    used = told.consumption.sums.litres
    told.own = False
    for t in range(65, 2000, 5):
        told.take(t * S, 280, 20, motion=Motion.MOVING, told=True)
    assert told.fault is None
    told.own = True
    told.take(2005 * S, 280, 20, motion=Motion.MOVING, told=True)
    assert told.consumption.sums.litres == used
    assert told.history.points()[-1] == (2005, 280)


def test_without_a_water_volume_pressures_are_kept_and_nothing_is_counted() -> None:
    told = breathing(Cylinder(None, 300, 105, 20))
    breathe(told, 50, 60)
    assert told.consumption.sums.seconds == 0
    assert len(told.history.points()) == 13
    # Told at last, it counts from there.
    told.fit(CYLINDER, 1.0)
    told.take(65 * S, 280, 20, motion=Motion.MOVING, told=True)
    told.take(70 * S, 279, 20, motion=Motion.MOVING, told=True)
    assert told.consumption.sums.seconds == 5


def test_readings_that_are_not_later_are_passed_over() -> None:
    told = breathing()
    told.take(10 * S, 300, 20, motion=Motion.MOVING, told=True)
    told.take(10 * S, 100, 20, motion=Motion.MOVING, told=True)
    told.take(5 * S, 100, 20, motion=Motion.MOVING, told=True)
    assert told.history.points() == ((10, 300),)


def test_what_was_reckoned_goes_with_the_next_reading() -> None:
    told = breathing()
    told.until_s[1.0,] = 5.0
    told.take(10 * S, 300, 20, motion=Motion.MOVING, told=True)
    assert not told.until_s


# ---------------------------------------------------------------- readings that are believed


def told_at(t_s: int, bar: float) -> Reading:
    return Reading(t_s * S, bar, AirFrom.TELEMETRY)


def test_a_rise_is_believed_at_its_second_reading_and_its_fall_is_no_use() -> None:
    told = breathing()
    bar = breathe(told, 50, 60)
    used = told.consumption.sums.litres
    assert not told.take(65 * S, bar + 10, 20, motion=Motion.MOVING, told=True)
    assert told.believed(told_at(65, bar + 10)) == told_at(60, bar)
    told.take(70 * S, bar, 20, motion=Motion.MOVING, told=True)
    assert told.believed(told_at(70, bar)) == told_at(70, bar)
    assert told.consumption.sums.litres == pytest.approx(used, abs=0.7)
    assert not told.leaking
    # Twice running it is so: 10 bar more are given back, not lost.
    told.take(75 * S, bar + 10, 20, motion=Motion.MOVING, told=True)
    assert told.take(80 * S, bar + 10, 20, motion=Motion.MOVING, told=True)
    assert told.believed(told_at(80, bar + 10)) == told_at(80, bar + 10)
    assert told.consumption.sums.litres < used


def test_three_steps_are_no_rise() -> None:
    told = breathing()
    bar = breathe(told, 50, 60)
    told.take(65 * S, bar + 3, 20, motion=Motion.MOVING, told=True)
    assert told.believed(told_at(65, bar + 3)) == told_at(65, bar + 3)


def test_a_first_reading_that_was_too_high_is_no_loss() -> None:
    told = breathing()
    for t, bar in ((5, 300), (10, 289), (15, 288), (20, 288), (25, 287)):
        told.take(t * S, bar, 20, motion=Motion.MOVING, told=True)
    assert not told.leaking
    # 289 to 287 bar, less than 5 L a bar.
    assert told.consumption.sums.litres < 12


def test_a_free_flow_from_the_first_reading_on_is_found_one_reading_later() -> None:
    # 500 L/min: 42 L each 5 s, over 20 L more than the 16.7 that are allowed.
    told = breathing()
    contents = gas.usable_l(300, 6.8, 20)
    found = []
    for n in range(5):
        bar = gas.gauge_bar(contents - 500 / 12 * n, 6.8, 20)
        told.take(5 * (n + 1) * S, bar, 20, motion=Motion.MOVING, told=True)
        found.append(told.leaking)
    assert found == [False, False, False, True, True]


def test_what_was_told_at_connecting_is_the_level_that_a_rise_is_held_against() -> None:
    told = breathing()
    told.begin_at(told_at(0, 150))
    told.take(5 * S, 300, 20, motion=Motion.MOVING, told=True)
    assert told.believed(told_at(5, 300)) == told_at(0, 150)
    told.take(10 * S, 299, 20, motion=Motion.MOVING, told=True)
    assert told.believed(told_at(10, 299)) == told_at(10, 299)
    # 5 s from connecting to the first of the two; they agree, so the higher counts.
    assert (told.confirmed_bar, told.risen_after_ns) == (300, 5 * S)


def test_two_readings_that_do_not_agree_confirm_the_lower() -> None:
    told = breathing()
    told.begin_at(told_at(0, 150))
    told.take(5 * S, 310, 20, motion=Motion.MOVING, told=True)
    told.take(10 * S, 299, 20, motion=Motion.MOVING, told=True)
    assert told.confirmed_bar == 299


def test_one_fall_that_stands_alone() -> None:
    told = breathing()
    told.take(5 * S, 262, 20, motion=Motion.MOVING, told=True)
    told.take(10 * S, 2, 20, motion=Motion.MOVING, told=True)
    assert told.without_one_fall(2) == 262
    told.take(15 * S, 2, 20, motion=Motion.MOVING, told=True)
    assert told.without_one_fall(2) == 2


def test_a_pressure_outside_the_rating_is_no_reading() -> None:
    told = breathing()
    bar = breathe(told, 50, 60)
    before, points = told.consumption.sums, told.history.points()
    # 1.25 x 300 = 375 bar.
    assert told.take(65 * S, 375.1, 20, motion=Motion.MOVING, told=True)
    assert told.fault is GaugeFault.OUTSIDE
    assert (told.consumption.sums, told.history.points()) == (before, points)
    assert told.believed(told_at(65, 375.1)) == told_at(60, bar)


def test_a_stuck_gauge_teaches_nothing() -> None:
    told = breathing()
    bar = breathe(told, 50, 300)
    before = told.consumption.sums
    for t in range(305, 600, 5):
        told.take(t * S, bar, 20, motion=Motion.MOVING, told=True)
    assert told.fault is GaugeFault.STUCK
    assert told.consumption.sums == before
    assert told.believed(told_at(595, bar)) == told_at(300, bar)
