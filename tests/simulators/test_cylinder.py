"""Expected values: dry air by Lemmon et al. (2000), as tabulated with CoolProp.

Free-air contents there are total litres at 20 C; litres here are at 15 C, so fewer by the ratio
of the densities of free air at the two temperatures, 41.58661 / 42.31036 mol/m3.
"""

import pytest
from CoolProp.CoolProp import PropsSI
from hypothesis import given, settings
from hypothesis import strategies as st

from simulators.cylinder import (
    ATMOSPHERE_BAR,
    Cylinder,
    compressibility,
    free_litres,
    gauge_bar,
)

TEMPERATURES_C = (-20, 0, 15, 20, 25, 40, 60)
Z = {
    50: (0.9637, 0.9777, 0.9856, 0.9879, 0.9900, 0.9955, 1.0012),
    100: (0.9458, 0.9704, 0.9842, 0.9881, 0.9918, 1.0013, 1.0111),
    150: (0.9503, 0.9795, 0.9962, 1.0010, 1.0054, 1.0170, 1.0289),
    200: (0.9762, 1.0046, 1.0212, 1.0260, 1.0305, 1.0422, 1.0544),
    207: (0.9813, 1.0092, 1.0256, 1.0304, 1.0348, 1.0464, 1.0585),
    250: (1.0188, 1.0427, 1.0570, 1.0612, 1.0652, 1.0755, 1.0863),
    300: (1.0727, 1.0902, 1.1011, 1.1043, 1.1073, 1.1153, 1.1237),
    310: (1.0844, 1.1005, 1.1106, 1.1136, 1.1164, 1.1239, 1.1317),
    379: (1.1713, 1.1775, 1.1818, 1.1831, 1.1843, 1.1876, 1.1908),
    400: (1.1992, 1.2024, 1.2049, 1.2056, 1.2063, 1.2082, 1.2098),
}
LITRES_15_PER_20 = 41.58661 / 42.31036


def test_z_agrees_with_the_table_within_the_fit() -> None:
    for pressure_bar, row in Z.items():
        for temperature_c, expected in zip(TEMPERATURES_C, row, strict=True):
            # 0.0026 is the fit's own largest error; half a digit of the table on top.
            assert abs(compressibility(pressure_bar, temperature_c) - expected) <= 0.00265


def test_z_of_free_air() -> None:
    assert compressibility(1.0, 20.0) == pytest.approx(0.9996, abs=0.0005)


@pytest.mark.parametrize(
    ("volume_l", "gauge", "litres_20c"),
    [(6.8, 300, 1827), (6.0, 300, 1612), (9.0, 200, 1738), (3.0, 55, 168), (12.0, 379, 3799)],
)
def test_contents_filled_at_20_c(volume_l: float, gauge: float, litres_20c: float) -> None:
    expected = litres_20c * LITRES_15_PER_20
    assert free_litres(gauge, 20.0, volume_l) == pytest.approx(expected, rel=0.005)


@pytest.mark.parametrize("temperature_c", [-20, -5, 15, 30, 60])
@pytest.mark.parametrize("gauge", [10, 55, 105, 180, 300, 380])
def test_contents_against_the_equation_of_state(gauge: float, temperature_c: float) -> None:
    kelvin = temperature_c + 273.15
    full = PropsSI("Dmolar", "P", (gauge + 1.01325) * 1e5, "T", kelvin, "Air")
    free = PropsSI("Dmolar", "P", 1.01325e5, "T", 288.15, "Air")
    # Z off by 0.0026 of about 1 is contents off by 0.26 %.
    assert free_litres(gauge, temperature_c, 6.8) == pytest.approx(6.8 * full / free, rel=0.003)


@pytest.mark.parametrize(
    ("temperature_c", "gauge"), [(-20, 241.8), (0, 275.1), (20, 308.3), (40, 341.2), (60, 373.9)]
)
def test_300_bar_at_15_c_taken_to_another_temperature(temperature_c: float, gauge: float) -> None:
    cylinder = Cylinder(6.8, 300.0, 15.0)
    cylinder.temperature_c = temperature_c
    assert cylinder.pressure_bar == pytest.approx(gauge, abs=2.0)


@settings(max_examples=200)
@given(gauge=st.floats(0, 398), temperature_c=st.floats(-20, 60), volume_l=st.floats(0.5, 30))
def test_pressure_and_litres_are_inverse(
    gauge: float, temperature_c: float, volume_l: float
) -> None:
    litres = free_litres(gauge, temperature_c, volume_l)
    assert gauge_bar(litres, temperature_c, volume_l) == pytest.approx(gauge, abs=1e-5)


