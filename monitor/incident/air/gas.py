"""Free air in a cylinder of compressed air, as a real gas.

Theory: the density virial ``p = K T F [1 + (c0 + c1 u) f + c2 f^2 + c3 f^3]`` with ``f = F / 100``
and ``u = 288.15 / T - 1``, where ``F`` is litres of free air (dry, 1.01325 bar, 15 C) in each litre
of water volume. The four coefficients are a minimax fit to the reference equation of state of air
(Lemmon et al. 2000): within 0.2 % from 0 to 380 bar gauge and -20 to 60 C.

Why not pressure times volume: it promises 19 % too much time from a full 300 bar cylinder down to a
35 % warning. The last bar, equal to the air outside, cannot be breathed and is not counted.
"""

from functools import lru_cache

ATMOSPHERE_BAR = 1.01325
"""Absolute; also what separates gauge from absolute pressure."""
ZERO_C_IN_K = 273.15
_K = ATMOSPHERE_BAR / (0.99957323 * 288.15)
_C0 = -0.03657
_C1 = -0.23856
_C2 = 0.01538
_C3 = 0.00456
_REFERENCE_K = 288.15
NEWTON_STEPS = 3
"""Two already suffice over the range of the fit; the third is for its edges."""
PRESSURES_KEPT_MAX = 8192
"""Packs tell pressure and temperature in whole steps: the same few hundred pairs come again."""
TEMPERATURES_KEPT_MAX = 256


def absolute_bar(free_per_litre: float, temperature_c: float) -> float:
    """Absolute pressure of gas holding this much free air in each litre of water volume."""
    kelvin = temperature_c + ZERO_C_IN_K
    f = free_per_litre / 100
    b = _C0 + _C1 * (_REFERENCE_K / kelvin - 1)
    return _K * kelvin * free_per_litre * (1 + f * (b + f * (_C2 + f * _C3)))


def free_per_litre(absolute: float, temperature_c: float) -> float:
    """Litres of free air in each litre of water volume, from absolute pressure in bar."""
    kelvin = temperature_c + ZERO_C_IN_K
    kt = _K * kelvin
    b = _C0 + _C1 * (_REFERENCE_K / kelvin - 1)
    free = absolute / kt
    for _ in range(NEWTON_STEPS):
        f = free / 100
        value = kt * free * (1 + f * (b + f * (_C2 + f * _C3)))
        slope = kt * (1 + f * (2 * b + f * (3 * _C2 + f * 4 * _C3)))
        free -= (value - absolute) / slope
    return free


@lru_cache(maxsize=PRESSURES_KEPT_MAX)
def usable_per_litre(gauge_bar: float, temperature_c: float) -> float:
    """Breathable free air in each litre of water volume: all but the last atmosphere."""
    if gauge_bar <= 0:
        return 0.0
    return free_per_litre(gauge_bar + ATMOSPHERE_BAR, temperature_c) - _left_l(temperature_c)


@lru_cache(maxsize=TEMPERATURES_KEPT_MAX)
def _left_l(temperature_c: float) -> float:
    """What stays behind in each litre of water volume: the last atmosphere."""
    return free_per_litre(ATMOSPHERE_BAR, temperature_c)


def usable_l(gauge_bar: float, water_volume_l: float, temperature_c: float) -> float:
    """Breathable free air in litres: all but the last atmosphere. 0 at or under gauge zero."""
    return usable_per_litre(gauge_bar, temperature_c) * water_volume_l


def gauge_bar(usable: float, water_volume_l: float, temperature_c: float) -> float:
    """Gauge pressure that this much breathable free air would show. 0 for none or less."""
    if usable <= 0:
        return 0.0
    total = usable / water_volume_l + _left_l(temperature_c)
    return absolute_bar(total, temperature_c) - ATMOSPHERE_BAR


def litres_per_bar(gauge_bar: float, water_volume_l: float, temperature_c: float) -> float:
    """Free air that one bar more would be: what a step of the gauge stands for.

    Within 1.5 % of the slope of the equation of state.
    """
    at = max(0.0, gauge_bar)
    above = usable_l(at + 1.0, water_volume_l, temperature_c)
    return above - usable_l(at, water_volume_l, temperature_c)
