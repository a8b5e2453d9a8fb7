"""A cylinder of compressed air as a real gas.

This is the simulators' own physics. The monitor computes contents in another way; if both shared
one formula, a fault in it would be invisible in every trial.

The compressibility factor Z is a polynomial in absolute pressure and temperature, fitted to the
Lemmon et al. (2000) equation of state for dry air over 1 to 400 bar and -20 to 60 C; its largest
error there is 0.0026 (0.011 down to -45 C, which only drawing comes to). Litres are free air: dry
air at 1.01325 bar and 15 C.

Air that is drawn cools what stays behind: it does the work of pushing it out. Theory: the gas and
the wall of a vessel are each at one temperature (Reynolds and Kays, Trans. ASME 80 (1958)
1160-1168, from memory; measured on vessels that vent through a valve by Winters et al., Int. J.
Heat Mass Transfer 55 (2012) 8-18). For the gas, of mass m in the volume V,

    m cv dT = - T (dp/dT) V (drawn / m) + h A (T_wall - T) dt

with dp/dT at constant contents, here by this module's own Z; the wall, of heat capacity C, loses
that heat and gains h_out A (T_around - T_wall) dt. So drawing fast is isentropic, drawing very
slowly isothermal, and all that lies between comes of the figures below.
"""

import math

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


FREE_AIR_KG_PER_L = 0.0012255
"""Dry air at 1.01325 bar and 15 C (Lemmon et al. 2000)."""
WALL_J_PER_K_L = 650.0
"""Heat capacity of the wall, for each litre of water volume: a wound cylinder of 6.8 L weighs about
4.5 kg (common practice), metal and fibre take 900 to 1,000 J/(kg K) (handbooks, from memory)."""
WALL_M2 = 0.08
"""Area of the wall, times the water volume in litres to the power 2/3: 0.29 m2 for 6.8 L."""
INSIDE_W_M2_K = 73.0
INSIDE_POWER = 0.8
"""Heat from the wall to the gas, times (free litres in each litre / 100) to this power: turbulent
free convection, Nu = 0.13 Ra^(1/3) (McAdams, Heat Transmission, from memory), with the properties
of air by Lemmon et al. (2000) and Lemmon and Jacobsen (2004) and a difference of 5 K: 21, 42, 73
and 133 W/(m2 K) at 20, 50, 100 and 200."""
OUTSIDE_W_M2_K = 13.0
"""Heat from the air around to the wall: ISO 6946 (from memory) has 4 + 4 v for convection at v m/s,
here 1 m/s, somebody who walks, and 5 for radiation."""


COLDEST_C = -45.0
"""A burst hose would cool the air further; the fit ends here."""
STEP_S = 5.0
"""Drawing and warming take turns so often: short beside the half minute in which the gas follows
its wall."""


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


def gauge_bar(
    free_l: float, temperature_c: float, water_volume_l: float, near_bar: float | None = None
) -> float:
    """Gauge pressure of so much free air in a volume: ``free_litres`` the other way round.

    ``near_bar``: where to begin to look; the same is found from anywhere, sooner from near.
    """
    target = free_l * _LITRES_SCALE / water_volume_l * (temperature_c + ZERO_C_K)
    c1, c2, c3, c4 = _coefficients_a_bar(temperature_c)
    p = target if near_bar is None else near_bar + ATMOSPHERE_BAR
    for _ in range(_STEPS_MAX):
        z = 1.0 + p * (c1 + p * (c2 + p * (c3 + p * c4)))
        slope = c1 + p * (2.0 * c2 + p * (3.0 * c3 + p * 4.0 * c4))
        step = (p - target * z) / (1.0 - target * slope)
        p -= step
        if abs(step) < _CLOSE_BAR:
            break
    return p - ATMOSPHERE_BAR


def _coefficients(temperature_c: float) -> tuple[float, float, float, float]:
    """Factors of x, x2, x3 and x4 in Z, with x the absolute pressure over 100 bar."""
    y = (temperature_c + ZERO_C_K - _FIT_K) / 100.0
    return (
        -0.036757 + y * (0.118940 - 0.095012 * y),
        0.024400 + y * (-0.042758 + 0.038807 * y),
        0.001065 + y * (0.003438 - 0.003848 * y),
        -0.000417,
    )


def _coefficients_a_bar(temperature_c: float) -> tuple[float, float, float, float]:
    """The same, with x the absolute pressure in bar."""
    c1, c2, c3, c4 = _coefficients(temperature_c)
    return c1 / 100.0, c2 / 100.0**2, c3 / 100.0**3, c4 / 100.0**4


_LITRES_SCALE = ATMOSPHERE_BAR / FREE_AIR_K / compressibility(ATMOSPHERE_BAR, 15.0)
"""p / (T Z) of free air itself."""


