"""Bar and psi, litres and cubic feet: the same amount in the unit somebody reads.

Inside everything is bar and litres. Whole digits for a screen are rounded to the safe side: what
is left down, a pressure at which one must turn up.
"""

import math
from typing import Literal

PressureUnit = Literal["bar", "psi"]
VolumeUnit = Literal["litre", "cubic foot"]

PSI_PER_BAR = 14.503_773_8
"""1 bar = 100,000 Pa; 1 psi = 6,894.757 Pa (NIST SP 811, appendix B)."""
LITRES_PER_CUBIC_FOOT = 28.316_846_592
"""Exact: a foot is 0.3048 m (NIST SP 811, appendix B)."""
READING_MAX_BAR = 450
"""No gauge shows more."""
EDGE = 1e-6
"""A reading of 147 bar held as 146.9999999 is 147, not 146; 4,500 psi typed is 4,500 again."""


def pressure(bar: float, unit: str) -> float:
    """Convert a gauge pressure, exact."""
    return bar * PSI_PER_BAR if unit == "psi" else bar


def bar_from(value: float, unit: str) -> float:
    """Convert what a gauge in this unit shows into bar."""
    return value / PSI_PER_BAR if unit == "psi" else float(value)


def volume(litres: float, unit: str) -> float:
    """Convert free air, exact."""
    return litres / LITRES_PER_CUBIC_FOOT if unit == "cubic foot" else litres


def litres_from(value: float, unit: str) -> float:
    """Convert free air in this unit into litres."""
    return value * LITRES_PER_CUBIC_FOOT if unit == "cubic foot" else float(value)


def down(value: float, step: int = 1) -> int:
    """Round what is left: to the whole step under it, never under 0."""
    return math.floor((max(value, 0.0) + EDGE) / step) * step


def up(value: float) -> int:
    """Round what must still be there: to the whole unit over it, never under 0."""
    return math.ceil(max(value, 0.0) - EDGE)


def left(bar: float, unit: str = "bar") -> int:
    """Digits of a pressure that is left."""
    return down(pressure(bar, unit))


def turn(bar: float, unit: str = "bar") -> int:
    """Digits of a pressure at which one must turn; the safe side is more."""
    return up(pressure(bar, unit))
