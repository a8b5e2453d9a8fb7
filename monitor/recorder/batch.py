"""What the sequencer hands out: rows to commit, frames to send, words to boards, sounds.

A batch is committed whole or not at all. TAKEN goes out only after the commit; sounds, frames and
all other answers wait for no disk.
"""

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from monitor.desk import DownMessage
from monitor.incident.rows import Row

if TYPE_CHECKING:
    from monitor.clock import Stamp
    from monitor.links.chunk import Address


@dataclass(frozen=True, slots=True)
class Send:
    """One frame for one link; ``address`` None: whoever listens on that wire."""

    link: int
    address: "Address | None"
    frame: bytes


@dataclass(frozen=True, slots=True)
class Answer:
    """A message for one connection of the desk; ``to`` is its number."""

    to: int
    message: DownMessage


@dataclass(slots=True)
class Batch:
    """One commit and what goes with it."""

    rows: list[Row]
    """In the order of their numbers."""
    horizon: int
    """Incident time, ns: once committed, everything up to here is in the journal."""
    stamp: "Stamp"
    """Boot and wall clock at the horizon."""
    answers: list[Answer] = field(default_factory=list)
    """To be sent once this batch is in the journal, never before."""
    at_once: list[Answer] = field(default_factory=list)
    """Roles, and acts that are not taken: they wait for no disk."""
    sends: list[Send] = field(default_factory=list)
    closes: bool = False
    """The incident is closed by a row of this batch: nothing comes after it."""
    number: int = 0
    """From 1, for one sequencer."""
