"""What the next officer, and the paper board, must know at one instant: a picture as one page.

Pure: made from a picture and the air of its wearers, for a text and for a page to print alike.
Where two figures tell of one thing, the worse one stands. What the program does not record has
lines to write on.
"""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass

from monitor.incident import units
from monitor.incident.air.detail import AirDetail
from monitor.incident.picture import (
    AirFrom,
    AirView,
    AlarmView,
    OrderView,
    Phase,
    Picture,
    Signal,
    WearerView,
)
from monitor.report import words
from monitor.report.blocks import Block, Facts, Row, Section, Table, Text
from monitor.report.html import Page

CAUTION = (
    "An aid, not a certified safety device. This page is old from the moment it is made: look at "
    "the board and ask the crews. Local procedure, the wearer's own gauge and warning device, the "
    "maker's instructions and the competent authority's rules come first. Keep tallies and paper."
)
AHEAD_S = 600
"""What falls due within ten minutes is the next officer's at once."""
SECOND_NS = 1_000_000_000
SEVERAL = 2
NOW = "NOW"
UNKNOWN = "unknown: ask"
BLANK = "." * 24
DUE = {
    "turn": "must start back",
    "low": "low-air warning",
    "empty": "nothing left to breathe",
}
HEARS_PACKS = frozenset({Signal.HEARD, Signal.GAP, Signal.NOT_PROVEN})
"""An order may get through; everybody else is reached by voice only."""
TO_BE_WRITTEN = (
    "cylinders left",
    "handed over by",
    "taken over by",
    "at",
)
"""Not recorded by the program, or for people to sign."""
AirOf = Callable[[int], AirDetail | None]


@dataclass(frozen=True, slots=True)
class _Teller:
    """A picture, and what turns its ages into times of day."""

    picture: Picture
    air_of: AirOf
    zone: words.Zone

    def ago(self, ns: int | None) -> str:
        """Give the time of day so long before the picture."""
        return "" if ns is None else words.clock(self.picture.wall_ns - ns, self.zone)

    def at(self, t: int) -> str:
        """Give the time of day of an incident time."""
        return self.ago(self.picture.t - t)

    def place(self, location: str, at_ns: int | None) -> str:
        """Give the last place and since when it is known; empty: none is."""
        return f"{location} ({self.at(at_ns)})" if location and at_ns is not None else location


def handover(picture: Picture, air_of: AirOf, digest: str, zone: words.Zone) -> Page:
    """Lay out the page. ``digest``: of the journal up to the picture, in words."""
    t = _Teller(picture, air_of, zone)
    exercise = picture.use == "exercise"
    door = f", entry {picture.entry_point}" if picture.entry_point else ""
    stage = f", stage {picture.stage}" if picture.stage else ""
    made = f"{words.moment(picture.wall_ns, zone)} {words.zone_name(picture.wall_ns, zone)}"
    place = f"{picture.place}, " if picture.place else ""
    closed = "" if not picture.closed else ", closed"
    return Page(
        title=f"{picture.name}{door}{stage}: handover",
        use="EXERCISE" if exercise else "REAL INCIDENT",
        exercise=exercise,
        subtitle=f"{place}as at {made}, officer {picture.holder or picture.officer}{closed}",
        caution=CAUTION,
        sections=(
            Section("under-air", f"Under air: {picture.under_air}", tuple(_under_air(t))),
            Section("due", "Due within ten minutes", tuple(_due(t))),
            Section("alarms", f"Alarms: {len(picture.alarms)}", tuple(_alarms(t))),
            Section("orders", "Orders that stand", tuple(_orders(t))),
            Section("help", "Who can help, and who is reached by voice only", tuple(_help(t))),
            Section("told", "What was told, areas, reliefs", tuple(_told(t))),
            Section("others", f"Not under air; came out: {picture.came_out}", tuple(_others(t))),
            Section("sets", "Sets and cylinders", tuple(_sets(t))),
            Section("base", "The base", tuple(_base(t, digest))),
            Section("by-hand", "To be written in by hand", tuple(_by_hand())),
        ),
    )


def _table(caption: str, head: Row, rows: Iterable[Row], empty: str = "none") -> Table:
    """Make a table that can be read more than once: as a text and as a page."""
    return Table(caption, head, tuple(rows), empty)


# ---------------------------------------------------------------- people


def _under_air(t: _Teller) -> Iterator[Block]:
    inside = [w for w in t.picture.wearers if w.under_air]
    head = ("wearer", "crew", "state", "on air since", "last place", "link")
    yield _table("Who is in", head, (_person(t, w) for w in inside), "nobody")
    head = ("wearer", "air", "read at", "turn at", "warning at", "expected at the earliest")
    yield _table("Their air", head, (_air(t, w) for w in inside), "nobody")


def _person(t: _Teller, w: WearerView) -> Row:
    back = f", back since {t.ago(w.back_ns)}" if w.back_ns is not None else ""
    return (
        _who(w),
        f"{w.crew or 'none'}{' (leader)' if w.leader else ''}",
        f"{w.state}{' COMMITTED' if w.committed else ''}{back}",
        t.ago(w.wear_ns),
        t.place(w.location, w.location_at_ns) or UNKNOWN,
        str(w.signal),
    )