class Cylinder:
    """One cylinder: so much air, in so much room, with a wall around it."""

    __slots__ = (
        "_empty_l", "_free_l", "_near_bar", "_pressure_bar", "_temperature_c", "wall_c",
        "water_volume_l",
    )  # fmt: skip

    def __init__(self, water_volume_l: float, pressure_bar: float, temperature_c: float) -> None:
        """Fill it to a gauge pressure; the wall is as warm as the air in it.

        Raises ValueError outside the range of the physics.
        """
        if not water_volume_l > 0.0:
            raise ValueError("water volume must be above 0 L")
        if not 0.0 <= pressure_bar <= GAUGE_BAR_MAX:
            raise ValueError(f"pressure {pressure_bar} bar is outside the physics")
        if not TEMPERATURE_C_MIN <= temperature_c <= TEMPERATURE_C_MAX:
            raise ValueError(f"temperature {temperature_c} C is outside the physics")
        self.water_volume_l = water_volume_l
        self._free_l = free_litres(pressure_bar, temperature_c, water_volume_l)
        self._near_bar = pressure_bar
        self.temperature_c = self.wall_c = temperature_c

    @property
    def temperature_c(self) -> float:
        """Of the air in it."""
        return self._temperature_c

    @temperature_c.setter
    def temperature_c(self, temperature_c: float) -> None:
        self._temperature_c = temperature_c
        # Reckoned only once for each time that air was drawn or its temperature changed.
        self._pressure_bar: float | None = None
        self._empty_l: float | None = None

    @property
    def pressure_bar(self) -> float:
        """Gauge pressure now."""
        if self._pressure_bar is None:
            volume, near = self.water_volume_l, self._near_bar
            self._pressure_bar = gauge_bar(self._free_l, self._temperature_c, volume, near)
            self._near_bar = self._pressure_bar
        return self._pressure_bar

    @property
    def usable_l(self) -> float:
        """Free air that can still be breathed: what is above one atmosphere."""
        if self._empty_l is None:
            self._empty_l = free_litres(0.0, self._temperature_c, self.water_volume_l)
        return self._free_l - self._empty_l

    @property
    def gas_j_per_k(self) -> float:
        """Heat capacity of the air in it, at constant volume."""
        crowded = self._free_l / self.water_volume_l / 100.0
        # Within 2 % of the equation of state, from 0 to 300 free litres in each, -45 to 60 C.
        cv = 718.0 + crowded * (29.0 - 2.6 * crowded)
        return cv * self._free_l * FREE_AIR_KG_PER_L

    def draw(self, litres: float) -> float:
        """Take free air out, which cools the rest; gives what came: less when it runs empty."""
        taken = min(litres, max(self.usable_l, 0.0))
        if taken:
            pascal_per_k = _bar_per_k(self.pressure_bar, self._temperature_c) * 1e5
            share = taken / self._free_l
            work_j_per_k = pascal_per_k * self.water_volume_l / 1000.0 * share
            cooled = -math.expm1(-work_j_per_k / self.gas_j_per_k)
            self._free_l -= taken
            colder = self._temperature_c - (self._temperature_c + ZERO_C_K) * cooled
            self.temperature_c = max(COLDEST_C, colder)
        return taken

    def live(self, litres: float, around_c: float, span_s: float) -> float:
        """Give so much free air, evenly over so long, while heat passes; tells what came."""
        steps = max(1, math.ceil(span_s / STEP_S))
        taken = 0.0
        for _ in range(steps):
            if litres:
                taken += self.draw(litres / steps)
            elif self._temperature_c == self.wall_c == around_c:
                break
            self._warm(around_c, span_s / steps)
        return taken

    def _warm(self, around_c: float, span_s: float) -> None:
        """Let heat pass between gas and wall, and between the wall and what is around."""
        gas, wall = self.gas_j_per_k, WALL_J_PER_K_L * self.water_volume_l
        area = WALL_M2 * self.water_volume_l ** (2.0 / 3.0)
        crowded = self._free_l / self.water_volume_l / 100.0
        inside = INSIDE_W_M2_K * area * crowded**INSIDE_POWER
        # Each exchange by itself is exact; their heat is kept to the joule however long the span.
        between = self.wall_c - self._temperature_c
        passed = between / (1.0 / gas + 1.0 / wall)
        passed *= -math.expm1(-inside * (1.0 / gas + 1.0 / wall) * span_s)
        self.wall_c -= passed / wall
        rate = OUTSIDE_W_M2_K * area / wall
        self.wall_c += (around_c - self.wall_c) * -math.expm1(-rate * span_s)
        self.temperature_c += passed / gas


def _bar_per_k(pressure_bar: float, temperature_c: float) -> float:
    """How fast pressure rises with temperature at constant contents.

    p = n R T Z(p, T) / V, so dp/dT = (p / T) (1 + T Z_T / Z) / (1 - p Z_p / Z).
    """
    p = pressure_bar + ATMOSPHERE_BAR
    kelvin = temperature_c + ZERO_C_K
    c1, c2, c3, c4 = _coefficients(temperature_c)
    y, x = (kelvin - _FIT_K) / 100.0, p / 100.0
    z = 1.0 + x * (c1 + x * (c2 + x * (c3 + x * c4)))
    p_z_p = x * (c1 + x * (2.0 * c2 + x * (3.0 * c3 + x * 4.0 * c4)))
    t_z_t = kelvin / 100.0 * x * (
        0.118940 - 0.190024 * y + x * (-0.042758 + 0.077614 * y + x * (0.003438 - 0.007696 * y))
    )  # fmt: skip
    return p / kelvin * (1.0 + t_z_t / z) / (1.0 - p_z_p / z)
