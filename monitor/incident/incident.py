"""The incident: a fold of events. The one door to everything in this package.

Pure: no clock, no input or output, no random. The same events and horizons give the same incident
in the recorder, on every screen, in replay and in the tests.

At equal times events come before deadlines: ``apply`` first fires the deadlines that lie before
the event, and a frame that arrives at the very instant of its pack's deadline is in time.
``advance`` says that nothing more comes up to an instant, and fires the deadlines up to and at it.
However often it is called in between, the outcome is the same, provided that no event comes later
with a time at or before an instant that was advanced to (the recorder's horizon promises that).
"""

from monitor.incident import acts, facts, refusals
from monitor.incident.air.detail import AirDetail
from monitor.incident.air_detail import air_detail
from monitor.incident.alarm_view import alarm_view
from monitor.incident.alarms.engine import Announcement, Refusal, Step
from monitor.incident.check_in import CheckIn, check_ins
from monitor.incident.crew import crews_under_air
from monitor.incident.events import Act, DiskState, Done, Event, Heard, Opened, is_act
from monitor.incident.firing import fire_until
from monitor.incident.hearing import hear
from monitor.incident.orders.order import Outstanding
from monitor.incident.orders.sending import outstanding
from monitor.incident.orders.view import copies_of, every_order
from monitor.incident.picture import AirView, AlarmView, OrderView, Picture, Sounding
from monitor.incident.record import briefs
from monitor.incident.situation import Situation
from monitor.incident.sounding import sounding
from monitor.incident.viewing import picture_of
from monitor.incident.wearer_view import air_in_full

FOLD_VERSION = 2
"""Rises with every change that can make another incident of the same events."""


class NotOpenedError(Exception):
    """A picture was asked of an incident whose first event has not come."""