def _air(t: _Teller, w: WearerView) -> Row:
    air = w.air
    return (
        _who(w),
        air_words(air, w.unit),
        t.ago(air.reading_age_ns) or "no reading",
        turn_words(air, w.unit),
        UNKNOWN if air.low_air_bar is None else f"{units.turn(air.low_air_bar, w.unit)} {w.unit}",
        _warning_at(t, w),
    )


def _who(w: WearerView) -> str:
    name = f" ({w.name})" if w.call_sign and w.name and w.name != w.call_sign else ""
    return f"{w.wearer} {w.call_sign or w.name}{name}"


def turn_words(air: AirView, unit: str) -> str:
    """Where to turn back; and how the pressure at connecting was come by, where it was not read."""
    if air.turn_bar is None:
        return UNKNOWN
    at = f"{units.turn(air.turn_bar, unit)} {unit}"
    sure = air.start_from is None or air.start_sure
    return at if sure or air.start_from is None else f"{at} (start {air.start_from.value})"


def air_words(air: AirView, unit: str) -> str:
    """What is shown of the air, and what it is: never an estimate as if it were a reading."""
    if air.pressure_bar is None:
        return UNKNOWN
    figure = f"{units.left(air.pressure_bar, unit)} {unit}"
    read = "none" if air.reading_bar is None else f"{units.left(air.reading_bar, unit)} {unit}"
    sources = {
        AirFrom.ESTIMATE: f"estimate, falling; read {read}",
        AirFrom.ASSUMED: "nobody told it: falling from the least fill",
        AirFrom.VOICE: "by voice",
        AirFrom.ENTRY: "entry record",
    }
    return f"{figure} ({sources[air.source]})" if air.source in sources else figure


def _warning_at(t: _Teller, w: WearerView) -> str:
    """When the low-air warning is expected at the earliest, by the sums of the board."""
    air, detail = w.air, t.air_of(w.wearer)
    if air.low_air_bar is None or air.pressure_bar is None:
        return UNKNOWN
    if air.pressure_bar <= air.low_air_bar:
        return NOW
    if detail is None or detail.low is None:
        return UNKNOWN
    return t.ago(-detail.low.seconds * SECOND_NS) if detail.low.seconds > 0 else NOW


def _due(t: _Teller) -> Iterator[Block]:
    found: list[tuple[int, str]] = []
    for w in t.picture.wearers:
        mark = w.air.next
        if w.under_air and mark is not None and mark.seconds <= AHEAD_S:
            about = ", by estimate" if mark.estimate else ""
            found.append((mark.seconds * SECOND_NS, f"{_who(w)}: {DUE[mark.target]}{about}"))
    roll_call_ns = t.picture.roll_call_in_ns
    if roll_call_ns is not None and roll_call_ns <= AHEAD_S * SECOND_NS:
        found.append((roll_call_ns, "roll call"))
    found += (
        (aside.left_ns, f"{aside.word}, {aside.subject}: comes back")
        for aside in t.picture.put_aside
        if aside.left_ns <= AHEAD_S * SECOND_NS
    )
    rows = ((NOW if ns <= 0 else t.ago(-ns), what) for ns, what in sorted(found))
    yield _table("In order of time", ("at the earliest", "what"), rows, "nothing known")


def _help(t: _Teller) -> Iterator[Block]:
    crews = ((e.crew, e.state, t.ago(e.for_ns), _numbers(e.wearers)) for e in t.picture.emergency)
    head = ("crew", "state", "since", "wearers")
    yield _table("Emergency crews", head, crews, "NONE")
    by_voice = (
        (_who(w), w.crew or "none", t.ago(w.air.reading_age_ns) or "no word yet")
        for w in t.picture.wearers
        if w.under_air and w.signal not in HEARS_PACKS
    )
    yield _table("Reached by voice only", ("wearer", "crew", "last reading"), by_voice, "nobody")


def _told(t: _Teller) -> Iterator[Block]:
    p = t.picture
    briefs = (
        (_who(w), w.task or "none", w.brief or "none", w.communications or "none")
        for w in p.wearers
        if w.task or w.brief or w.communications
    )
    yield _table("Tasks", ("wearer", "task", "brief", "communications"), briefs, "none noted")
    areas = ((a.area, a.state, _numbers(a.wearers), t.at(a.at_ns)) for a in p.areas)
    yield _table("Areas searched", ("area", "how far", "by wearers", "noted"), areas, "none noted")
    reliefs = ((r.crew, r.by_crew or "not said", t.ago(-r.due_in_ns)) for r in p.reliefs)
    yield _table("Reliefs", ("crew", "relieved by", "due"), reliefs, "none planned")
    moved = ((_who(w), w.moved_to) for w in p.wearers if w.moved_to)
    yield _table("Watched by another board", ("wearer", "board"), moved, "nobody")