def test_air_drawn_is_air_gone() -> None:
    cylinder = Cylinder(6.8, 300.0, 15.0)
    before = cylinder.usable_l
    assert cylinder.draw(50.0) == 50.0
    # Colder by about 3 K, the last atmosphere holds 0.07 L more.
    assert cylinder.usable_l == pytest.approx(before - 50.0, abs=0.2)
    cylinder.temperature_c = 15.0
    assert cylinder.usable_l == pytest.approx(before - 50.0)
    # A full 6.8 L cylinder falls by 11.0 bar when 50 L are breathed (a real gas; ideal 7.4).
    assert cylinder.pressure_bar == pytest.approx(300.0 - 11.0, abs=0.3)


def test_an_empty_cylinder_gives_no_more() -> None:
    cylinder = Cylinder(6.8, 5.0, 15.0)
    usable = cylinder.usable_l
    assert cylinder.draw(1000.0) == pytest.approx(usable)
    assert cylinder.draw(1000.0) == 0.0
    # It comes out until the pressure is that outside; what stays grew colder, and pulls.
    cylinder.temperature_c = 15.0
    assert cylinder.pressure_bar == pytest.approx(0.0, abs=1e-6)


def test_a_burst_hose_ends_where_the_physics_ends() -> None:
    cylinder = Cylinder(6.8, 300.0, -20.0)
    while cylinder.usable_l > 0.0:
        cylinder.live(40.0, -20.0, 1.0)
    assert cylinder.temperature_c >= -45.0


def test_the_last_atmosphere_cannot_be_breathed() -> None:
    assert Cylinder(6.8, 0.0, 15.0).usable_l == pytest.approx(0.0)
    assert free_litres(0.0, 15.0, 6.8) == pytest.approx(6.8)
    assert ATMOSPHERE_BAR == 1.01325


@pytest.mark.parametrize(
    ("volume_l", "gauge", "temperature_c"),
    [(0.0, 300, 15), (6.8, -1, 15), (6.8, 399, 15), (6.8, 300, -21), (6.8, 300, 61)],
)
def test_outside_the_physics_is_refused(
    volume_l: float, gauge: float, temperature_c: float
) -> None:
    with pytest.raises(ValueError, match=r"outside the physics|above 0"):
        Cylinder(volume_l, gauge, temperature_c)


def test_what_is_kept_between_two_looks_follows_air_and_temperature() -> None:
    # Each value once looked at, then changed, is that of a cylinder that was never looked at.
    cylinder = Cylinder(6.8, 300.0, 15.0)
    before = cylinder.pressure_bar
    cylinder.temperature_c = 25.0
    warm = cylinder.pressure_bar
    assert warm > before
    free_l = free_litres(300.0, 15.0, 6.8)
    assert warm == pytest.approx(gauge_bar(free_l, 25.0, 6.8), abs=1e-6)
    assert cylinder.usable_l == free_l - free_litres(0.0, 25.0, 6.8)
    cylinder.draw(100.0)
    cylinder.temperature_c = 25.0
    assert cylinder.pressure_bar == pytest.approx(gauge_bar(free_l - 100.0, 25.0, 6.8), abs=1e-6)


# ---------------------------------------------------------------- cooling


def entropic_c(entropy: float, molar: float) -> float:
    """Temperature at an entropy and a density, by halving."""
    low, high = 180.0, 340.0
    for _ in range(60):
        middle = (low + high) / 2
        if PropsSI("Smolar", "Dmolar", molar, "T", middle, "Air") < entropy:
            low = middle
        else:
            high = middle
    return low - 273.15


@pytest.mark.parametrize(("gauge", "temperature_c"), [(300, 15), (200, 40), (380, 20), (100, 15)])
def test_drawn_at_once_the_rest_cools_along_an_isentrope(
    gauge: float, temperature_c: float
) -> None:
    """What stays behind exchanges nothing: its entropy is kept (any text on thermodynamics)."""
    cylinder = Cylinder(6.8, gauge, temperature_c)
    before = free_litres(gauge, temperature_c, 6.8)
    for _ in range(100):
        cylinder.draw(before * 0.003)
    kelvin, pascal = temperature_c + 273.15, (gauge + 1.01325) * 1e5
    entropy = PropsSI("Smolar", "P", pascal, "T", kelvin, "Air")
    molar = PropsSI("Dmolar", "P", pascal, "T", kelvin, "Air") * 0.7
    expected = entropic_c(entropy, molar)
    # Heat capacity within 2 %, the slope of Z within 1 %: of the fall in temperature 3 %.
    fall = temperature_c - expected
    assert fall > 25
    assert temperature_c - cylinder.temperature_c == pytest.approx(fall, rel=0.03)


