"""How fast recorded time goes by: real time in, recorded time out. Pure."""

from dataclasses import dataclass
from fractions import Fraction

SPEEDS = tuple(Fraction(n, 4) for n in (1, 2, 4, 8, 16, 32, 64, 128, 256))
"""A quarter to 64 times; beyond the last it goes as fast as it can."""
UNLIMITED: None = None
Speed = Fraction | None
"""None: as fast as it goes."""
LADDER: tuple[Speed, ...] = (*SPEEDS, UNLIMITED)


def words(speed: Speed) -> str:
    """A speed for people."""
    return "as fast as it goes" if speed is None else f"{float(speed):g} x"


def read(text: str) -> Speed:
    """A speed from a person: 0.25 to 64, or ``max``. ValueError for anything else."""
    if text == "max":
        return UNLIMITED
    speed = Fraction(text)
    if not SPEEDS[0] <= speed <= SPEEDS[-1]:
        raise ValueError(text)
    return speed


@dataclass(slots=True)
class Pacing:
    """Runs or stands still, at a speed."""

    speed: Speed = Fraction(1)
    running: bool = False
    _last_ns: int | None = None

    def faster(self, by: int) -> None:
        """So many steps up the ladder of speeds, or down; it has two ends."""
        known = [s for s in SPEEDS if self.speed is not None and s <= self.speed]
        place = len(SPEEDS) if self.speed is None else len(known) - 1
        self.speed = LADDER[max(0, min(place + by, len(LADDER) - 1))]

    def passed_ns(self, now_ns: int) -> int | None:
        """Recorded time that goes by from the last call to ``now_ns``; None: all there is."""
        last, self._last_ns = self._last_ns, now_ns
        if not self.running or last is None:
            return 0
        return None if self.speed is None else int((now_ns - last) * self.speed)
