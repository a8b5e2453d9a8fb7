from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.incident import units

# One pound-force is 0.45359237 kg x 9.80665 m/s2, one inch 0.0254 m: both exact.
PSI_PA = Fraction(45359237, 10**8) * Fraction(980665, 10**5) / Fraction(254, 10**4) ** 2
CUBIC_FOOT_L = Fraction(3048, 10**4) ** 3 * 1000


# Full cylinders of the US fire service in bar: 2216, 3000, 4500 and 5500 psi.
@pytest.mark.parametrize(
    ("psi", "bar"), [(2216, 152.8), (3000, 206.8), (4500, 310.3), (5500, 379.2)]
)
def test_psi_and_bar(psi: int, bar: float) -> None:
    assert units.bar_from(psi, "psi") == pytest.approx(bar, abs=0.05)
    assert units.left(units.bar_from(psi, "psi"), "psi") == psi
    assert units.turn(units.bar_from(psi, "psi"), "psi") == psi


def test_the_constants_are_the_defined_ones() -> None:
    assert pytest.approx(float(10**5 / PSI_PA), rel=1e-8) == units.PSI_PER_BAR
    assert pytest.approx(float(CUBIC_FOOT_L), rel=1e-12) == units.LITRES_PER_CUBIC_FOOT


# 45, 60, 66 and 88 cubic feet are 1274, 1698 (1699), 1868 (1869) and 2490 (2492) L in print.
@pytest.mark.parametrize(("feet", "litres"), [(45, 1274), (60, 1699), (66, 1869), (88, 2492)])
def test_cubic_feet(feet: int, litres: int) -> None:
    assert units.litres_from(feet, "cubic foot") == pytest.approx(litres, abs=0.6)
    assert units.down(units.volume(litres, "cubic foot") + 0.03) == feet


def test_what_is_left_goes_down_and_where_to_turn_goes_up() -> None:
    assert (units.left(177.9), units.turn(177.1)) == (177, 178)
    # 177.5 bar are 2574.4 psi.
    assert (units.left(177.5, "psi"), units.turn(177.5, "psi")) == (2574, 2575)
    assert (units.left(-3), units.turn(-3), units.down(1826.4, 10)) == (0, 0, 1820)


def test_a_whole_figure_held_a_little_beside_is_still_itself() -> None:
    assert (units.left(146.999_999_9), units.turn(143.000_000_1)) == (147, 143)


@given(bar=st.integers(0, 4500), unit=st.sampled_from(["bar", "psi"]))
def test_never_on_the_wrong_side(bar: int, unit: str) -> None:
    """Against exact arithmetic; ``bar`` in tenths."""
    exact = Fraction(bar, 10) * (1 if unit == "bar" else 10**5 / PSI_PA)
    slack = Fraction(1, 10**4)
    assert exact - 1 < units.left(bar / 10, unit) <= exact + slack
    assert exact - slack <= units.turn(bar / 10, unit) < exact + 1
    assert units.bar_from(units.pressure(bar / 10, unit), unit) == pytest.approx(bar / 10)


@given(litres=st.floats(0, 20_000))
def test_volumes_there_and_back(litres: float) -> None:
    for unit in ("litre", "cubic foot"):
        assert units.litres_from(units.volume(litres, unit), unit) == pytest.approx(litres)
