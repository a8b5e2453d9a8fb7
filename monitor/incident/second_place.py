"""The fact that tells where rows are kept while the disk of the journal takes none."""

from typing import Literal

from pydantic import Field

from monitor.incident.event_parts import EventModel, Said

PLACES_MAX = 4
"""Beside the first: there are two at most."""


class SecondPlace(EventModel):
    """Where rows are kept while the disk of the journal takes none: see ``journal/spill``."""

    what: Literal["second_place"] = "second_place"
    state: Literal["none", "ready", "in use", "left", "merged", "differs", "no answer"]
    """``none``: there is no such place; ``in use``: every row goes there too; ``left``: the journal
    has all of it; ``merged``: a later recorder has brought ``rows`` from it into the journal;
    ``differs``: it does not go on from the journal, and is kept; ``no answer``: its disk did not
    answer at this opening, which went on without, and ``path`` is its folder."""
    path: Said = ""
    """Of the file."""
    also: tuple[Said, ...] = Field(default=(), max_length=PLACES_MAX)
    """Of others, where the same rows go at the same time."""
    rows: int = Field(default=0, ge=0)
    checked: bool = True
    """False: what was merged has a keyed digest, and the key is lost; ``verify`` can tell later."""
