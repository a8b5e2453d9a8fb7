"""When a board rings the terminal's bell: where the recorder does not play sounds itself. Pure."""

from monitor.incident.picture import Picture, Sounding
from monitor.sound.ladder import Ladder
from monitor.sound.tones import Tone

RING = frozenset({"", "bell", "missing", "failing"})
"""States of sound in which it is left to the boards; none is said in journals of old."""
STOPPED = Sounding(caution_ns=0)
"""A display that has stopped: the recorder may be dead, and its player with it."""
QUIET = Sounding()


class Bell:
    """Follows the same ladder as the recorder's player."""

    def __init__(self) -> None:
        """Nothing has rung yet."""
        self._ladder = Ladder()

    def rings(self, picture: Picture, now_ns: int, *, stopped: bool = False) -> bool:
        """Say whether to ring now; asked at every picture."""
        waits = picture.sounding if picture.sound in RING else QUIET
        if stopped and picture.sound != "off":
            waits = STOPPED
        return isinstance(self._ladder.look(now_ns, waits), Tone)
