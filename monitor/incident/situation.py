"""Everything the fold knows, in one place: what the parts of the incident read and change."""

from monitor.incident.air.forecast import Outlooks, Prior, outlooks
from monitor.incident.air.shown import (
    HIGHEST_RATED_BAR,
    SECOND_NS,
    Cylinder,
    Fall,
    Reading,
    estimate_bar,
    reached_ns,
)
from monitor.incident.alarms.engine import Engine
from monitor.incident.alarms.entry import Kind
from monitor.incident.base_power import BasePower
from monitor.incident.contact import STALE_MAX_NS, Contact, gap_after_ns
from monitor.incident.deadlines import Deadlines, Due
from monitor.incident.events import (
    Act,
    DiskState,
    Holder,
    LinkState,
    Note,
    Opened,
    Setup,
    SoundState,
)
from monitor.incident.link_rule import LEAST_NS, Fleet, Link, LinkRule, at_start, link_of, rule_of
from monitor.incident.listening import Listening
from monitor.incident.orders.book import Book
from monitor.incident.picture import AirFrom
from monitor.incident.procedure import Procedure
from monitor.incident.record.state import Record
from monitor.incident.several import Shared, Staffing, Together
from monitor.incident.wearer import Wear, Wearer
from protocol.packets import Apparatus, Motion

APPARATUS_WORDS = {
    Apparatus.UNKNOWN: "open circuit",
    Apparatus.OPEN_CIRCUIT: "open circuit",
    Apparatus.CLOSED_CIRCUIT: "closed circuit",
    Apparatus.AIRLINE: "airline",
}
"""As the screens say it. A set that does not tell its kind is taken for the usual one."""
SMALLEST_RATED_BAR = 200.0
"""Rated pressure taken where nobody has told it: the lowest usual one (common practice)."""
USUAL_LEAST_FILL = 0.9
"""Share of rated pressure taken for a fill that nobody told or asks for (common practice)."""
HISTORY_S = 60
"""From so much of a wearer's own breathing on, the projection of a silent pack follows it."""
CONTACTS_MAX = 20_000
"""Packs known. A flood of invented identities in open mode must not fill the memory: packs beyond
this are taken up only when somebody is joined to them."""
ACT_IDS_MAX = 20_000
"""Ids of acts remembered, newest kept."""
SOON_NS = 120 * SECOND_NS
"""So long before its mark a crew is named as one that will turn: time for one round of calls."""
NOTES_MAX = 10_000
LOG_MAX = 200
"""Acts kept to be looked at on a board; the whole record is the journal."""


