"""What a scenario says of the radio. An effect that is not written down is off."""

from typing import Annotated

from pydantic import Field

from simulators.values import Metres, Model, Share, SpanMs

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
    """The signal weakens with the logarithm of the distance, and below a floor nothing is heard."""

    at_m: Metres = 10.0
    """Where the level is what ``level_dbm`` says."""
    fade_db: Annotated[float, Field(ge=20, le=80)] = 33.0
    """Weaker by so much at ten times the distance: 20 in free space; 33 at 900 MHz in an office
    (ITU-R P.1238, older editions)."""
    floor_dbm: LevelDbm = -110.0


class Shared(Model):
    """One channel for everybody, on which each sends when it likes: overlapping frames are lost."""

    bit_rate: Annotated[int, Field(ge=300, le=10_000_000)] = 50_000
    extra_bytes: Annotated[int, Field(ge=0, le=64)] = 10
    """What the radio adds to a frame: preamble, synchronisation, length, checksum, ramp."""


class Radio(Model):
    """The radio between the packs and the base."""

    level_dbm: LevelDbm = -70.0
    """Mean level at which a frame is heard, near the base and in no shadow."""
    up: Way = Way()
    """From the packs to the base."""
    down: Way = Way()
    """From the base to each pack."""
    range: Range | None = None
    shared: Shared | None = None
