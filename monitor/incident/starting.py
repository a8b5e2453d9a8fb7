"""The pressure at connecting, which every mark is reckoned from: how it is come by, how it rises.

A start that is too low turns a crew too late, so it is the highest of all that is known: what was
typed, every reading since check-in with this cylinder, and what is reckoned back from a reading
that came late. Of readings by telemetry two running count, so that one false reading does not set
it; one by voice is enough, since somebody looked, and the next may be ten minutes off. It rises
when later readings exceed it: air only falls, so they show that it was read too low. The officer
may always amend it. Where nobody has told anything, it is the least fill of the procedure.
"""

from monitor.incident import units
from monitor.incident.air.agreement import used_back_bar
from monitor.incident.air.gauge import RISING_STEPS, GaugeFault, is_outside
from monitor.incident.air.shown import SECOND_NS, Reading
from monitor.incident.air.spoken import CORRECTED_NS, SpokenGauge
from monitor.incident.air.start import StartFrom
from monitor.incident.air.turn_back import Way
from monitor.incident.contact import Contact
from monitor.incident.picture import AirFrom
from monitor.incident.situation import Situation
from monitor.incident.wearer import Wear, Wearer

VALVE_NS = 60 * SECOND_NS
"""A gauge that rises within so long of connecting was read with the valve not yet open: nobody has
changed the cylinder (our own choice)."""
CHANGE_NS = 300 * SECOND_NS
"""So is one within so long of a fresh cylinder that was noted: it was noted before it was on (our
own choice)."""


def begin(s: Situation, wearer: Wearer, wear: Wear, typed_bar: float | None) -> None:
    """Find the start from what is known at connecting."""
    contact = s.contact_of(wearer)
    rated = s.cylinder(wearer, contact).rated_bar
    read = [] if typed_bar is None else [typed_bar]
    told = contact.reading() if contact else None
    highest, heard_before = None, False
    if contact is not None and contact.highest_dbar is not None:
        highest = contact.highest_dbar / 10
        heard_before = contact.highest_ns <= wear.connected_ns
    found: list[tuple[float, StartFrom]] = []
    if told is not None and not is_outside(told.bar, rated):
        bar = told.bar
        if highest is not None and bar > highest + RISING_STEPS * s.procedure.gauge_step_bar:
            bar = highest  # one reading that nothing confirms
        late_ns = told.t - wear.connected_ns
        stale_ns = s.stale_after_ns(contact)
        if late_ns >= stale_ns and not heard_before:
            found.append((_reckoned(s, wearer, bar, late_ns), StartFrom.RECKONED))
        elif late_ns >= stale_ns:
            pass  # the start was heard, and it is no less
        elif late_ns > -stale_ns:
            read.append(bar)
        else:
            found.append((bar, StartFrom.HEARD))
    if highest is not None and not is_outside(highest, rated):
        found.append((highest, StartFrom.HEARD))
    found += [(bar, StartFrom.READ) for bar in read if not is_outside(bar, rated)]
    if not found:
        _set(wear, s.least_fill_bar(wearer, contact), StartFrom.ASSUMED)
        return
    bar, start_from = max(found, key=lambda one: (one[0], one[1] is StartFrom.READ))
    agrees = read and bar - max(read) <= s.procedure.reading_tolerance_bar
    _set(wear, bar, StartFrom.READ if agrees else start_from)


def review(s: Situation, wearer: Wearer, wear: Wear, contact: Contact | None) -> None:
    """Take a first reading for the start, or let it rise by what the last two readings say."""
    breathing = wear.breathing
    if wear.start_from is StartFrom.ASSUMED:
        reading = s.reading(wearer, contact)
        if reading is not None:
            _from_first(s, wearer, wear, reading)
    elif wear.way is not None and breathing is not None and not wear.by_voice:
        bar = breathing.confirmed_bar
        tolerance = s.procedure.reading_tolerance_bar
        if breathing.before_ns < wear.way_ns or bar <= wear.way.lowest_bar:
            return
        if bar > wear.way.start_bar:
            _rise(s, wearer, wear, bar)
        elif bar > wear.way.lowest_bar + tolerance:
            wear.way = wear.way.raised(bar, tolerance)


def spoken(
    s: Situation, wearer: Wearer, wear: Wear, reading: Reading, *, doubtful: bool = False
) -> None:
    """Let the start rise by a reading by voice that is higher.

    One in doubt raises it too, since that is the safe side, but puts right nothing of the way in,
    which would make a way back by double air shorter.
    """
    way = wear.way
    if way is None or wear.start_from is StartFrom.ASSUMED:
        return
    tolerance = s.procedure.reading_tolerance_bar
    if reading.bar > way.start_bar:
        bar, start_from = reading.bar, StartFrom.RAISED
        late_ns = reading.t - wear.cylinder_ns
        corrects = wear.spoken is not None and reading.t - wear.spoken.t <= CORRECTED_NS
        reckoned = wear.start_from is StartFrom.RECKONED
        if late_ns >= s.stale_after_ns(s.contact_of(wearer)) and (reckoned or not corrects):
            bar, start_from = _reckoned(s, wearer, bar, late_ns), StartFrom.RECKONED
        wear.way = way.started_at(bar) if doubtful else way.raised(bar, tolerance)
        wear.start_from = start_from
    elif not doubtful and reading.bar > way.lowest_bar + tolerance:
        wear.way = way.raised(reading.bar, tolerance)


def amend(s: Situation, wear: Wear, bar: float, start_from: StartFrom) -> None:
    """Set it as the officer says, higher or lower. Only what is read after may raise it."""
    _set(wear, bar, start_from)
    wear.way_ns = s.now


