"""The rules in force at an incident, as one frozen value.

A procedure is data: it is loaded from a file at the edge, written in full into the journal when
the incident opens, and handed to the fold. No threshold of the trade is written into code.
"""

from typing import Literal

from pydantic import BaseModel, ConfigDict, Field


class Procedure(BaseModel):
    """One service's rules. ``sources`` says, for each value, where it comes from."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    name: str = Field(min_length=1, max_length=40)
    title: str = Field(min_length=1, max_length=120)
    low_air_fraction: float = Field(ge=0.1, le=0.6)
    """Low-air value as a fraction of rated pressure, for a set that does not tell its own."""
    silence_limit_s: float = Field(ge=30, le=90)
    """The most silence before a wearer counts as out of signal, whatever the link's history."""
    pre_alarm_silence_s: float = Field(gt=0, le=60)
    """Silence after a motion pre-alarm that makes it a motion alarm."""
    gas_temperature_c: float = Field(ge=-20, le=60)
    """Taken for the gas where the pack does not tell; warmer is the safe side."""
    projection_rate_l_min: float = Field(gt=0, le=300)
    """Rate at which a silent pack's air is taken to fall."""
    spoken_reading_valid_s: float = Field(gt=0, le=3600)
    """How long a gauge reading by voice stands before the next is due."""
    battery_low_percent: int = Field(default=20, ge=0, le=100)
    """At or under this a pack battery is called low."""
    reading_tolerance_bar: float = Field(default=10, ge=0, le=50)
    """Gauge and telemetry that differ by no more than this agree."""
    pressure_unit: Literal["bar", "psi"] = "bar"
    sources: dict[str, str] = Field(default_factory=dict)
