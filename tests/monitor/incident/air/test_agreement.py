"""Two readings at different times: what may be left, and what was there before."""

import pytest

from monitor.incident.air import gas
from monitor.incident.air.agreement import most_left_bar, used_back_bar
from monitor.incident.air.forecast import Outlook
from monitor.incident.air.shown import Cylinder, Reading
from monitor.incident.picture import AirFrom

S = 1_000_000_000
CYLINDER = Cylinder(6.8, 300, 105, 15)


def test_at_the_time_of_the_reading_all_of_it_is_left() -> None:
    reading = Reading(10 * S, 220, AirFrom.VOICE)
    assert most_left_bar(reading, CYLINDER, 10 * S) == pytest.approx(220)
    assert most_left_bar(reading, CYLINDER, 5 * S) == pytest.approx(220)


def test_nobody_breathes_less_than_five_litres_a_minute() -> None:
    # Ten minutes: 50 L.
    reading = Reading(0, 220, AirFrom.VOICE)
    left = gas.gauge_bar(gas.usable_l(220, 6.8, 15) - 50, 6.8, 15)
    assert most_left_bar(reading, CYLINDER, 600 * S) == pytest.approx(left)


def test_whoever_is_known_to_breathe_more_has_less() -> None:
    # 60 L/min without any spread: 600 L in ten minutes.
    reading = Reading(0, 220, AirFrom.VOICE)
    known = Outlook(m=1.0, x=0.0, s=0.0, v_m=0.0)
    left = gas.gauge_bar(gas.usable_l(220, 6.8, 15) - 600, 6.8, 15)
    assert most_left_bar(reading, CYLINDER, 600 * S, known) == pytest.approx(left)
    # So unsure that nothing is known: the least again.
    unsure = Outlook(m=1.0, x=0.0, s=0.0, v_m=1.0)
    least = most_left_bar(reading, CYLINDER, 600 * S)
    assert most_left_bar(reading, CYLINDER, 600 * S, unsure) == least


def test_what_was_used_is_added_up_to_a_full_one() -> None:
    # 100 L/min for 5 min.
    before = gas.gauge_bar(gas.usable_l(200, 6.8, 15) + 500, 6.8, 15)
    assert used_back_bar(200, 300, 100, CYLINDER, 300) == pytest.approx(before)
    assert used_back_bar(250, 1200, 100, CYLINDER, 300) == 300
    # A cylinder filled over its rating is not taken to have had less than it has.
    assert used_back_bar(310, 60, 100, CYLINDER, 300) == 310


def test_an_unknown_cylinder_is_the_smallest() -> None:
    untold = Cylinder(None, None, None, 15)
    # 3 L.
    before = gas.gauge_bar(gas.usable_l(100, 3.0, 15) + 100, 3.0, 15)
    assert used_back_bar(100, 60, 100, untold, 450) == pytest.approx(before)
    reading = Reading(0, 100, AirFrom.VOICE)
    left = gas.gauge_bar(gas.usable_l(100, 3.0, 15) - 5, 3.0, 15)
    assert most_left_bar(reading, untold, 60 * S) == pytest.approx(left)
