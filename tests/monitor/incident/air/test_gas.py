"""Contents against the reference equation of state and published figures.

Free air is dry air at 1.01325 bar and 15 C unless said otherwise. Figures at 20 C are 1.0174 times
those at 15 C (densities 42.31036 and 41.58661 mol/m3).
"""

import pytest
from CoolProp.CoolProp import PropsSI
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.incident.air import gas

LITRES_20_C = 42.31036 / 41.58661
BAR = 1e5


def true_free_per_litre(absolute_bar: float, temperature_c: float) -> float:
    inside = PropsSI("Dmolar", "P", absolute_bar * BAR, "T", temperature_c + 273.15, "Air")
    return float(inside / PropsSI("Dmolar", "P", 1.01325 * BAR, "T", 288.15, "Air"))


@pytest.mark.parametrize("temperature_c", [-20, -10, 0, 15, 20, 30, 40, 60])
@pytest.mark.parametrize("gauge", [1, 10, 55, 105, 150, 200, 250, 300, 340, 380])
def test_within_a_fifth_of_a_percent_of_the_equation_of_state(
    gauge: float, temperature_c: float
) -> None:
    absolute = gauge + 1.01325
    ours = gas.free_per_litre(absolute, temperature_c)
    assert ours == pytest.approx(true_free_per_litre(absolute, temperature_c), rel=0.00201)


# Usable litres at 15 C free air, computed with CoolProp 8.0, fluid Air.
@pytest.mark.parametrize(
    ("gauge", "temperature_c", "volume_l", "usable_l"),
    [
        (200, -10, 6.8, 1481),
        (200, 15, 6.8, 1313),
        (207, 20, 3, 584),
        (300, -10, 9, 2692),
        (300, 15, 6.8, 1826),
        (300, 15, 6, 1611),
        (300, 40, 6.8, 1658),
        (310, 20, 9, 2426),
        (379, 15, 6.8, 2148),
        (379, 40, 9, 2604),
    ],
)
def test_usable_air_of_usual_cylinders(
    gauge: float, temperature_c: float, volume_l: float, usable_l: float
) -> None:
    assert gas.usable_l(gauge, volume_l, temperature_c) == pytest.approx(usable_l, rel=0.003)


# Contents in litres at 20 C, all of the air (one water volume more than can be breathed).
@pytest.mark.parametrize(
    ("volume_l", "gauge", "contents_l"),
    [(6.8, 300, 1827), (6, 300, 1612), (9, 200, 1738), (6.8, 55, 381), (12, 379, 3799)],
)
def test_total_contents_at_20_c(volume_l: float, gauge: float, contents_l: float) -> None:
    left_behind = gas.free_per_litre(gas.ATMOSPHERE_BAR, 20) * volume_l
    total = gas.usable_l(gauge, volume_l, 20) + left_behind
    assert total * LITRES_20_C == pytest.approx(contents_l, rel=0.005)


def test_a_full_cylinder_holds_far_less_than_pressure_times_volume() -> None:
    # 6.8 L at 300 bar: 2040 by pressure times volume, 1826 truly.
    assert 2040 / gas.usable_l(300, 6.8, 15) == pytest.approx(1.117, abs=0.003)


# Gauge pressure of a cylinder filled at 15 C, cooled or warmed at constant contents.
@pytest.mark.parametrize(
    ("filled", "temperature_c", "gauge"),
    [
        (200, -20, 164.2),
        (200, 40, 225.3),
        (300, 0, 275.1),
        (300, 20, 308.3),
        (300, 60, 373.9),
        (50, 60, 59.0),
    ],
)
def test_cooling_at_constant_contents_is_no_loss(
    filled: float, temperature_c: float, gauge: float
) -> None:
    inside = gas.free_per_litre(filled + gas.ATMOSPHERE_BAR, 15)
    now = gas.absolute_bar(inside, temperature_c) - gas.ATMOSPHERE_BAR
    assert now == pytest.approx(gauge, rel=0.004)


@settings(max_examples=200, deadline=None)
@given(
    st.floats(0.1, 450),
    st.floats(1, 30),
    st.floats(-40, 60),
)
def test_there_and_back(gauge: float, volume_l: float, temperature_c: float) -> None:
    usable = gas.usable_l(gauge, volume_l, temperature_c)
    assert gas.gauge_bar(usable, volume_l, temperature_c) == pytest.approx(gauge, rel=1e-4)


@settings(max_examples=100, deadline=None)
@given(st.floats(0, 449), st.floats(0.01, 1), st.floats(-40, 60))
def test_more_pressure_is_always_more_air(gauge: float, more: float, temperature_c: float) -> None:
    assert gas.usable_l(gauge + more, 6.8, temperature_c) > gas.usable_l(gauge, 6.8, temperature_c)


def test_an_empty_cylinder_has_no_air_and_shows_no_pressure() -> None:
    assert gas.usable_l(0, 6.8, 15) == 0
    assert gas.usable_l(-1, 6.8, 15) == 0
    assert gas.gauge_bar(0, 6.8, 15) == 0
    assert gas.gauge_bar(-5, 6.8, 15) == 0


# Litres per bar in each litre of water volume at 15 C, computed with CoolProp 8.0, fluid Air.
@pytest.mark.parametrize(
    ("gauge", "litres"),
    [
        (10, 0.995),
        (55, 1.009),
        (105, 0.987),
        (150, 0.933),
        (200, 0.847),
        (300, 0.663),
        (379, 0.543),
    ],
)
def test_a_bar_is_fewer_litres_the_fuller_the_cylinder(gauge: float, litres: float) -> None:
    assert gas.litres_per_bar(gauge, 6.8, 15) == pytest.approx(6.8 * litres, rel=0.015)
    assert gas.litres_per_bar(-5, 6.8, 15) == pytest.approx(gas.usable_l(1, 6.8, 15))
