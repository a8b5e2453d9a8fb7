"""One pass over a journal: folds it as every reader does, and keeps what a report tells. Pure.

Memory grows with people, acts and alarms, each with a limit, and not with frames. What is gathered
hangs on the rows alone, not on where a pass rests or ends: so one can be kept beside a journal
while it is recorded, and a report goes on from it (``gathered_before``).
"""

from collections.abc import Iterable
from dataclasses import dataclass, field

from monitor.archive.wall_clock import WallClock
from monitor.incident import events
from monitor.incident.alarms.engine import Announcement
from monitor.incident.decoding import event_of
from monitor.incident.events import Act, Done, Heard, Note, Opened, is_act
from monitor.incident.incident import Incident
from monitor.incident.orders.events import EmergencyCrew
from monitor.incident.picture import OrderView, Picture
from monitor.incident.record.events import Correct, RealEmergency
from monitor.incident.rows import Row, RowKind
from monitor.report.alarm_lives import AlarmLives
from monitor.report.event_words import act_words
from monitor.report.links import Links
from monitor.report.timeline import Timeline
from monitor.report.wears import Wears

SECOND_NS = 1_000_000_000
SAMPLES_MAX = 1_000
"""Instants at which the board is looked at. With more, every other is dropped, and it is looked at
half as often from then on; so a chart has 500 to 1,000 points, however long it is."""
REMARKS_MAX = 5_000
ACTS_MAX = 50_000
"""Far more than officers do in one incident."""
SAMPLE_MIN_NS = 5 * SECOND_NS


@dataclass(slots=True)
class Gathered:
    """What a journal tells."""

    end_ns: int = 0
    """Incident time up to which it tells."""
    opened: Opened | None = None
    last: Picture | None = None
    """The board at the end."""
    closed: bool = False
    lives: AlarmLives = field(default_factory=AlarmLives)
    wears: Wears = field(default_factory=Wears)
    links: Links = field(default_factory=Links)
    timeline: Timeline = field(default_factory=Timeline)
    wall: WallClock = field(default_factory=WallClock)
    orders: tuple[OrderView, ...] = ()
    """All of them, as they stood at the end."""
    copies: dict[int, dict[int, tuple[int, ...]]] = field(default_factory=dict)
    """By order and wearer: when each copy went to the pack, ns since the order was given."""
    emergency: list[tuple[int, EmergencyCrew]] = field(default_factory=list)
    """When which crew was what."""
    acts: list[tuple[int, Act]] = field(default_factory=list)
    """Those that were taken, in order; at most ``ACTS_MAX``."""
    remarks: list[tuple[int, Note]] = field(default_factory=list)
    """At most ``REMARKS_MAX``; the time line has more."""
    officers: list[tuple[int, str]] = field(default_factory=list)
    """From when whose board it was."""
    real: tuple[int, RealEmergency] | None = None
    """When an exercise became real."""
    corrections: list[tuple[int, Correct, str]] = field(default_factory=list)
    """When, what is right, and the act as it stands, in words."""
    rows: int = 0
    frames: int = 0
    announced: int = 0
    """Announcements in the journal: evidence of what was told at the time."""
    announced_now: int = 0
    """Announcements of this fold."""
    down_ns: int = 0
    """No recorder ran, by what the recorder says itself."""
    stalled_ns: int = 0
    paused: list[int] = field(default_factory=list)
    """How long each pause of an exercise was, ns; they take no incident time."""
    clock_set: list[tuple[int, int]] = field(default_factory=list)
    """When the wall clock was set, and by how much, ns; at most ``REMARKS_MAX``."""
    unknown_breaks: int = 0
    """Breaks of which no clock could say how long they were."""


def gather(steps: Iterable[list[Row]], end_ns: int) -> Gathered:
    """Fold every row, then up to ``end_ns``, the horizon of the journal.

    ValueError where a row is not what its kind says.
    """
    gathering = Gathering()
    for step in steps:
        gathering.take(step)
    return gathering.finish(end_ns)


