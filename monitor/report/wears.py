"""Who was on the board, each wear of theirs, and what was logged of it. Pure.

A wear is one stay on air of one wearer. Its record is made of acts as the fold took them, each with
the pressure that the board showed at that moment, and of the fold's own readings, taken just before
the wear ends. Nothing is ever overwritten: what was logged later stands beside what it corrects.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from typing import Any

from monitor.incident import events
from monitor.incident.air.detail import AirDetail
from monitor.incident.events import Act
from monitor.incident.incident import Incident
from monitor.incident.picture import AirFrom, AirView, NextMark
from monitor.incident.record import events as record
from monitor.incident.record.undoing import STEPS_MAX, UNDOABLE
from monitor.report.alarm_lives import Spell
from monitor.report.curves import thinned

WEARS_MAX = 10_000
"""Wears kept; what comes after is counted."""
PLACES_MAX = 100
"""Newest kept of one wear; every one is a moment."""
READINGS_MAX = 300
"""Of one wear, spread over it: of readings close together the lowest is kept."""
MOMENTS_MAX = 5_000
"""Of one wear; what comes after is counted."""


@dataclass(slots=True)
class Moment:
    """One thing that was logged of a wear."""

    t: int
    """When it was, incident time in ns."""
    logged_ns: int
    """When it was logged; later than ``t`` where somebody said so."""
    what: str
    words: str
    by: str
    bar: float | None
    source: AirFrom
    """Where that pressure comes from."""


@dataclass(slots=True)
class Sample:
    """What the board showed of a wearer's air at one instant."""

    t: int
    bar: float | None
    source: AirFrom
    contents_l: float | None
    rate_l_min: float | None
    next: NextMark | None = None
    mark_bar: float | None = None
    """Where the mark of ``next`` is, on this wearer's gauge."""


@dataclass(slots=True)
class Person:
    """One line of the board, as it was last."""

    number: int
    name: str
    call_sign: str
    crew: str
    leader: bool
    pack: int | None = None
    apparatus: str = ""
    set_id: str = ""
    cylinder_id: str = ""
    task: str = ""
    brief: str = ""
    communications: str = ""
    """These three as told since the last wear: a brief may come before connecting."""

    @property
    def label(self) -> str:
        """As the base calls this person."""
        return self.call_sign or self.name


@dataclass(slots=True)
class WearRecord:
    """One stay on air."""

    number: int
    """Of the wearer on the board."""
    nth: int
    """This wearer's first, second ..."""
    name: str
    label: str
    crew: str
    leader: bool
    pack: int | None
    apparatus: str
    spell: Spell
    """On air."""
    inside: list[Spell] = field(default_factory=list)
    """In the hazard."""
    start_bar: float | None = None
    start_from: AirFrom = AirFrom.NOWHERE
    entered_ns: int | None = None
    objective_ns: int | None = None
    """The last that was reached."""
    back_ns: int | None = None
    out_ns: int | None = None
    task: str = ""
    brief: str = ""
    communications: str = ""
    door: str = ""
    """Another door, by which the wearer came out."""
    set_id: str = ""
    cylinder_id: str = ""
    places: list[str] = field(default_factory=list)
    """As they were told, in order."""
    moments: list[Moment] = field(default_factory=list)
    moments_left_out: int = 0
    samples: list[Sample] = field(default_factory=list)
    detail: AirDetail | None = None
    """All of its air, just before it ended."""

    def last(self, what: str) -> Moment | None:
        """The last moment of this kind."""
        return next((m for m in reversed(self.moments) if m.what == what), None)


