"""A follower of a journal as a board's source."""

from collections.abc import Sequence

from monitor.follower import Follower
from monitor.incident.air.detail import AirDetail
from monitor.incident.events import Act
from monitor.incident.picture import Picture
from monitor.live_follower import LiveFollower


class JournalSource:
    """Adds to a follower what a board asks beside: whether something was just announced."""

    def __init__(self, follower: Follower | LiveFollower) -> None:
        """Follow; what was announced before the board was there is not urgent."""
        self._follower = follower
        self._orders_given = follower.incident.orders_given

    @property
    def horizon(self) -> int:
        """Everything up to this incident time has been read, ns."""
        return self._follower.horizon

    @property
    def catching_up(self) -> bool:
        """More is waiting than one poll takes."""
        return self._follower.catching_up

    def poll(self) -> bool:
        """Read what is new, a bounded amount. True if there was something."""
        return self._follower.poll()

    def urgent(self) -> bool:
        """Tell whether something was announced, or an order given, since the last call."""
        incident = self._follower.incident
        before, self._orders_given = self._orders_given, incident.orders_given
        return bool(incident.take_announcements()) or self._orders_given > before

    def picture(self) -> Picture:
        """Give the incident at the horizon."""
        return self._follower.picture()

    def did(self, act_id: str) -> bool:
        """Tell whether this act has been read and done."""
        return self._follower.incident.did(act_id)

    def log(self) -> Sequence[tuple[int, Act]]:
        """Give the last acts taken and their incident times, newest first."""
        return self._follower.incident.log()

    def emergency_form(self, wearer: int) -> Sequence[tuple[str, str]]:
        """Give heading and value of each field of this wearer's emergency message."""
        return self._follower.incident.emergency_form(wearer)

    def air_detail(self, wearer: int) -> AirDetail | None:
        """Give all of one wearer's air at the horizon; None if there is none to tell."""
        return self._follower.incident.air_detail(wearer)