class Incident:
    """One incident, from its first event on."""

    def __init__(self) -> None:
        self._s: Situation | None = None

    # ------------------------------------------------------------ events in

    def apply(self, event: Event) -> None:
        """Take the next event. Events come in the order of their rows.

        The first is ``Opened``; anything before it, and a second one, does nothing. An event
        whose time is before the present counts as happening at present.
        """
        s = self._s
        if s is None:
            self._open(event)
            return
        t = event.t
        if isinstance(event, Done):
            facts.not_listening(s, event.what, t)
        if s.deadlines.next_ns < t:
            self._fire(s, t - 1)
        s.now = max(s.now, t)
        if s.closed:
            return
        if isinstance(event, Heard):
            hear(s, event)
        elif is_act(event.what):
            acts.act_on(s, event.what)
        else:
            facts.take_fact(s, event.what)

    def advance(self, t: int) -> None:
        """Say that everything up to and at ``t`` has come. Never goes back."""
        s = self._s
        if s is not None:
            if s.deadlines.next_ns <= t:
                self._fire(s, t)
            s.now = max(s.now, t)

    def _open(self, event: Event) -> None:
        if not isinstance(event, Heard) and isinstance(event.what, Opened):
            self._s = Situation(event.what, event.t)

    def _fire(self, s: Situation, until_ns: int) -> None:
        if not s.closed:
            fire_until(s, until_ns)

    # ------------------------------------------------------------ answers out

    @property
    def opened(self) -> Opened | None:
        """The first event; None before it."""
        return self._s.opened if self._s else None

    @property
    def now(self) -> int:
        """The instant this incident stands at."""
        return self._s.now if self._s else 0

    @property
    def closed(self) -> bool:
        """Whether it has ended; nothing is taken any more."""
        return self._s is not None and self._s.closed

    @property
    def journal_gone(self) -> bool:
        """Whether the journal's files are not as they were written, by what the recorder said."""
        return self._s is not None and self._s.disk.state == "gone"

    @property
    def second_places(self) -> tuple[str, ...]:
        """Paths of the files where rows are, or would be, while the journal's disk takes none."""
        return self._s.second_places if self._s else ()

    @property
    def use(self) -> str:
        """``exercise`` or ``real``, as it is now; empty before it is opened."""
        return self._s.record.use if self._s else ""

    @property
    def disk(self) -> DiskState | None:
        """How the journal's disk is, as last told; None before the incident is opened."""
        return self._s.disk if self._s else None

    @property
    def paused(self) -> bool:
        """Whether an exercise stands still."""
        return self._s is not None and self._s.record.paused

    @property
    def watched(self) -> bool:
        """Whether some board draws, as far as the recorder has said."""
        return self._s is None or self._s.watched

    @property
    def orders_given(self) -> int:
        """How many orders so far: a display that sees it rise draws at once."""
        return len(self._s.orders.orders) if self._s else 0

    @property
    def heard_packs(self) -> tuple[int, ...]:
        """Identities of packs that were ever heard live, in order of first contact."""
        if self._s is None:
            return ()
        return tuple(i for i, c in self._s.contacts.items() if c.heard_ns is not None)

    @property
    def joined_packs(self) -> frozenset[int]:
        """Identities of the packs that are joined to somebody on the board."""
        wearers = self._s.wearers.values() if self._s else ()
        return frozenset(w.pack for w in wearers if w.pack is not None)

    def has_taken(self, act_id: str) -> bool:
        """Whether an act with this id has been taken before."""
        return self._s is not None and act_id in self._s.acts

    def would_refuse(self, act: Act, t: int) -> str | None:
        """Why this act could not be taken at ``t``, in one plain sentence; None if it could."""
        if self._s is None:
            return "The incident is not open yet."
        return refusals.would_refuse(self._s, act, t)

    def picture(self) -> Picture:
        """Everything a display shows, at the instant this incident stands at."""
        if self._s is None:
            raise NotOpenedError
        return picture_of(self._s)

    def sounding(self) -> Sounding:
        """What waits to be heard, at the instant this incident stands at."""
        return sounding(self._s) if self._s else Sounding()

    def air_detail(self, wearer: int) -> AirDetail | None:
        """All of one wearer's air, for a screen of its own; None for somebody not on air."""
        found = self._s.wearers.get(wearer) if self._s else None
        return air_detail(self._s, found) if self._s and found else None

    def did(self, act_id: str) -> bool:
        """Tell whether the act of this id is among those done, the last 20,000 of them."""
        return self._s is not None and act_id in self._s.acts

    def log(self) -> tuple[tuple[int, Act], ...]:
        """The last acts taken and their times, newest first; the whole record is the journal."""
        return tuple(reversed(self._s.log)) if self._s else ()

    def emergency_form(self, wearer: int) -> tuple[tuple[str, str], ...]:
        """Heading and value of each field of this wearer's emergency message, from the last data.

        A value nobody knows is empty; a number that nobody has gives no fields.
        """
        found = self._s.wearers.get(wearer) if self._s else None
        return briefs.emergency_form(self._s, found) if self._s and found else ()

    def outstanding(self) -> tuple[Outstanding, ...]:
        """The orders and confirmations to be sent now, at most one a pack, until they arrive."""
        return outstanding(self._s) if self._s and not self._s.closed else ()

    def take_announcements(self) -> tuple[Announcement, ...]:
        """What has become an alarm, or insists, since the last call."""
        return self._s.engine.take_announcements() if self._s else ()

    def take_refusals(self) -> tuple[Refusal, ...]:
        """Inputs that the table of alarm states refused since the last call: faults of the fold."""
        return self._s.engine.take_refusals() if self._s else ()

    # ------------------------------------------------------------ for the record

    @property
    def wall_ns(self) -> int:
        """What the wall clock shows at this instant; 0 before the first event."""
        return self._s.wall_base_ns + self._s.now if self._s else 0

    def alarm(self, number: int) -> AlarmView | None:
        """The line of one living alarm; None if there is none of this number."""
        found = self._s.engine.by_number.get(number) if self._s else None
        if self._s is None or found is None:
            return None
        return alarm_view(self._s, found, crews_under_air(self._s.wearers.values()))

    def air(self, wearer: int) -> AirView | None:
        """The air of one wearer as on the board; None for a number that nobody has."""
        found = self._s.wearers.get(wearer) if self._s else None
        if self._s is None or found is None:
            return None
        return air_in_full(self._s, found, self._s.contact_of(found))

    def check_ins(self) -> tuple[CheckIn, ...]:
        """Everybody on the board with what they were checked in with, in its order."""
        return check_ins(self._s) if self._s else ()

    def every_order(self) -> tuple[OrderView, ...]:
        """All orders so far, in the order of giving; a picture has the present ones only."""
        return every_order(self._s) if self._s else ()

    def copies_of(self, order: int) -> dict[int, tuple[int, ...]]:
        """By wearer, when each copy of this order went to the pack, ns since it was given."""
        return copies_of(self._s, order) if self._s else {}

    def keep_alarm_steps(self) -> None:
        """Keep every step of every alarm from now on, to be taken. After the first event."""
        if self._s is not None:
            self._s.engine.keep_steps()

    def take_alarm_steps(self) -> tuple[Step, ...]:
        """Every step since the last call; none unless they are kept."""
        return self._s.engine.take_steps() if self._s else ()