class Wears:
    """Everybody on the board and all wears, in order of connecting."""

    def __init__(self) -> None:
        self.people: dict[int, Person] = {}
        self.all: list[WearRecord] = []
        self.left_out = 0
        self.max_under_air = 0
        self._live: dict[int, WearRecord] = {}
        self._before: dict[int, AirView | None] = {}
        self._steps: dict[str, dict[int, dict[str, Any]]] = {}

    # ------------------------------------------------------------ from the fold

    def before(self, act: Act, incident: Incident) -> None:
        """Look at what an act is about to change or end."""
        if isinstance(act, UNDOABLE):
            if len(self._steps) >= STEPS_MAX:
                del self._steps[next(iter(self._steps))]
            live = [wear for n in act.wearers if (wear := self._live.get(n))]
            self._steps[act.id] = {w.number: _stood(w) for w in live}
        if isinstance(act, events.OffAir):
            self._before = {n: incident.air(n) for n in act.wearers if n in self._live}
            for number in self._before:
                self._live[number].detail = _kept(incident.air_detail(number))

    def act(self, t: int, act: Act, incident: Incident) -> None:
        """Take an act that the fold has taken."""
        taker = _TAKERS.get(type(act))
        if taker is not None:
            taker(self, t, act, incident)

    def sample(self, t: int, incident: Incident) -> None:
        """Keep what a board shows of the air of everybody under air at an instant."""
        for number, wear in self._live.items():
            air = incident.air(number)
            if air is not None:
                wear.samples.append(
                    Sample(
                        t, air.pressure_bar, air.source, air.contents_l, air.rate_l_min,
                        air.next, _mark_bar(air),
                    )
                )  # fmt: skip

    def thin(self, apart_ns: int) -> None:
        """Keep of each wear what was looked at so far apart, counted from the start."""
        for wear in self.all:
            wear.samples = [one for one in wear.samples if one.t % apart_ns == 0]

    def finish(self, incident: Incident) -> None:
        """Look at those who are still on air where the record ends."""
        for number, wear in self._live.items():
            wear.detail = _kept(incident.air_detail(number))

    def under_air(self, end_ns: int) -> list[Spell]:
        """When anybody was under air: in order, without overlap, none beyond the record."""
        found: list[Spell] = []
        for wear in sorted(self.all, key=lambda w: w.spell.from_ns):
            start = max(0, wear.spell.from_ns)
            end = min(end_ns, start + max(0, wear.spell.length_ns(end_ns)))
            if found and start <= (found[-1].to_ns or 0):
                found[-1].to_ns = max(found[-1].to_ns or 0, end)
            else:
                found.append(Spell(start, end))
        return found

    # ------------------------------------------------------------ people

    def list_wearer(self, _t: int, act: events.ListWearer, _incident: Incident) -> None:
        """Put a person on the board."""
        self.people[act.wearer] = Person(act.wearer, act.name, act.call_sign, act.crew, act.leader)
        self._one_leader(act.wearer)

    def set_crew(self, t: int, act: events.SetCrew, incident: Incident) -> None:
        """Put a person into another crew."""
        person = self.people[act.wearer]
        person.crew, person.leader = act.crew, act.leader
        self._one_leader(act.wearer)
        if wear := self._live.get(act.wearer):
            wear.crew, wear.leader = act.crew, act.leader
            words = act.crew or "in no crew"
            self._note(wear, (t, t), "crew changed", words, act, incident)

    def join_pack(self, t: int, act: events.JoinPack, incident: Incident) -> None:
        """Give a person a pack and a cylinder."""
        person = self.people[act.wearer]
        person.pack, person.apparatus = act.pack, act.apparatus
        # What is printed on them may be said once only: the fold knows what stays.
        now = next(one for one in incident.check_ins() if one.wearer == act.wearer)
        person.set_id, person.cylinder_id = now.set_id, now.cylinder_id
        if wear := self._live.get(act.wearer):
            wear.pack, wear.apparatus = act.pack, act.apparatus or wear.apparatus
            wear.set_id, wear.cylinder_id = now.set_id, now.cylinder_id
            words = f"pack {act.pack}" if act.pack else "without telemetry"
            self._note(wear, (t, t), "pack or cylinder changed", words, act, incident)

    def assign(self, t: int, act: record.Assign, incident: Incident) -> None:
        """Keep what was told: task, brief, communications."""
        for number in act.wearers:
            _brief(self.people[number], act)
            if wear := self._live.get(number):
                _brief(wear, act)
                said = ", ".join(filter(None, (act.task, act.brief, act.communications)))
                self._note(wear, (t, t), "told", said, act, incident)

    def change_cylinder(self, _t: int, act: record.ChangeCylinder, _incident: Incident) -> None:
        """The next wear is on another cylinder."""
        self.people[act.wearer].cylinder_id = act.cylinder_id

    def _one_leader(self, number: int) -> None:
        """A crew has one leader: the one named last."""
        named = self.people[number]
        if named.leader and named.crew:
            for other in self.people.values():
                if other.crew == named.crew and other is not named:
                    other.leader = False

    # ------------------------------------------------------------ wears

    def connect(self, t: int, act: events.Connect, incident: Incident) -> None:
        """Begin a wear of each."""
        since = t if act.at_ns is None else act.at_ns
        for number in act.wearers:
            person = self.people[number]
            if len(self.all) >= WEARS_MAX:
                self.left_out += 1
                continue
            nth = 1 + sum(wear.number == number for wear in self.all)
            wear = WearRecord(
                number, nth, person.name, person.label, person.crew, person.leader,
                person.pack, person.apparatus or "open circuit", Spell(since),
                set_id=person.set_id, cylinder_id=person.cylinder_id, task=person.task,
                brief=person.brief, communications=person.communications,
            )  # fmt: skip
            self.all.append(wear)
            self._live[number] = wear
            moment = self._note(wear, (since, t), "connected to air", "", act, incident)
            wear.start_bar, wear.start_from = moment.bar, moment.source
        self.max_under_air = max(self.max_under_air, len(self._live))

    def moment(self, what: str, t: int, act: Act, incident: Incident) -> Iterator[WearRecord]:
        """Log it of everybody whom the act names and who is on air; gives their wears."""
        numbers: tuple[int, ...] = getattr(act, "wearers", ())
        at_ns: int | None = getattr(act, "at_ns", None)
        words = _words(act)
        for number in numbers:
            if wear := self._live.get(number):
                self._note(wear, (t if at_ns is None else at_ns, t), what, words, act, incident)
                place: str = getattr(act, "location", "")
                if place and (not wear.places or wear.places[-1] != place):
                    wear.places = [*wear.places[-PLACES_MAX:], place]
                yield wear

    def off_air(self, t: int, act: events.OffAir, incident: Incident) -> None:
        """End the wear of each."""
        when = t if act.at_ns is None else act.at_ns
        for wear in self.moment("off air", t, act, incident):
            wear.spell.to_ns = when
            if wear.inside and wear.inside[-1].to_ns is None:
                wear.inside[-1].to_ns = when
            del self._live[wear.number]
            person = self.people[wear.number]
            person.task = person.brief = person.communications = ""

    def note(self, t: int, act: events.Note, incident: Incident) -> None:
        """Keep a remark about a wearer with the wear."""
        if act.wearer is not None and (wear := self._live.get(act.wearer)):
            self._note(wear, (t, t), "remark", act.text, act, incident)

    def _note(
        self,
        wear: WearRecord,
        times: tuple[int, int],
        what: str,
        words: str,
        act: Act,
        incident: Incident,
    ) -> Moment:
        t, logged = times
        said: float | None = getattr(act, "pressure_bar", None)
        air = self._before.pop(wear.number, None) or incident.air(wear.number)
        known = air is not None and air.source is not AirFrom.ASSUMED
        bar, source = (air.pressure_bar, air.source) if air and known else (None, AirFrom.NOWHERE)
        if said is not None:
            bar = said
            source = AirFrom.ENTRY if isinstance(act, events.Connect) else AirFrom.VOICE
        moment = Moment(t, logged, what, words, act.by, bar, source)
        if len(wear.moments) < MOMENTS_MAX:
            wear.moments.append(moment)
        else:
            wear.moments_left_out += 1
        return moment