def _sets(t: _Teller) -> Iterator[Block]:
    p = t.picture
    checks = (
        (str(c.wearer), ", ".join(x.check for x in c.lines if x.state in {"open", "failed"}))
        for c in p.checks
        if not c.complete
    )
    yield _table("Checks that are open at the door", ("wearer", "checks"), checks)
    yield _table("Not to be used", ("set", "defect"), ((d.set_id, d.text) for d in p.defects))
    after = ((str(a.wearer), ", ".join(a.open)) for a in p.after_use)
    yield _table("Sets still to be seen to", ("wearer", "to do"), after)
    unit = p.pressure_unit
    cylinders = (
        (c.cylinder_id, "unknown" if c.bar is None else f"{units.left(c.bar, unit)} {unit}")
        for c in p.to_fill
    )
    yield _table("Cylinders to fill", ("cylinder", "last reading"), cylinders)


def _others(t: _Teller) -> Iterator[Block]:
    outside = (w for w in t.picture.wearers if not w.under_air)
    rows = (
        (_who(w), w.crew or "none", str(w.phase), _still_on_air(w), _last_reading(t, w))
        for w in outside
        if w.phase is not Phase.LISTED
    )
    head = ("wearer", "crew", "state", "to note", "last reading")
    yield _table("Checked in or out", head, rows, "nobody")


def _still_on_air(w: WearerView) -> str:
    return "NOT OFF AIR YET" if w.phase is Phase.OUT else ""


def _last_reading(t: _Teller, w: WearerView) -> str:
    if w.air.reading_bar is None:
        left = w.left_bar
        return "none" if left is None else f"{units.left(left, w.unit)} {w.unit} at off air"
    return f"{units.left(w.air.reading_bar, w.unit)} {w.unit} ({t.ago(w.air.reading_age_ns)})"


def _numbers(wearers: tuple[int, ...]) -> str:
    return ", ".join(map(str, wearers))


# ---------------------------------------------------------------- alarms and orders


def _alarms(t: _Teller) -> Iterator[Block]:
    head = ("alarm", "who", "since", "taken", "last place", "what to do")
    yield _table("Alarms, the most urgent first", head, (_alarm(t, a) for a in t.picture.alarms))
    aside = ((a.word, a.subject, t.ago(-a.left_ns), a.by, a.reason) for a in t.picture.put_aside)
    yield _table("Put aside", ("alarm", "who", "comes back at", "put aside by", "why"), aside)


def _alarm(t: _Teller, a: AlarmView) -> Row:
    place = t.place(a.location, a.location_at_ns)
    taken = "yes" if a.acknowledged else "NO"
    return a.word, _about(a), t.ago(a.raised_for_ns), taken, place, a.to_do


def _about(a: AlarmView) -> str:
    """Whom an alarm is about; of several everybody by number, however many."""
    if len(a.wearers) < SEVERAL:
        return a.subject
    return f"{a.subject} (wearers {_numbers(a.wearers)})"


def _orders(t: _Teller) -> Iterator[Block]:
    standing = [order for order in t.picture.orders if order.is_open]
    if not standing:
        yield Text("No order stands.")
    for order in standing:
        yield _order(t, order)


def _order(t: _Teller, order: OrderView) -> Table:
    given = f", on the order of {order.on_order_of}" if order.on_order_of else ""
    caption = (
        f"{order.order}, given at {t.ago(order.for_ns)} by {order.by}{given}: "
        f"answered {order.answered} of {order.of}, out {order.out}, "
        f"left out as committed {order.committed}"
    )
    head = ("wearer", "crew", "pack received", "by button", "by voice", "out", "last place")
    rows = (
        (
            f"{line.wearer} {line.name}",
            line.crew or "none",
            "no pack" if not line.telemetry else _fact(line.received_ns),
            _fact(line.acknowledged_ns),
            _fact(line.voice_ns),
            "COMMITTED" if line.committed else _fact(line.out_ns),
            t.place(line.location, line.location_at_ns),
        )
        for line in order.lines
    )
    return _table(caption, head, rows, "nobody")


def _fact(ns: int | None) -> str:
    return "no" if ns is None else f"after {words.span(ns)}"


# ---------------------------------------------------------------- the base


def _base(t: _Teller, digest: str) -> Iterator[Block]:
    p = t.picture
    links = ", ".join(f"{k.name} {'up' if k.up else 'DOWN'}" for k in p.links)
    refused = sum(number for _, number in p.refused)
    yield Facts(
        "How it stands",
        (
            ("procedure", p.procedure),
            ("packs", "authenticated" if p.keyed else "OPEN: NOT AUTHENTICATED"),
            ("heard", f"{p.signals_heard} of {p.signals_expected}"),
            ("packs of nobody", _numbers(tuple(u.pack for u in p.unjoined)) or "none"),
            ("links", links or "none"),
            ("disk", p.disk),
            ("sound", p.sound or "not told"),
            ("frames refused", str(refused)),
            ("digest of the journal", digest),
        ),
    )


def _by_hand() -> Iterator[Block]:
    yield Facts("", tuple((what, BLANK) for what in TO_BE_WRITTEN))