class Gathering:
    """A pass that goes on: rows in, and at the end what they tell."""

    def __init__(self) -> None:
        self.found = Gathered()
        self.incident = Incident()
        self.row = 0
        """Number of the last row folded."""
        self._sample_ns = SAMPLE_MIN_NS
        self._next_ns = SAMPLE_MIN_NS
        self._unit = "bar"

    @property
    def packs(self) -> int:
        """How many are known."""
        return len(self.found.links.packs)

    def take(self, rows: Iterable[Row]) -> None:
        """Fold the next rows. ValueError where one is not what it says."""
        for row in rows:
            self._take(row)
            self.row += 1

    def advance(self, t: int) -> None:
        """Do nothing: what is told must not hang on where a pass has rested."""

    def _take(self, row: Row) -> None:
        found = self.found
        while self._next_ns < row.t:
            self._sample(self._next_ns)
        event = event_of(row)
        if event is None:
            found.announced += row.kind == RowKind.ANNOUNCED
        elif isinstance(event, Heard):
            found.frames += 1
            found.links.heard(event)
            self.incident.apply(event)
            self._told()
        else:
            self._done(event)

    def _done(self, event: Done) -> None:
        found, incident, what = self.found, self.incident, event.what
        if is_act(what):
            self._act(event, what)
            return
        incident.apply(event)
        if isinstance(what, Opened) and found.opened is None:
            found.opened = what
            self._unit = what.procedure.pressure_unit
            found.officers.append((event.t, what.officer))
            incident.keep_alarm_steps()
        found.wall.note(incident.now, incident.wall_ns)
        found.links.done(event.t, what)
        found.timeline.fact(event.t, what)
        self._told()
        self._count(event.t, what)

    def _act(self, event: Done, act: Act) -> None:
        """Fold an act; it is told only if the fold takes it."""
        found, incident = self.found, self.incident
        if incident.has_taken(act.id):
            return
        found.wears.before(act, incident)
        incident.apply(event)
        taken = incident.has_taken(act.id)
        if taken:
            found.wears.act(incident.now, act, incident)
            found.links.done(incident.now, act)
            found.timeline.act(incident.now, act, found.wears.people, self._unit)
        self._told()
        if taken:
            found.lives.act(incident.now, act)
            if len(found.acts) < ACTS_MAX:
                found.acts.append((incident.now, act))
            if isinstance(act, EmergencyCrew):
                found.emergency.append((incident.now, act))
            elif isinstance(act, RealEmergency):
                found.real = incident.now, act
            elif isinstance(act, Correct) and len(found.corrections) < REMARKS_MAX:
                found.corrections.append((incident.now, act, self._as_it_stands(act.of)))
            elif isinstance(act, Note) and len(found.remarks) < REMARKS_MAX:
                found.remarks.append((incident.now, act))

    def _as_it_stands(self, act_id: str) -> str:
        """An earlier act in words."""
        people, unit = self.found.wears.people, self._unit
        found = (act for _, act in self.found.acts if act.id == act_id)
        return next((act_words(act, people, unit) for act in found), act_id)

    def _told(self) -> None:
        """Take what the fold has to say of alarms."""
        found, incident = self.found, self.incident
        for step in incident.take_alarm_steps():
            found.lives.step(step, incident.alarm)
            found.timeline.step(step, found.lives)
        for said in incident.take_announcements():
            self._announced(said)

    def _announced(self, said: Announcement) -> None:
        self.found.announced_now += 1
        if said.again:
            self.found.lives.announced_again(said.number)

    def _count(self, t: int, what: object) -> None:
        found = self.found
        if isinstance(what, events.Resumed):
            found.down_ns += what.down_ns
            found.unknown_breaks += what.known_by == "unknown"
        elif isinstance(what, events.Stall):
            found.stalled_ns += max(0, what.to_ns - what.from_ns)
        elif isinstance(what, events.WentOn) and len(found.paused) < REMARKS_MAX:
            found.paused.append(what.stood_ns)
        elif isinstance(what, events.ClockStep) and len(found.clock_set) < REMARKS_MAX:
            found.clock_set.append((t, what.by_ns))
        elif isinstance(what, events.Holder) and what.by and what.by != found.officers[-1][1]:
            found.officers.append((t, what.by))

    def _sample(self, t: int) -> None:
        """Look at the board; what is under air may be dropped again by ``SAMPLES_MAX``."""
        self.incident.advance(t)
        self._told()
        if self.incident.opened is not None and not self.incident.closed:
            self.found.wears.sample(t, self.incident)
        if t >= SAMPLES_MAX * self._sample_ns:
            self._sample_ns *= 2
            self.found.wears.thin(self._sample_ns)
        self._next_ns = t - t % self._sample_ns + self._sample_ns

    def finish(self, end_ns: int) -> Gathered:
        """Go to the end of the record. Nothing can be taken after that."""
        found, incident = self.found, self.incident
        found.end_ns, found.rows = end_ns, self.row
        incident.advance(end_ns)
        self._told()
        found.wears.finish(incident)
        found.links.finish(end_ns)
        found.timeline.finish()
        found.closed = incident.closed
        found.orders = incident.every_order()
        found.copies = {order.number: incident.copies_of(order.number) for order in found.orders}
        if found.opened is not None:
            found.last = incident.picture()
        return found