def _brief(told: Person | WearRecord, act: events.Enter | record.Assign) -> None:
    """Take over what was told; what is empty stays as it was."""
    told.task = act.task or told.task
    told.brief = act.brief or told.brief
    told.communications = act.communications or told.communications


def _mark_bar(air: AirView) -> float | None:
    """Where the next mark is."""
    if air.next is None:
        return None
    return {"turn": air.turn_bar, "low": air.low_air_bar, "empty": 0.0}[air.next.target]


def _kept(detail: AirDetail | None) -> AirDetail | None:
    """The same with readings enough to be drawn."""
    return detail and replace(detail, points=thinned(detail.points, READINGS_MAX))


def _words(act: Act) -> str:
    """What was said with it."""
    names = ("location", "task", "brief", "communications", "door", "text")
    parts = [str(getattr(act, name, "")) for name in names]
    if isinstance(act, events.SpokenReading) and act.lowest:
        parts.append(f"lowest of {len(act.wearers)} gauges")
    return ", ".join(part for part in parts if part)


def _enter(self: Wears, t: int, act: events.Enter, incident: Incident) -> None:
    when = t if act.at_ns is None else act.at_ns
    for wear in self.moment("entered", t, act, incident):
        wear.entered_ns = when if wear.entered_ns is None else wear.entered_ns
        _brief(wear, act)
        wear.out_ns = None
        wear.inside.append(Spell(when))


