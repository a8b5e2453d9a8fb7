"""Rows of a journal into the lines of a feed, in their order. Pure."""

from collections.abc import Iterator

from monitor.feed.lines import NS_PER_S, Line, announcement_line, end_line, picture_line
from monitor.incident.decoding import event_of
from monitor.incident.incident import Incident
from monitor.incident.rows import Row


class Telling:
    """One fold of a journal's rows, told as it goes."""

    def __init__(self, every_ns: int = 5 * NS_PER_S, *, names: bool = False) -> None:
        """``every_ns``: between two pictures."""
        self.incident = Incident()
        self.row = 0
        """Number of the last row told."""
        self._every_ns = every_ns
        self._names = names
        self._next_ns = 0

    def rows(self, rows: list[Row], horizon: int, *, complete: bool) -> Iterator[Line]:
        """Tell what is new: rows after those told, and up to when everything is in the journal.

        ``complete``: no further row up to that horizon is still to come.
        """
        for row in rows:
            event = event_of(row)
            if event is not None:
                yield from self._up_to(event.t - 1)
                self.incident.apply(event)
                yield from self._announced()
            self.row += 1
        if complete:
            yield from self._up_to(horizon)

    def quietly(self, rows: list[Row], horizon: int, *, complete: bool) -> None:
        """Take the same without telling it: what came before somebody began to listen."""
        for _line in self.rows(rows, horizon, complete=complete):
            pass
        self._next_ns = self.incident.now

    def end(self) -> Iterator[Line]:
        """Tell how it stands at the end, and that it is the end."""
        if self.incident.opened is not None:
            yield picture_line(self.incident.picture(), names=self._names)
        yield end_line(self.incident.now, closed=self.incident.closed)

    def _up_to(self, t: int) -> Iterator[Line]:
        """Let time go by, with a picture whenever one is due."""
        incident = self.incident
        if incident.opened is None:
            return
        while self._next_ns <= t:
            incident.advance(self._next_ns)
            yield from self._announced()
            yield picture_line(incident.picture(), names=self._names)
            self._next_ns += self._every_ns
        if t > incident.now:
            incident.advance(t)
            yield from self._announced()

    def _announced(self) -> Iterator[Line]:
        offset = self.incident.wall_ns - self.incident.now
        for said in self.incident.take_announcements():
            yield announcement_line(said, offset)
