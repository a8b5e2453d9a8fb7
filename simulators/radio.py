"""What a scenario says of the radio. An effect that is not written down is off."""

from typing import Annotated, Self

from pydantic import Field, model_validator

from simulators.path_loss import LAWS, Band, Building
from simulators.values import SCENARIO_S_MAX, Model, PlaceName, Share, SpanMs

BASES_MAX = 8
"""Base radios of one run."""

LevelDbm = Annotated[float, Field(ge=-140, le=-20)]


class Bursts(Model):
    """Losses that come together: the two-state chain of Gilbert and Elliott, one step a frame.

    Shares are of frames. Stationary share of time in a burst: begin / (begin + end); mean length
    of one: 1 / end frames.
    """

    begin: Annotated[float, Field(gt=0, le=1)]
    """Chance that a burst begins after a frame outside one."""
    end: Annotated[float, Field(gt=0, le=1)]
    """Chance that it ends after a frame within it."""
    loss_within: Share = 1.0
    loss_between: Share = 0.0


class Way(Model):
    """What happens to frames on one way, to the base or to the packs."""

    bursts: Bursts | None = None
    loss: Share = 0.0
    """Share lost, each frame on its own."""
    corrupt: Share = 0.0
    """Share that arrives with a few bits turned over."""
    delay_ms: SpanMs = (0.0, 0.0)
    """How late frames are. A delay alone never changes their order."""
    reorder: Share = 0.0
    """Share held back, so that later frames overtake."""
    reorder_ms: SpanMs = (500.0, 5000.0)
    """How long those are held back, beside the delay."""
    repeat: Share = 0.0
    """Share that arrives twice."""
    repeat_ms: SpanMs = (5.0, 500.0)
    """How long after the first the second comes."""


class Range(Model):
    """The signal weakens with distance and floors (``path_loss``); too weak, it is not heard."""

    building: Building = "office"
    mhz: Band = 900
    power_dbm: Annotated[float, Field(ge=-40, le=40)] = 0.0
    """Radiated, less what the body takes on which the pack is worn (invented)."""
    weakest_dbm: LevelDbm = -110.0

    @model_validator(mode="after")
    def _known(self) -> Self:
        """Refuse a building for which the band has no figures."""
        if (self.building, self.mhz) not in LAWS:
            known = ", ".join(f"{building} at {mhz}" for building, mhz in LAWS)
            raise ValueError(
                f"no figures for {self.building} at {self.mhz} MHz; there are: {known}"
            )
        return self


class Shadowing(Model):
    """What walls and bodies add to or take from the level, alike nearby and for a while."""

    spread_db: Annotated[float, Field(gt=0, le=20)] = 8.0
    """One standard deviation (ITU-R P.1238: 8 to 10 dB at 1.8 to 2 GHz, from memory)."""
    over_m: Annotated[float, Field(gt=0, le=1000)] = 5.0
    """Distance at which two places have 1/e in common (invented: about a room)."""
    over_s: Annotated[float, Field(gt=0, le=SCENARIO_S_MAX)] = 120.0
    """The same in time: doors, people, smoke (invented)."""


class Shared(Model):
    """One channel for everybody, on which each sends when it likes: overlapping frames are lost."""

    bit_rate: Annotated[int, Field(ge=300, le=10_000_000)] = 50_000
    extra_bytes: Annotated[int, Field(ge=0, le=64)] = 10
    """What the radio adds to a frame: preamble, synchronisation, length, checksum, ramp."""


class Radio(Model):
    """The radio between the packs and the base."""

    level_dbm: LevelDbm = -70.0
    """Mean level at which a frame is heard in no shadow, where no ``range`` says more."""
    up: Way = Way()
    """From the packs to the base."""
    down: Way = Way()
    """From the base to each pack."""
    range: Range | None = None
    shadowing: Shadowing | None = None
    bases: Annotated[tuple[PlaceName, ...], Field(max_length=BASES_MAX)] = ()
    """Where the base radios stand, each at a place; none given: one, where all distances begin."""
    shared: Shared | None = None
