"""The air of one wearer in full, for a screen of its own: what was, what is planned, what may be.

Made on demand, never for every line of the board. Pressures are gauge pressures in bar; times are
incident time in ns.
"""

from dataclasses import dataclass

from monitor.incident.air.planned import Plan
from monitor.incident.air.shown import Cylinder
from monitor.incident.air.start import StartFrom
from monitor.incident.picture import NextMark


@dataclass(frozen=True, slots=True)
class Mark:
    """Something that happened, for the chart and its legend."""

    t: int
    letter: str
    """One letter, to stand under the axis."""
    words: str


@dataclass(frozen=True, slots=True)
class FanPoint:
    """What the gauge may show at one instant to come."""

    t: int
    low_bar: float
    """One in ten wearers would be under this."""
    mid_bar: float
    high_bar: float
    """One in ten would be over this."""


@dataclass(frozen=True, slots=True)
class Rule:
    """One figure of the screen and the rule behind it, in words."""

    label: str
    figure: str
    words: str


@dataclass(frozen=True, slots=True)
class AirDetail:
    """Everything that a screen of one wearer shows of the air."""

    wearer: int
    t: int
    """Now."""
    start_ns: int
    """When they connected."""
    points: tuple[tuple[int, float], ...]
    """Readings: time and pressure, in order."""
    gaps: tuple[tuple[int, int], ...]
    """Spells without readings, from and to; never to be joined by a line."""
    marks: tuple[Mark, ...]
    fan: tuple[FanPoint, ...]
    """Empty where nothing can be forecast."""
    plan: tuple[tuple[int, float], ...]
    """The pressure as planned: real gas, at the procedure's planning rate, from connecting."""
    limits: tuple[tuple[str, float], ...]
    """Name and pressure of each line that must not be passed."""
    rules: tuple[Rule, ...]
    unit: str
    """What the wearer's gauge reads in, ``bar`` or ``psi``."""
    cylinder: Cylinder | None = None
    """What is known of it now."""
    start_bar: float | None = None
    """Pressure at connecting that the marks are reckoned from."""
    start_from: StartFrom | None = None
    """How it was come by."""
    low: NextMark | None = None
    """The low-air warning, at the earliest, also while another mark comes first; None: unknown."""
    planned: Plan | None = None
    """From the pressure at connecting; None where that or the water volume is not known."""
