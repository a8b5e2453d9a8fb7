"""A cylinder of compressed air as a real gas.

This is the simulators' own physics. The monitor computes contents in another way; if both shared
one formula, a fault in it would be invisible in every trial.

The compressibility factor Z is a polynomial in absolute pressure and temperature, fitted to the
Lemmon et al. (2000) equation of state for dry air over 1 to 400 bar and -20 to 60 C; its largest
error there is 0.0026. Litres are free air: dry air at 1.01325 bar and 15 C.
"""

from functools import lru_cache

ATMOSPHERE_BAR = 1.01325
ZERO_C_K = 273.15
FREE_AIR_K = ZERO_C_K + 15.0
GAUGE_BAR_MAX = 398.0
"""The fit ends at 400 bar absolute."""
TEMPERATURE_C_MIN = -20.0
TEMPERATURE_C_MAX = 60.0

_FIT_K = ZERO_C_K + 20.0
"""The fit is written around this temperature."""
_STEPS_MAX = 30
"""Newton's method needs three or four from anywhere in the range."""
_CLOSE_BAR = 1e-7


def compressibility(pressure_bar: float, temperature_c: float) -> float:
    """Z of dry air at an absolute pressure."""
    c1, c2, c3, c4 = _coefficients(temperature_c)
    x = pressure_bar / 100.0
    return 1.0 + x * (c1 + x * (c2 + x * (c3 + x * c4)))


def free_litres(pressure_bar: float, temperature_c: float, water_volume_l: float) -> float:
    """All the free air in a volume at a gauge pressure, the last atmosphere included."""
    absolute = pressure_bar + ATMOSPHERE_BAR
    crowding = absolute / compressibility(absolute, temperature_c)
    return crowding / _LITRES_SCALE * water_volume_l / (temperature_c + ZERO_C_K)


def gauge_bar(free_l: float, temperature_c: float, water_volume_l: float) -> float:
    """Gauge pressure of so much free air in a volume: ``free_litres`` the other way round."""
    target = free_l * _LITRES_SCALE / water_volume_l * (temperature_c + ZERO_C_K)
    c1, c2, c3, c4 = _coefficients_a_bar(temperature_c)
    p = target
    for _ in range(_STEPS_MAX):
        z = 1.0 + p * (c1 + p * (c2 + p * (c3 + p * c4)))
        slope = c1 + p * (2.0 * c2 + p * (3.0 * c3 + p * 4.0 * c4))
        step = (p - target * z) / (1.0 - target * slope)
        p -= step
        if abs(step) < _CLOSE_BAR:
            break
    return p - ATMOSPHERE_BAR


@lru_cache(maxsize=256)
def _coefficients(temperature_c: float) -> tuple[float, float, float, float]:
    """Factors of x, x2, x3 and x4 in Z, with x the absolute pressure over 100 bar."""
    y = (temperature_c + ZERO_C_K - _FIT_K) / 100.0
    return (
        -0.036757 + y * (0.118940 - 0.095012 * y),
        0.024400 + y * (-0.042758 + 0.038807 * y),
        0.001065 + y * (0.003438 - 0.003848 * y),
        -0.000417,
    )


@lru_cache(maxsize=256)
def _coefficients_a_bar(temperature_c: float) -> tuple[float, float, float, float]:
    """The same, with x the absolute pressure in bar."""
    c1, c2, c3, c4 = _coefficients(temperature_c)
    return c1 / 100.0, c2 / 100.0**2, c3 / 100.0**3, c4 / 100.0**4


_LITRES_SCALE = ATMOSPHERE_BAR / FREE_AIR_K / compressibility(ATMOSPHERE_BAR, 15.0)
"""p / (T Z) of free air itself."""


class Cylinder:
    """One cylinder: so much air, in so much room, at a temperature."""

    __slots__ = ("_empty_l", "_free_l", "_pressure_bar", "_temperature_c", "water_volume_l")

    def __init__(self, water_volume_l: float, pressure_bar: float, temperature_c: float) -> None:
        """Fill it to a gauge pressure. Raises ValueError outside the range of the physics."""
        if not water_volume_l > 0.0:
            raise ValueError("water volume must be above 0 L")
        if not 0.0 <= pressure_bar <= GAUGE_BAR_MAX:
            raise ValueError(f"pressure {pressure_bar} bar is outside the physics")
        if not TEMPERATURE_C_MIN <= temperature_c <= TEMPERATURE_C_MAX:
            raise ValueError(f"temperature {temperature_c} C is outside the physics")
        self.water_volume_l = water_volume_l
        self._free_l = free_litres(pressure_bar, temperature_c, water_volume_l)
        self.temperature_c = temperature_c

    @property
    def temperature_c(self) -> float:
        """Of the air in it."""
        return self._temperature_c

    @temperature_c.setter
    def temperature_c(self, temperature_c: float) -> None:
        self._temperature_c = temperature_c
        self._empty_l = free_litres(0.0, temperature_c, self.water_volume_l)
        # Reckoned only once for each time that air was drawn or its temperature changed.
        self._pressure_bar: float | None = None

    @property
    def pressure_bar(self) -> float:
        """Gauge pressure now."""
        if self._pressure_bar is None:
            self._pressure_bar = gauge_bar(self._free_l, self._temperature_c, self.water_volume_l)
        return self._pressure_bar

    @property
    def usable_l(self) -> float:
        """Free air that can still be breathed: what is above one atmosphere."""
        return self._free_l - self._empty_l

    def draw(self, litres: float) -> float:
        """Take free air out; gives what came, which is less when it runs empty."""
        taken = min(litres, max(self._free_l - self._empty_l, 0.0))
        if taken:
            self._free_l -= taken
            self._pressure_bar = None
        return taken
