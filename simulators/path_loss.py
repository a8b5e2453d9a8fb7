"""How much a signal weakens on its way through a building, by distance and floors.

ITU-R P.1238: L = 20 log f + N log d + Lf(n) - 28 in dB, with f in MHz, d in m, n floors between
(site-general model of the editions up to -9; figures as quoted from them). The editions from -10
on (2019) have L = 10 a log d + b + 10 g log f, f in GHz, without floors; from them comes the works
hall alone: industrial, no line of sight (figures as quoted from edition -11). What a ceiling of a
hall takes is not among them, so it is taken from the office at 900 MHz. Beyond three floors each
further one takes what the third took (both our choice).
"""

import math
from dataclasses import dataclass
from typing import Literal

Building = Literal["office", "commercial", "residential", "hall"]
Band = Literal[900, 1900]
"""MHz."""


@dataclass(frozen=True, slots=True)
class Law:
    """The figures of one kind of building in one band."""

    per_decade_db: float
    """At ten times the distance."""
    floors_db: tuple[float, float, float]
    """Through one, two and three floors."""
    per_decade_of_mhz_db: float = 20.0
    constant_db: float = -28.0


_OFFICE_900_DB = (9.0, 19.0, 24.0)
_HALL = Law(37.9, _OFFICE_900_DB, 13.4, 21.01 - 13.4 * 3)

LAWS: dict[tuple[Building, Band], Law] = {
    ("office", 900): Law(33.0, _OFFICE_900_DB),
    ("hall", 900): _HALL,
    ("hall", 1900): _HALL,
    ("office", 1900): Law(30.0, (15.0, 19.0, 23.0)),  # 15 + 4 (n - 1)
    ("residential", 1900): Law(28.0, (4.0, 8.0, 12.0)),  # 4 n
    ("commercial", 1900): Law(22.0, (6.0, 9.0, 12.0)),  # 6 + 3 (n - 1)
}


def loss_db(building: Building, mhz: Band, metres: float, floors: int) -> float:
    """Loss over a distance of at least a metre through so many floors."""
    law = LAWS[building, mhz]
    return (
        law.per_decade_of_mhz_db * math.log10(mhz)
        + law.per_decade_db * math.log10(metres)
        + law.constant_db
        + _floors_db(law.floors_db, floors)
    )


def _floors_db(through_db: tuple[float, float, float], floors: int) -> float:
    if floors <= len(through_db):
        return through_db[floors - 1] if floors else 0.0
    return through_db[-1] + (floors - len(through_db)) * (through_db[-1] - through_db[-2])
