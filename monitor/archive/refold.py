"""Folds a finished journal anew and compares with what was announced while it was recorded.

The announcements in a journal are evidence: the fold never reads them. By the same version of the
rules the same rows give the same announcements, so a difference means that a row, or an
announcement, is not what it was. By another version differences are expected and only told.
"""

import json
from collections import deque
from dataclasses import dataclass, field
from itertools import chain
from pathlib import Path
from typing import TypeVar

from monitor.incident.alarms.engine import Announcement
from monitor.incident.decoding import (
    ANNOUNCED_FIELDS,
    NOT_UNDERSTOOD,
    AnnouncedAs,
    announced_as,
    announced_of,
    event_of,
    why,
)
from monitor.incident.events import Done, Opened, Resumed, Stall
from monitor.incident.incident import FOLD_VERSION, Incident
from monitor.incident.rows import Row
from monitor.journal.reader import JournalReader
from monitor.journal.schema import Batch, Header
from monitor.journal.verify import Fault

DIFFERENCES_MAX = 1_000
"""Kept; all are counted. Whoever reads more than the first few has another journal before them."""

_Said = dict[str, object]
_One = TypeVar("_One")


@dataclass(frozen=True, slots=True)
class Difference:
    """One announcement that is not the same both times."""

    row: int
    """Where it is in the journal; 0 where only the new fold announces it."""
    t: int
    """Incident time of the announcement, ns."""
    what: str


@dataclass(slots=True)
class Refolded:
    """What folding anew showed."""

    opened: Opened | None = None
    """The first event; None where the journal does not reach so far."""
    closed: bool = False
    fold: int = FOLD_VERSION
    """The version of the rules that the recorder ran."""
    announced: int = 0
    """Announcements in the journal."""
    count: int = 0
    """Announcements that differ."""
    differences: list[Difference] = field(default_factory=list)
    """The first of them, in order of time."""
    down_ns: int = 0
    """How long no recorder ran, by what the recorder says itself."""
    unknown_breaks: int = 0
    """Breaks of which no clock knew how long they were."""
    stalled_ns: int = 0
    """How long a recorder ran but was held up."""
    now: int = 0
    """Incident time, ns, up to which it was folded."""
    fault: Fault | None = None
    """A row that is not what its kind says, or a header that tells of another incident."""

    @property
    def same_rules(self) -> bool:
        """Whether these are the rules that the recorder ran."""
        return self.fold == FOLD_VERSION

    @property
    def sound(self) -> bool:
        """Nothing speaks against the journal: by other rules differences are no fault."""
        return self.fault is None and not (self.same_rules and self.count)


class _Comparison:
    """Puts each announcement of the journal beside the one of the new fold."""

    def __init__(self) -> None:
        self.announced = 0
        self.count = 0
        self.found: list[Difference] = []
        # Frames with one stamp may raise an alarm, clear it and raise it again in one instant: then
        # there is more than one announcement of a name, and the oldest of each side are partners.
        self._in_journal: dict[AnnouncedAs, deque[tuple[int, _Said]]] = {}
        self._in_fold: dict[AnnouncedAs, deque[_Said]] = {}

    def journalled(self, number: int, row: Row) -> None:
        """Take one from the journal. ValueError where it is not one."""
        said = announced_of(row.data)
        self.announced += 1
        key = announced_as(said)
        here = _oldest(self._in_fold, key)
        if here is None:
            self._in_journal.setdefault(key, deque()).append((number, said))
        else:
            self._compare(number, said, here)

    def folded(self, announcements: tuple[Announcement, ...]) -> None:
        """Take what the new fold announces."""
        for one in announcements:
            # Through JSON, as the journal's have come.
            said = json.loads(json.dumps({name: getattr(one, name) for name in ANNOUNCED_FIELDS}))
            key = announced_as(said)
            there = _oldest(self._in_journal, key)
            if there is None:
                self._in_fold.setdefault(key, deque()).append(said)
            else:
                self._compare(*there, said)

    def _compare(self, number: int, was: _Said, now: _Said) -> None:
        other = [f"{n}: {was[n]} then, {now[n]} now" for n in ANNOUNCED_FIELDS if was[n] != now[n]]
        if other:
            self._differs(number, was, ", ".join(other))

    def _differs(self, number: int, said: _Said, what: str) -> None:
        self.count += 1
        if len(self.found) < DIFFERENCES_MAX:
            _, t, again = announced_as(said)
            name = f"alarm {said['number']} {said['word']}" + (" again" if again else "")
            self.found.append(Difference(number, t, f"{name}: {what}"))

    def close(self) -> None:
        """Count what has found no partner."""
        for number, said in chain.from_iterable(self._in_journal.values()):
            self._differs(number, said, "announced then, not now")
        for said in chain.from_iterable(self._in_fold.values()):
            self._differs(0, said, "announced now, not then")
        self.found.sort(key=lambda one: one.t)


def _oldest(waiting: dict[AnnouncedAs, deque[_One]], key: AnnouncedAs) -> _One | None:
    """Take the oldest of that name away; None where there is none."""
    those = waiting.get(key)
    if those is None:
        return None
    one = those.popleft()
    if not those:
        del waiting[key]
    return one


def refold(path: Path, until: Batch) -> Refolded:
    """Fold the rows of a journal up to and with the commit ``until``; compare.

    Memory does not grow with length. Raises BadJournal where the file cannot be read so far.
    """
    with JournalReader(path, damaged=True) as reader:
        header = reader.header()
        found = Refolded(fold=header.fold)
        incident, comparison = Incident(), _Comparison()
        number = 0
        try:
            for step in reader.steps(until.last_row):
                for number, row in enumerate(step, number + 1):  # noqa: B020 - goes on
                    _take(number, row, incident, comparison, found)
            incident.advance(until.horizon)
            comparison.folded(incident.take_announcements())
        except NOT_UNDERSTOOD as wrong:
            found.fault = Fault(until.batch, number, number, f"not to be understood ({why(wrong)})")
    comparison.close()
    found.now = incident.now
    found.opened, found.closed = incident.opened, incident.closed
    found.announced, found.count = comparison.announced, comparison.count
    found.differences = comparison.found
    found.fault = found.fault or _disagreement(header, found.opened)
    return found


def _take(
    number: int, row: Row, incident: Incident, comparison: _Comparison, found: Refolded
) -> None:
    """Fold one row. ValueError where it is not what its kind says."""
    event = event_of(row)
    if event is None:
        comparison.journalled(number, row)
        return
    incident.apply(event)
    comparison.folded(incident.take_announcements())
    if isinstance(event, Done):
        if isinstance(event.what, Resumed):
            found.down_ns += event.what.down_ns
            found.unknown_breaks += event.what.known_by == "unknown"
        elif isinstance(event.what, Stall):
            found.stalled_ns += max(0, event.what.to_ns - event.what.from_ns)


def _disagreement(header: Header, opened: Opened | None) -> Fault | None:
    """The header and the first row say the same things twice."""
    if opened is None:
        return None
    for name, words in _TWICE.items():
        there = "wall_ns" if name == "opened_wall_ns" else name
        if getattr(header, name) != getattr(opened, there):
            return Fault(1, 1, 1, f"the header tells of another {words} than the first row")
    return None


_TWICE = {
    "incident": "incident",
    "use": "use",
    "fold": "version of the rules",
    "software": "software",
    "opened_wall_ns": "time of opening",
}
"""By their name in the header; said in the first row too."""
