"""What the wall clock showed at any instant of an incident, and when it showed a given time. Pure.

Incident time never jumps with the machine's clock. The wall clock may have been set meanwhile, and
a paused exercise or a break moves the two apart; so a time of day may be found never, or twice.
"""

from bisect import bisect_right
from datetime import datetime, time, timedelta, tzinfo

from monitor.incident import events
from monitor.incident.air.shown import SECOND_NS

DAYS_MAX = 400
"""Of one stretch: an incident is never longer than a year."""


class WallClock:
    """What the wall clock showed at any instant of the record, as it was set then."""

    def __init__(self) -> None:
        self._from: list[int] = []
        self._ahead: list[int] = []

    def note(self, t: int, wall_ns: int) -> None:
        """Say what it shows at ``t``; in order of time."""
        ahead = wall_ns - t
        if not self._ahead or self._ahead[-1] != ahead:
            self._from.append(t)
            self._ahead.append(ahead)

    def fact(self, t: int, what: object) -> None:
        """Take a fact of the journal, with its row's time; most say nothing of the clock."""
        match what:
            case events.Opened() | events.WentOn() | events.ClockStep():
                self.note(t, what.wall_ns)
            case events.Resumed():
                self.note(t + what.down_ns, what.wall_ns)
            case events.TimeMoved():
                self.note(t + what.by_ns, self.at(t))

    def at(self, t: int) -> int:
        """What it showed then; before the first word of it as then."""
        if not self._from:
            return t
        return t + self._ahead[max(0, bisect_right(self._from, t) - 1)]

    def instants(self, moment: time, end_ns: int, zone: tzinfo | None) -> list[int]:
        """Incident times, ns, up to ``end_ns``, at which it showed that time of day, in order.

        None where it never did, several where it was set back or a day went by.
        """
        found = []
        for place, start in enumerate(self._from):
            ahead = self._ahead[place]
            last = place + 1 == len(self._from)
            stop = end_ns + 1 if last else min(self._from[place + 1], end_ns + 1)
            found += [t for t in _shown(moment, start, stop, ahead, zone) if start <= t < stop]
        return found

    def skipped_at(self, moment: time, zone: tzinfo | None) -> int | None:
        """When it was set past that time of day, which it so never showed; None if it was not."""
        for place in range(1, len(self._from)):
            t = self._from[place]
            before, after = t + self._ahead[place - 1], t + self._ahead[place]
            if _shown(moment, before, after, 0, zone):
                return t
        return None


def _shown(moment: time, start: int, stop: int, ahead: int, zone: tzinfo | None) -> list[int]:
    """When that time of day is shown; it begins with the second in which ``start`` is."""
    first = datetime.fromtimestamp((start + ahead) // SECOND_NS, zone)
    found = []
    for day in range(DAYS_MAX):
        date = first.date() + timedelta(days=day)
        # By the clock of that day: a zone may have changed its hour in between.
        meant = datetime.combine(date, moment, first.tzinfo)
        t = int(meant.timestamp()) * SECOND_NS - ahead
        if t >= stop:
            break
        # The second that had begun at the start is as good as shown.
        if t + SECOND_NS > start:
            found.append(max(t, start))
    return found
