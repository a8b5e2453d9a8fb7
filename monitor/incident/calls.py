"""What one pack has said of help in frames that do not count as heard: what of it is news. Pure.

A frame that proves nothing may be a recording, and may be somebody who calls. The same frame again
is a recording of one that was shown, since a pack's uptime goes on: it says nothing. Another is a
call that goes on, a new press of the button, or the first that only a pack of now can have sent.
"""

from enum import IntEnum
from typing import NamedTuple

from monitor.incident.rows import Standing
from protocol.packets import Report

SHOWN_MAX = 256
"""Frames known again of one pack. A longer recording is held down by the pace of its line."""
_U32_BITS = 32
_STRONG = frozenset({Standing.NOT_PROVEN, Standing.OLD_NOW})
"""A number never taken, or an answer to a beacon of now: no frame of these comes twice."""


class News(IntEnum):
    """What a frame that says help without proof adds to what is known of its pack."""

    NOTHING = 0
    """Shown before."""
    GOES_ON = 1
    """The same call once more."""
    PRESS = 2
    """Another call, by a frame that anybody could have made or recorded."""
    PRESS_NOW = 3
    """Another, by one that nobody can send twice."""
    STRONGER = 4
    """The first such: whatever was thought of those before it."""


class _Last(NamedTuple):
    """The last report of a pack in one standing."""

    boot: int
    sequence: int
    helps: bool


class Calls:
    """Of one pack."""

    __slots__ = ("_last", "_shown", "_strong", "pressed")

    def __init__(self) -> None:
        self.pressed = False
        """One of them was the button's; else all were of a motion alarm."""
        self._last: dict[int, _Last] = {}
        self._shown: list[int] = []
        self._strong = False

    def forget(self) -> None:
        """What came before is settled: the next call is a new one. What was shown stays known."""
        self._last.clear()
        self._strong = self.pressed = False

    def hear(self, report: Report, standing: Standing, *, helps: bool) -> News:
        """Take a report without proof; ``helps``: it says that its wearer may need help."""
        last = self._last.get(standing)
        same_boot = last is not None and last.boot == report.boot
        if not helps:
            # One overtaken on its way is no word that the call has ended.
            if last is not None and not (same_boot and report.sequence < last.sequence):
                self._last[standing] = _Last(report.boot, report.sequence, helps=False)
            return News.NOTHING
        strong = standing in _STRONG
        if not strong and not self._is_new(report):
            return News.NOTHING
        self._last[standing] = _Last(report.boot, report.sequence, helps=True)
        self.pressed = self.pressed or report.distress
        if strong and not self._strong:
            self._strong = True
            return News.STRONGER
        goes_on = last is not None and same_boot and last.helps
        if goes_on:
            return News.GOES_ON
        return News.PRESS_NOW if strong else News.PRESS

    def _is_new(self, report: Report) -> bool:
        """Whether no such frame was shown; it is from now on."""
        frame = (report.boot << _U32_BITS | report.sequence) << _U32_BITS | report.uptime_ms
        if frame in self._shown:
            return False
        self._shown.append(frame)
        del self._shown[:-SHOWN_MAX]
        return True