class Situation:
    """The state of one incident. ``opened`` is set first of all; nothing else happens before."""

    second_places: tuple[str, ...] = ()
    """Path of the file where rows go while the journal's disk takes none."""
    setup: Setup | None = None
    """What the recorder runs with; None: from before that was kept."""
    power: BasePower | None = None
    """What the base machine runs on; None: its system does not say."""
    battery_ns = 0
    """Since when it runs on its battery, if it does."""

    def __init__(self, opened: Opened, t: int) -> None:
        self.opened = opened
        self.now = t
        self.wall_base_ns = opened.wall_ns - t
        """Wall time at incident time 0, as the wall clock is set now."""
        self.contacts: dict[int, Contact] = {}
        self.made_up: dict[int, None] = {}
        """Packs of which nothing was heard but calls under no key, oldest first: they make room."""
        self.wearers: dict[int, Wearer] = {}
        self.crews: dict[str, list[Wearer]] = {}
        """Everybody on the board who is in a crew, by its name."""
        self.staffing = Staffing()
        self.engine = Engine()
        self.orders = Book()
        self.deadlines = Deadlines()
        self.listening = Listening()
        self.links: dict[int, LinkState] = {}
        self.heard_before: set[str] = set()
        """Names of the links that were up when the recorder ended, and have not been since."""
        self.link_gone_ns: int | None = None
        """Since when there is no link left that could hear anything."""
        self.sharing = 0
        """Wearers under air with telemetry: they share the false alarms of the link rule."""
        self.fleet = Fleet()
        self.disk = DiskState(state="ok")
        self.sound: SoundState | None = None
        self.silenced_ns = self.silenced_until_ns = 0
        """When the officer last silenced all sound, and until when."""
        self.watched = True
        """Some board draws. Taken for true until the recorder says otherwise."""
        self.refused: dict[str, int] = {}
        self.doubtful: dict[str, int] = {}
        """Frames that did not count as heard, by standing."""
        self.foreign_ns: int | None = None
        """Last time frames failed authentication."""
        self.silent: dict[int, int] = {}
        """Wearers under air whose pack is silent beyond the limit and who have not spoken since,
        with the time from which their silence counts."""
        self.grouped, self.grouped_ns = False, 0
        """So many of them fell silent together that they are one alarm, and since when."""
        self.together: dict[Kind, Together] = {}
        """Packs that share one alarm, by what it says of them."""
        self.shared = Shared()
        self.holder: Holder | None = None
        self.acts: dict[str, None] = {}
        """Ids of acts taken, oldest first."""
        self.notes: list[tuple[int, Note]] = []
        self.log: list[tuple[int, Act]] = []
        """The last acts taken and when, oldest first, at most ``LOG_MAX``."""
        self.closed = False
        self.record = Record(opened.use, opened.officer, opened.stage)

    @property
    def procedure(self) -> Procedure:
        """The rules in force."""
        return self.opened.procedure

    # ------------------------------------------------------------ who has what

    def contact_of(self, wearer: Wearer) -> Contact | None:
        """The wearer's pack; None without telemetry."""
        return None if wearer.pack is None else self.contacts.get(wearer.pack)

    def wearer_of(self, contact: Contact) -> Wearer | None:
        """Who wears this pack; None if nobody on the board does."""
        return self.wearers.get(contact.wearer)

    def contact(self, identity: int) -> Contact | None:
        """The contact of a pack that a key vouches for, made if it is new.

        None if there are too many, and none of them that anybody may have made up.
        """
        if identity not in self.contacts and len(self.contacts) >= CONTACTS_MAX:
            if not self.made_up:
                return None
            gone = next(iter(self.made_up))
            del self.contacts[gone], self.made_up[gone]
        return self.contact_joined(identity)

    def contact_unproven(self, identity: int) -> Contact | None:
        """The same of one that has called under no key; None if there are too many."""
        contact = self.contacts.get(identity)
        if contact is None and len(self.contacts) < CONTACTS_MAX:
            contact = self.contact_joined(identity)
            self.made_up[identity] = None
        return contact

    def contact_joined(self, identity: int) -> Contact:
        """The same for a pack that is joined to somebody: there is always room for it."""
        self.made_up.pop(identity, None)
        contact = self.contacts.get(identity)
        if contact is None:
            contact = self.contacts[identity] = Contact(identity)
        return contact

    def set_crew(self, wearer: Wearer, name: str) -> None:
        """Put a wearer into a crew, or out of any (an empty name)."""
        if wearer in self.crews.get(wearer.crew, ()):
            self.crews[wearer.crew].remove(wearer)
        wearer.crew = name
        if name:
            self.crews.setdefault(name, []).append(wearer)

    def has_mates_on_air(self, wearer: Wearer) -> bool:
        """Whether another of the crew breathes from the set."""
        return any(w.under_air for w in self.crews.get(wearer.crew, ()) if w is not wearer)

    # ------------------------------------------------------------ the link's deadlines

    def silent_ns(self, contact: Contact) -> int:
        """Listening time since the pack was last heard, or first expected."""
        since = contact.silent_since_ns
        return 0 if since is None else self.listening.listened_ns(since, self.now)

    def link_rule(self, contact: Contact) -> LinkRule:
        """The link rule in force for this pack; while it is lost, the one that it is lost by."""
        if contact.lost and contact.lost_by is not None:
            return contact.lost_by
        limit_s, known = self.procedure.silence_limit_s, contact.account.taken > 0
        link = self.link(contact)
        return rule_of(link, contact.interval_s, self.sharing, limit_s, known=known)

    def link(self, contact: Contact) -> Link:
        """How the link to this pack is, by what it and the fleet have told."""
        interval_s = contact.interval_s
        own = contact.history.counted(contact.account, interval_s)
        return link_of(own, self.fleet.alike.get(interval_s) or at_start(interval_s))

    def lost_due_ns(self, contact: Contact) -> int | None:
        """When this silence becomes no signal; None if it cannot, or has."""
        since = contact.silent_since_ns
        if since is None or contact.lost or contact.signed_off:
            return None
        return self.listening.due_ns(since, self.link_rule(contact).limit_ns)

    def still_silent_due_ns(self, contact: Contact) -> int | None:
        """When silence after a motion pre-alarm becomes an alarm; None if it cannot, or has."""
        if (
            contact.heard_ns is None
            or contact.still_and_silent
            or contact.signed_off
            or contact.motion() is not Motion.PRE_ALARM
        ):
            return None
        limit = int(self.procedure.pre_alarm_silence_s * SECOND_NS)
        return self.listening.due_ns(contact.heard_ns, limit)

    def look_at_silence_ns(self, contact: Contact, due: int, now: int) -> int:
        """When to look at a silence again that is due at ``due``, as things stand at ``now``.

        Its limit may become shorter, with the next frame or with fewer who share, but never
        shorter than the least. So until then nothing need be put in anew, whatever happens; and
        what is silent for longer is few.
        """
        least = self.least_silence_ns(contact.identity)
        return least if now < least else min(max(due, now), now + LEAST_NS)

    def least_silence_ns(self, identity: int) -> int:
        """Before this instant no rule makes the pack's silence no signal."""
        return (self.contacts[identity].silent_since_ns or 0) + LEAST_NS

    def watch_silence(self, contact: Contact) -> None:
        """Put in the deadlines that this contact has now and did not have before."""
        due = self.lost_due_ns(contact)
        if due is not None:
            at = self.look_at_silence_ns(contact, due, self.now)
            self.deadlines.put(at, Due.SILENT, contact.identity)
        due = self.still_silent_due_ns(contact)
        if due is not None:
            self.deadlines.put(max(due, self.now), Due.STILL_AND_SILENT, contact.identity)

    def share_again(self) -> None:
        """Count anew who shares the false alarms of the link rule.

        With fewer the limits are shorter, so deadlines move earlier. With more they move later,
        which is found out when they come up.
        """
        before = self.sharing
        self.sharing = sum(w.under_air and w.pack is not None for w in self.wearers.values())
        if self.sharing > before and self.fleet.due_ns is None:
            self.fleet.due_ns = self.now + SECOND_NS
            self.deadlines.put(self.fleet.due_ns, Due.FLEET, 0)
        if self.sharing < before:
            for wearer in self.wearers.values():
                contact = self.contact_of(wearer)
                since = contact.silent_since_ns if contact else None
                if contact is not None and since is not None and self.now - since >= LEAST_NS:
                    self.watch_silence(contact)

    def listen_again(self, since_ns: int) -> None:
        """Nothing could be heard from ``since_ns`` to now: no pack is to blame for that time."""
        self.listening.deaf(since_ns, self.now)
        for contact in self.contacts.values():
            if contact.lost and contact.lost_ns >= since_ns:
                contact.lost = False
                due = self.lost_due_ns(contact)
                contact.lost = due is not None and due <= self.now
                if not contact.lost:
                    self.silent.pop(contact.wearer, None)
                self.watch_silence(contact)

    # ------------------------------------------------------------ air

    def cylinder(self, wearer: Wearer | None, contact: Contact | None) -> Cylinder:
        """What is known of the cylinder: the check-in's word first, then the pack's."""
        told = contact.equipment if contact else None
        rated = wearer.rated_bar if wearer else None
        volume = wearer.water_volume_l if wearer else None
        if rated is None and told and told.rated_pressure_dbar:
            rated = told.rated_pressure_dbar / 10
        if volume is None and told and told.water_volume_cl:
            volume = told.water_volume_cl / 100
        low = told.low_air_dbar / 10 if told and told.low_air_dbar else None
        if low is None:
            under_air = wearer is not None and wearer.under_air
            low = self.procedure.low_air_of(HIGHEST_RATED_BAR if under_air and not rated else rated)
        gas_c = contact.gas_temperature_c if contact else None
        return Cylinder(volume, rated, low, self.procedure.gas_temperature_c, gas_c)

    def reading(self, wearer: Wearer | None, contact: Contact | None) -> Reading | None:
        """The reading that governs: one by voice until telemetry agrees, else telemetry."""
        wear = wearer.live_wear if wearer else None
        if wear is None:
            return contact.reading() if contact else None
        return wear.spoken or self.believed(wear, contact)

    def believed(self, wear: Wear, contact: Contact | None) -> Reading | None:
        """What the pack tells, as far as its gauge is believed; None: nothing of it is."""
        told = contact.reading() if contact else None
        if told is None or wear.by_voice or wear.breathing is None:
            return None if wear.by_voice else told
        return wear.breathing.believed(told)

    def counted_from(self, wearer: Wearer | None, contact: Contact | None) -> Reading | None:
        """The reading that governs; under air without any, the least fill when it was begun."""
        reading = self.reading(wearer, contact)
        wear = wearer.live_wear if wearer else None
        if reading is not None or wearer is None or wear is None:
            return reading
        if not self.own_supply(wearer, contact):
            return None
        least = self.least_fill_bar(wearer, contact)
        return Reading(wear.unknown_ns, least, AirFrom.ASSUMED)

    def least_fill_bar(self, wearer: Wearer, contact: Contact | None) -> float:
        """The least that a cylinder may be taken on with."""
        rated = self.cylinder(wearer, contact).rated_bar or SMALLEST_RATED_BAR
        return rated * (self.procedure.least_fill_fraction or USUAL_LEAST_FILL)

    def told_bar(self, wearer: Wearer) -> float | None:
        """What the wearer's pack tells now; None where nothing present is heard, or counts."""
        contact = self.contact_of(wearer)
        wear = wearer.live_wear
        told = None if contact is None or (wear and wear.by_voice) else contact.reading()
        if told is None or self.now - told.t >= self.stale_after_ns(contact):
            return None
        return told.bar

    def shown_bar(self, wearer: Wearer) -> float | None:
        """The pressure as shown now: the reading that governs, or the falling estimate."""
        contact = self.contact_of(wearer)
        reading = self.counted_from(wearer, contact)
        if reading is None or self.is_present(reading, contact):
            return reading.bar if reading else None
        return estimate_bar(reading, self.cylinder(wearer, contact), self.now, self.fall(wearer))

    def way_bar(self, wearer: Wearer) -> float | None:
        """The pressure that a step of the way is noted with.

        One reading that nothing confirms, far under the one before it, does not count.
        """
        wear, shown = wearer.live_wear, self.shown_bar(wearer)
        if shown is None or wear is None or wear.spoken or wear.breathing is None:
            return shown
        return wear.breathing.without_one_fall(shown)

    def is_present(self, reading: Reading, contact: Contact | None) -> bool:
        """Whether a reading is shown as one, and not as an estimate that falls from it."""
        read = reading.source is not AirFrom.ASSUMED
        return read and self.now - reading.t < self.stale_after_ns(contact)

    def stale_after_ns(self, contact: Contact | None) -> int:
        """Age from which a reading is no longer shown as one.

        None at all while two packs say that they are this one: it may be the other's.
        """
        if contact is not None and contact.clash:
            return 0
        gap_ns = gap_after_ns(contact.interval_s if contact else Contact(0).interval_s)
        return min(gap_ns, STALE_MAX_NS)

    def unit(self, wearer: Wearer | None) -> str:
        """What the wearer's gauge reads in, ``bar`` or ``psi``."""
        told = wearer.gauge_unit if wearer else ""
        return told or self.procedure.pressure_unit

    def apparatus(self, wearer: Wearer | None, contact: Contact | None) -> str:
        """Kind of breathing apparatus: the check-in's word first, then the pack's."""
        if wearer is not None and wearer.apparatus:
            return wearer.apparatus
        told = contact.equipment if contact else None
        return APPARATUS_WORDS[told.apparatus if told else Apparatus.UNKNOWN]

    def own_supply(self, wearer: Wearer, contact: Contact | None) -> bool:
        """Whether what the gauge loses is what the wearer breathes: only then can be forecast."""
        wear = wearer.wear
        if wear is not None and wear.augmented:
            return False
        return self.apparatus(wearer, contact) == "open circuit"

    def outlooks(self, wearer: Wearer, wear: Wear) -> Outlooks | None:
        """How this wearer is thought to go on breathing; None before connecting."""
        breathing = wear.breathing
        if breathing is None:
            return None
        if breathing.outlooks is None:
            population = Prior(*self.procedure.prior_of(wearer.task))
            breathing.outlooks = outlooks(
                breathing.consumption, breathing.at_entry, population, wearer.earlier
            )
        return breathing.outlooks

    def is_known(self, wear: Wear) -> bool:
        """Whether enough of this wearer's own breathing was seen."""
        breathing = wear.breathing
        return breathing is not None and breathing.consumption.sums.seconds >= HISTORY_S

    def fall(self, wearer: Wearer | None) -> Fall:
        """How the air of a pack that nobody hears is taken to fall.

        By the wearer's own breathing once there is enough of it, else at the procedure's rate.
        """
        rate = self.procedure.projection_rate_l_min
        wear = wearer.live_wear if wearer else None
        if wearer is None or wear is None:
            return Fall(rate)
        if not self.is_known(wear):
            return Fall(rate)
        known = self.outlooks(wearer, wear)
        return Fall(rate, known.earliest if known else None, self.procedure.gauge_step_bar)

    def ages_ns(self, wearer: Wearer) -> int | None:
        """From when the reading that governs is an estimate, and falls; None without any."""
        contact = self.contact_of(wearer)
        reading = self.counted_from(wearer, contact)
        if reading is None or reading.source is AirFrom.ASSUMED:
            return reading.t if reading else None
        return reading.t + self.stale_after_ns(contact)

    def projected_ns(self, wearer: Wearer, bar: float | None) -> int | None:
        """When the falling estimate reaches a pressure; None if nothing says."""
        contact = self.contact_of(wearer)
        reading = self.counted_from(wearer, contact)
        if reading is None or bar is None or not self.own_supply(wearer, contact):
            return None
        return reached_ns(reading, self.cylinder(wearer, contact), bar, self.fall(wearer))

    def projected_low_due_ns(self, wearer: Wearer) -> int | None:
        """The same for the low-air value."""
        low_bar = self.cylinder(wearer, self.contact_of(wearer)).low_air_bar
        return self.projected_ns(wearer, low_bar)

    def projected_turn_due_ns(self, wearer: Wearer) -> int | None:
        """The same for the mark to turn back at."""
        turn = wearer.live_wear.turn if wearer.live_wear else None
        return self.projected_ns(wearer, turn.bar if turn else None)

    def projected_soon_due_ns(self, wearer: Wearer) -> int | None:
        """The same for ``SOON_NS`` before that mark."""
        turn_ns = self.projected_turn_due_ns(wearer)
        return None if turn_ns is None else turn_ns - SOON_NS

    def word_due_ns(self, wearer: Wearer) -> int | None:
        """When the last word of this wearer has stood for too long; None if it has, or off air."""
        wear, contact = wearer.live_wear, self.contact_of(wearer)
        if wear is None or wear.word_due:
            return None
        # The last report of a pack that was switched off is a word of its wearer's air too.
        told_ns = contact.report_ns if contact is not None and contact.signed_off else 0
        limit_ns = int(self.procedure.spoken_reading_valid_s * SECOND_NS)
        return max(wear.word_ns, told_ns) + limit_ns
