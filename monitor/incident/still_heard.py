"""The fact that stands for frames which say nothing new, while memory is full of rows."""

from typing import Annotated, Literal, NamedTuple

from pydantic import Field

from monitor.incident.event_parts import EventModel, Identity

PACKS_MAX = 2_000
"""Told in one fact: some 100 kB."""
_U32 = Annotated[int, Field(ge=0, le=0xFFFF_FFFF)]


class StillHeard(NamedTuple):
    """Reports of one pack that repeat the state it told last, with other numbers."""

    pack: Identity
    frames: Annotated[int, Field(ge=1, le=0xFFFF_FFFF)]
    """How many were heard; in the order of their numbers."""
    sequence: Annotated[int, Field(ge=1, le=0xFFFF_FFFF)]
    """Number of the last."""
    uptime_ms: _U32
    pressure_dbar: Annotated[int, Field(ge=0, le=0xFFFF)] | None
    """Gauge pressure as the last told it, 0.1 bar."""


class Thinned(EventModel):
    """Frames heard since the last such fact that are kept in short: no row each."""

    what: Literal["thinned"] = "thinned"
    packs: tuple[StillHeard, ...] = Field(min_length=1, max_length=PACKS_MAX)
