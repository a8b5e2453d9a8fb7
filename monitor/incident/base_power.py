"""The fact that tells what the base machine runs on, where its system says so."""

from typing import Literal

from pydantic import Field

from monitor.incident.event_parts import EventModel


class BasePower(EventModel):
    """The machine that records runs on something else than before, or less of it is left."""

    what: Literal["base_power"] = "base_power"
    state: Literal["mains", "battery"]
    percent: int | None = Field(default=None, ge=0, le=100)
    """Charge of its battery; None: not told."""