def test_it_does_not_matter_in_how_many_looks_a_stretch_is_lived() -> None:
    once, often = Cylinder(6.8, 300.0, 15.0), Cylinder(6.8, 300.0, 15.0)
    once.live(300.0, 40.0, 300.0)
    for _ in range(300):
        often.live(1.0, 40.0, 1.0)
    assert once.usable_l == pytest.approx(often.usable_l, abs=0.1)
    assert once.temperature_c == pytest.approx(often.temperature_c, abs=0.5)


def test_drawn_very_slowly_it_stays_as_warm_as_what_is_around() -> None:
    cylinder = Cylinder(6.8, 300.0, 15.0)
    for _ in range(200):
        cylinder.live(1.0, 15.0, 3600.0)
    # An hour is two time constants of the wall, a litre takes 0.1 kJ of the 6 kJ/K there are.
    assert cylinder.temperature_c == pytest.approx(15.0, abs=0.1)
    assert free_litres(cylinder.pressure_bar, 15.0, 6.8) == pytest.approx(
        free_litres(300.0, 15.0, 6.8) - 200.0, rel=1e-3
    )


def test_the_heat_that_air_drawn_takes_is_its_work() -> None:
    """With nothing from outside: sum of (T dp/dT V / m) dm = heat given up by gas and wall.

    An ideal gas at constant temperature takes V (p0 - p1): 6.8 L x 195 bar = 133 kJ; dp/dT of the
    real one is more by a tenth to a quarter up there (1.65 for 1.04 bar/K at 300 bar, 0.47 for 0.37
    at 105 bar), so that 160 to 185 kJ are expected. The wall is 6.8 x 650 J/K = 4.42 kJ/K.
    """
    cylinder = Cylinder(6.8, 300.0, 15.0)
    taken_j, step_s = 0.0, 2.0
    while cylinder.pressure_bar > 105.0:
        gas, before = cylinder.gas_j_per_k, cylinder.temperature_c
        cylinder.draw(2.0)
        taken_j += (before - cylinder.temperature_c) * gas
        wall, wall_before = 6.8 * 650.0, cylinder.wall_c
        gas, before = cylinder.gas_j_per_k, cylinder.temperature_c
        cylinder.live(0.0, cylinder.wall_c, step_s)
        given = (cylinder.temperature_c - before) * gas
        # What the gas got, the wall lost; what is around is as warm as the wall was, and gives
        # back a share of it: no more than 13 x 0.287 W/K x 2 s of its 4.42 kJ/K.
        lost = (wall_before - cylinder.wall_c) * wall
        assert 0.998 * given <= lost <= given + 1e-9
    assert 125e3 < taken_j < 185e3


@pytest.mark.parametrize("span_s", [1.0, 60.0, 86_400.0])
def test_left_alone_it_comes_to_what_is_around_and_never_beyond(span_s: float) -> None:
    cylinder = Cylinder(6.8, 300.0, 15.0)
    warmest = cylinder.temperature_c
    for _ in range(int(86_400 * 2 / span_s) if span_s > 1 else 600):
        cylinder.live(0.0, 50.0, span_s)
        assert warmest - 1e-9 <= cylinder.temperature_c <= 50.0
        assert cylinder.temperature_c <= cylinder.wall_c + 1e-9 <= 50.0 + 1e-6
        warmest = cylinder.temperature_c
    if span_s > 1:
        assert warmest == pytest.approx(50.0, abs=1e-6)


def test_breathed_from_at_work_it_grows_cold() -> None:
    """Heat by hand, 10 min at 60 L/min.

    They are 1.2 g/s; T dp/dT / density is 0.11 to 0.13 kJ/g, so 130 to 160 W. The wall takes them
    with 4.4 kJ/K and the gas with 1.3: in 10 min some 15 K, less what comes from around, 3.7 W/K;
    and the gas is colder than the wall by 140 / (80 x 0.287) W/K.
    """
    cylinder = Cylinder(6.8, 300.0, 15.0)
    for _ in range(120):
        cylinder.live(5.0, 15.0, 5.0)
    assert cylinder.wall_c == pytest.approx(15.0 - 13.0, abs=3.0)
    assert cylinder.wall_c - cylinder.temperature_c == pytest.approx(140 / 23, abs=4.0)
