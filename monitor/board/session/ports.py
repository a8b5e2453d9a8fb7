"""What a board stands on, as it sees it: a source of pictures, the desk, whoever restarts things.

The real ones are a follower of the journal, the desk's client and ``revive``; tests have their own.
"""

from collections.abc import Sequence
from typing import Protocol

from monitor.desk import Role
from monitor.desk_client import Answer
from monitor.incident.air.detail import AirDetail
from monitor.incident.events import Act
from monitor.incident.picture import Picture


class Source(Protocol):
    """What a board asks of its reader."""

    @property
    def horizon(self) -> int:
        """Everything up to this incident time has been read, ns."""

    @property
    def catching_up(self) -> bool:
        """More is waiting than one poll takes."""

    def poll(self) -> bool:
        """Read what is new, a bounded amount. True if there was something."""

    def urgent(self) -> bool:
        """Tell whether something was announced or ordered since the last call: draw at once."""

    def picture(self) -> Picture:
        """Give the incident at the horizon."""

    def did(self, act_id: str) -> bool:
        """Tell whether this act has been read and done."""

    def log(self) -> Sequence[tuple[int, Act]]:
        """Give the last acts taken and their incident times, newest first."""

    def emergency_form(self, wearer: int) -> Sequence[tuple[str, str]]:
        """Give heading and value of each field of this wearer's emergency message."""

    def air_detail(self, wearer: int) -> AirDetail | None:
        """Give all of one wearer's air at the horizon; None if there is none to tell."""


class DeskPort(Protocol):
    """What the board asks of its end of the desk."""

    role: Role | None
    by: str
    """In whose name this board acts."""
    full: int
    """So many boards are at the desk that this one has no seat; 0: it has, or may have."""

    not_on_disk: bool
    """The recorder has just said that no file takes its rows."""

    @property
    def connected(self) -> bool:
        """Whether acts can be taken."""

    @property
    def holds(self) -> bool:
        """Whether this board may act."""

    def ask(self, act: Act, now_ns: int) -> None:
        """Ask for an act; its answer comes out of ``pump``."""

    def beat(self, frame: int) -> None:
        """Say that a frame has been drawn."""

    def take(self) -> None:
        """Take the board from whoever holds it."""

    def stop(self) -> None:
        """Ask the recorder to end."""

    def pump(self, now_ns: int) -> list[Answer]:
        """Send and read what there is; never wait."""


class Reviver(Protocol):
    """Finds out why the display has stopped and starts a dead recorder again."""

    def look(self, now_ns: int) -> str:
        """Do what can be done; give the cause in a few words."""

    def well(self) -> None:
        """Take note that the display lives."""

    def ended(self) -> None:
        """Take note that the recorder ends on purpose, and is not to be started again."""

    def again(self) -> None:
        """Somebody asks for a recorder that was stopped on purpose."""