def _come_out(self: Wears, t: int, act: events.ComeOut, incident: Incident) -> None:
    when = t if act.at_ns is None else act.at_ns
    for wear in self.moment("came out", t, act, incident):
        wear.out_ns, wear.door = when, act.door
        if wear.inside and wear.inside[-1].to_ns is None:
            wear.inside[-1].to_ns = when


def _reach(self: Wears, t: int, act: events.ReachObjective, incident: Incident) -> None:
    for wear in self.moment("objective reached", t, act, incident):
        wear.objective_ns = t if act.at_ns is None else act.at_ns


def _send_on(self: Wears, t: int, act: events.NewObjective, incident: Incident) -> None:
    for wear in self.moment("sent on", t, act, incident):
        wear.back_ns = None


def _start_back(self: Wears, t: int, act: events.StartBack, incident: Incident) -> None:
    for wear in self.moment("started back", t, act, incident):
        wear.back_ns = t if act.at_ns is None else act.at_ns


def _locate(self: Wears, t: int, act: events.Locate, incident: Incident) -> None:
    list(self.moment("place", t, act, incident))


def _read(self: Wears, t: int, act: events.SpokenReading, incident: Incident) -> None:
    list(self.moment("gauge read out", t, act, incident))


def _augment(self: Wears, t: int, act: events.AugmentSupply, incident: Incident) -> None:
    what = "on another supply" if act.on else "on the own cylinder again"
    list(self.moment(what, t, act, incident))


def _move(self: Wears, t: int, act: record.MoveBoard, incident: Incident) -> None:
    what = f"moved to {act.board}" if act.board else "on this board again"
    list(self.moment(what, t, act, incident))


def _stood(wear: WearRecord) -> dict[str, Any]:
    """What a step may change of a wear, to put it back if the step is."""
    names = ("entered_ns", "objective_ns", "back_ns", "out_ns", "task", "brief", "communications")
    kept = {name: getattr(wear, name) for name in (*names, "door")}
    return kept | {"inside": [replace(spell) for spell in wear.inside]}


def _undo(self: Wears, t: int, act: record.Undo, incident: Incident) -> None:
    for wear in self.moment("last step taken back", t, act, incident):
        for name, value in self._steps.get(act.of, {}).pop(wear.number, {}).items():
            setattr(wear, name, value)


def _tell_emergency(self: Wears, t: int, act: record.TellEmergency, incident: Incident) -> None:
    list(self.moment(f"emergency message to {act.to}", t, act, incident))


# Each taker is only ever given the kind of act that it stands beside.
_TAKERS: dict[type, Callable[..., None]] = {
    events.ListWearer: Wears.list_wearer,
    events.SetCrew: Wears.set_crew,
    events.JoinPack: Wears.join_pack,
    events.Connect: Wears.connect,
    events.Enter: _enter,
    events.ComeOut: _come_out,
    events.OffAir: Wears.off_air,
    events.ReachObjective: _reach,
    events.NewObjective: _send_on,
    events.StartBack: _start_back,
    events.Locate: _locate,
    events.SpokenReading: _read,
    events.AugmentSupply: _augment,
    events.Note: Wears.note,
    record.Undo: _undo,
    record.Assign: Wears.assign,
    record.ChangeCylinder: Wears.change_cylinder,
    record.MoveBoard: _move,
    record.TellEmergency: _tell_emergency,
}