def another_pack(s: Situation, wearer: Wearer, wear: Wear, *, was_none: bool) -> None:
    """What was read of the set before is void, as is what the new pack told long ago.

    ``was_none``: no pack was noted before, so that what was read out is of this set.
    """
    spoken = wear.spoken
    if not (was_none and spoken is not None and spoken.source is AirFrom.VOICE):
        _void(wear)
    contact = s.contact_of(wearer)
    if contact is not None and s.now - contact.pressure_ns >= s.stale_after_ns(contact):
        contact.another_cylinder()
    elif contact is not None and contact.highest_dbar is not None and wear.way is not None:
        bar = contact.highest_dbar / 10  # it was worn before it was noted
        outside = is_outside(bar, s.cylinder(wearer, contact).rated_bar)
        if bar > wear.way.start_bar and not outside:
            wear.way = wear.way.raised(bar, s.procedure.reading_tolerance_bar)
            wear.start_from = StartFrom.HEARD


def fresh_cylinder(s: Situation, wearer: Wearer, wear: Wear) -> None:
    """Another cylinder in mid-wear: what was read of the old one is void.

    Noted late, the base has heard it already: the gauge rose, and begins there.
    """
    breathing = wear.breathing
    if breathing is not None and breathing.risen is not None:
        t, old_bar, bar = breathing.risen
        if t - wear.cylinder_ns >= VALVE_NS:
            _heard_already(s, wearer, wear, t, old_bar, bar)
            return
    last_bar = s.shown_bar(wearer)
    volume = breathing.cylinder.water_volume_l if breathing else None  # as at the last look
    _void(wear)
    contact = s.contact_of(wearer)
    if contact is not None:
        contact.another_cylinder()
    wear.cylinders += 1
    wear.cylinder_ns = wear.unknown_ns = s.now
    least = s.least_fill_bar(wearer, contact)
    if wear.way is not None:
        last_bar = least if last_bar is None else last_bar
        wear.way = wear.way.fresh_cylinder(last_bar, least, volume)
    wear.start_from = StartFrom.ASSUMED


def _heard_already(
    s: Situation, wearer: Wearer, wear: Wear, t: int, last_bar: float, bar: float
) -> None:
    """The fresh cylinder was heard from ``t`` on, at ``bar``; the old one was at ``last_bar``."""
    breathing = wear.breathing
    assert breathing is not None, "only asked of a wear with readings"
    wear.start_from = StartFrom.HEARD
    if breathing.risen_after_ns >= s.stale_after_ns(s.contact_of(wearer)):
        bar = _reckoned(s, wearer, bar, breathing.risen_after_ns)
        wear.start_from = StartFrom.RECKONED
    wear.cylinders += 1
    wear.cylinder_ns = wear.unknown_ns = t
    if wear.spoken is not None and wear.spoken.t < t:
        wear.spoken = None
    if wear.said is not None and wear.said.t < t:
        wear.said = None
    if wear.way is not None:
        volume = breathing.cylinder.water_volume_l  # as it was at the last look
        wear.way = wear.way.fresh_cylinder(last_bar, bar, volume)
    wear.doubt_settled, wear.low_by_flag = True, False
    wear.read_out = SpokenGauge()
    breathing.look_anew()
    breathing.risen = None


def _void(wear: Wear) -> None:
    wear.spoken = wear.said = None
    wear.voice_doubt, wear.over_spoken, wear.by_voice = "", 0, False
    wear.doubt_settled, wear.low_by_flag = True, False
    wear.read_out = SpokenGauge()
    if wear.breathing is not None:
        wear.breathing.another_cylinder()


def _from_first(s: Situation, wearer: Wearer, wear: Wear, reading: Reading) -> None:
    """The first reading of a wear of which nothing was known: late, it is reckoned back."""
    late_ns = reading.t - wear.cylinder_ns
    stale_ns = s.stale_after_ns(s.contact_of(wearer))
    if late_ns >= stale_ns:
        _set(wear, _reckoned(s, wearer, reading.bar, late_ns), StartFrom.RECKONED)
    else:
        _set(wear, reading.bar, StartFrom.READ if late_ns > -stale_ns else StartFrom.HEARD)


def _rise(s: Situation, wearer: Wearer, wear: Wear, bar: float) -> None:
    breathing, way = wear.breathing, wear.way
    assert breathing is not None, "only asked of a wear with readings"
    assert way is not None, "only asked of a wear with a start"
    stale_ns = s.stale_after_ns(s.contact_of(wearer))
    start_from = StartFrom.RAISED
    since_ns = s.now - wear.cylinder_ns
    if breathing.risen_after_ns >= stale_ns:
        # Nobody heard how it came to this, and air was used meanwhile.
        bar, start_from = _reckoned(s, wearer, bar, breathing.risen_after_ns), StartFrom.RECKONED
    elif since_ns < stale_ns:
        start_from = StartFrom.READ
    limit_ns = CHANGE_NS if wear.cylinders > 1 else VALVE_NS
    if since_ns < limit_ns and breathing.fault is GaugeFault.RISING:
        wear.doubt_settled = True
        breathing.look_anew()
        breathing.risen = None
    wear.way = way.raised(bar, s.procedure.reading_tolerance_bar)
    wear.start_from = start_from


def _set(wear: Wear, bar: float, start_from: StartFrom) -> None:
    wear.way = Way.connected(bar) if wear.way is None else wear.way.started_at(bar)
    wear.start_from = start_from


def _reckoned(s: Situation, wearer: Wearer, bar: float, late_ns: int) -> float:
    """What it was so long before: what may have been used since, at the projection rate."""
    cylinder = s.cylinder(wearer, s.contact_of(wearer))
    rate, full = s.procedure.projection_rate_l_min, cylinder.rated_bar or units.READING_MAX_BAR
    return used_back_bar(bar, late_ns / SECOND_NS, rate, cylinder, full)
