"""Where crews turn back, and whether they must now; which pressures are to be looked at next.

A crew turns back together, so its marks are reckoned together, whenever something they stand on
has changed; between two readings nothing is reckoned that a threshold can tell as well.
"""

from monitor.incident.air.breathing import NEW_CYLINDER_BAR
from monitor.incident.air.shown import SECOND_NS, Cylinder
from monitor.incident.air.turn_back import Member, Way, crew_turn
from monitor.incident.alarms.catalogue import Kind
from monitor.incident.alarms.engine import Key
from monitor.incident.contact import NO_THRESHOLD_HIGH, NO_THRESHOLD_LOW, Contact
from monitor.incident.deadlines import Due
from monitor.incident.grouping import share, worsen_alone
from monitor.incident.picture import Phase, Priority
from monitor.incident.situation import SOON_NS, Situation
from monitor.incident.wearer import Wear, Wearer

TURN_AGAIN_BAR = 5
"""A mark that was reached counts as reached until the gauge is so far above it."""
RATE_STEP_BAR = 10
"""How far a gauge falls before it is looked at anew how fast its wearer breathes, ..."""
RATE_MOST_L_MIN = 150
"""... once turn-back is within two minutes at this rate, the highest that a procedure may plan."""
WAY_IN_STEP_BAR = 5
"""How far a gauge falls on the way in before the marks of the mates are reckoned anew."""
_TURN_BACK, _TURN_SOON = Key(Kind.TURN_BACK), Key(Kind.TURN_SOON)
MINUTE_NS = 60 * SECOND_NS
FLAG_UNDER_BAR = 5
"""A set's own warning that has not started so far under its value is in doubt (EN 137: 55 +- 5)."""
FLAG_OVER_FRACTION = 0.05
"""So is one that starts so far over it, of rated pressure (NFPA 1981, 2013 edition: 33 to 38 %)."""


def review_crew(s: Situation, wearer: Wearer) -> None:
    """Reckon where this wearer's crew must turn, and tell the engine whether it must now."""
    if wearer.crew:
        review_crew_named(s, wearer.crew)
    else:
        _review_turn(s, Key(Kind.TURN_BACK, wearer=wearer.number), [wearer])


def review_crew_named(s: Situation, name: str) -> None:
    """The same for a crew by its name, whoever is in it now."""
    _review_turn(s, Key(Kind.TURN_BACK, crew=name), s.crews.get(name, []))


def who_turns(s: Situation, wearer: Wearer) -> Wearer | None:
    """Who of this wearer's crew has the least margin now; None: no mark is known.

    Reckoned when asked for: while readings come, or estimates fall, one mate passes another.
    """
    told = _told(s, s.crews.get(wearer.crew, []) if wearer.crew else [wearer])
    governs = crew_turn(s.procedure, [member for _, _, member in told]).governs
    return None if governs is None else told[governs][0]


def _told(s: Situation, wearers: list[Wearer]) -> list[tuple[Wearer, Wear, Member]]:
    """Those on air of whose air something is known."""
    on_air = [(w, wear) for w in wearers if (wear := w.live_wear) is not None]
    return [(w, wear, member) for w, wear in on_air if (member := _member(s, w, wear)) is not None]


def _review_turn(s: Situation, key: Key, wearers: list[Wearer]) -> None:
    on_air = [(w, wear) for w in wearers if (wear := w.live_wear) is not None]
    told = _told(s, wearers)
    found = crew_turn(s.procedure, [member for _, _, member in told])
    for (wearer, wear, _), mark in zip(told, found.turns, strict=True):
        moved = mark != wear.turn
        wear.turn = mark
        _watch_mark(s, wearer, wear)
        if moved:
            _watch_estimate(s, wearer)
    _put_soon(s, key, on_air)
    waited = [ns for w, wear in on_air if (ns := _must_turn_for_ns(s, w, wear)) is not None]
    late = any(ns >= withdrawal_ns(s) for ns in waited)
    if not late and on_air and (due := turn_back_late_ns(s, on_air[0][0])) is not None:
        s.deadlines.put(due, Due.TURN_BACK_LATE, on_air[0][0].number)
    _put_turn_back(s, key, on_air, for_ns=max(waited, default=None), late=late)


def _put_turn_back(
    s: Situation, key: Key, on_air: list[tuple[Wearer, Wear]], *, for_ns: int | None, late: bool
) -> None:
    """In one line with other crews that must turn now; late, or once it was, by its own name.

    ``for_ns``: for how long they ought to have been on the way back; None: they need not.
    """
    must = for_ns is not None
    held = any(_called_out(w, wear) for w, wear in on_air)
    numbers = _inside(on_air)
    if late:
        worsen_alone(s, _TURN_BACK, key)
    own = s.engine.by_key.get(key)
    was_late = own is not None and own.priority is Priority.DANGER and own.condition
    alone = late or own is not None
    share(s, _TURN_BACK, key, numbers, holds=must and not alone, held=held)
    s.engine.put(
        key,
        s.now,
        Priority.DANGER if late else None,
        condition=must and alone,
        held=held,
        wearers=numbers,
    )
    if for_ns is not None and late and not was_late:
        s.engine.began(key, s.now - for_ns)


def turns_no_more(s: Situation, key: Key) -> None:
    """Nobody turns under this name any more: its one wearer is in a crew now."""
    share(s, _TURN_BACK, key, (), holds=False)
    share(s, _TURN_SOON, key, (), holds=False)
    s.engine.put(key, s.now, condition=False)


def _put_soon(s: Situation, key: Key, on_air: list[tuple[Wearer, Wear]]) -> None:
    """Remind of a crew whose mark comes within two minutes, while it has not come."""
    must = any(_must_turn_for_ns(s, w, wear) is not None for w, wear in on_air)
    soon = any(wear.turns_soon and _may_turn(w, wear) for w, wear in on_air)
    numbers = _inside(on_air)
    called = any(_called_out(w, wear) for w, wear in on_air)
    share(s, _TURN_SOON, key, numbers, holds=soon and not must and not called)


def _inside(on_air: list[tuple[Wearer, Wear]]) -> tuple[int, ...]:
    """Whom a line of turning back is about: who is at the door, or out, has no way back."""
    inside = tuple(w.number for w, _ in on_air if w.phase is Phase.ENTERED)
    return inside or tuple(w.number for w, _ in on_air)


def _may_turn(wearer: Wearer, wear: Wear) -> bool:
    return wearer.phase is Phase.ENTERED and wear.back_ns is None


def _soon_bar(
    s: Situation, wearer: Wearer, wear: Wear, mark_bar: float, rate_l_min: float | None = None
) -> float | None:
    """Where the mark is so near: at the wearer's own rate once it is known, at least as planned.

    ``rate_l_min``: at another rate.
    """
    volume_l = s.cylinder(wearer, s.contact_of(wearer)).water_volume_l
    if volume_l is None or wear.augmented:
        return None
    if rate_l_min is None:
        own = wear.rate_looked_at[1] if wear.rate_looked_at is not None else 0.0
        rate_l_min = max(s.procedure.planning_rate_l_min, own)
    return mark_bar + rate_l_min * (SOON_NS / MINUTE_NS) / volume_l


def _look_at_rate(s: Situation, wear: Wear, bar: float, far_bar: float | None) -> None:
    """Keep how fast this wearer breathes, from each step of the gauge to the next.

    ``far_bar``: over it, or if it is None, the mark is too far for any rate to count.
    """
    too_far = far_bar is None or bar > far_bar + (NEW_CYLINDER_BAR if wear.rate_looked_at else 0)
    if too_far or wear.turn_ns is not None or wear.back_ns is not None:
        wear.rate_looked_at = None
        return
    at_bar = wear.rate_looked_at[0] if wear.rate_looked_at is not None else None
    if at_bar is not None and bar > at_bar - RATE_STEP_BAR:
        return
    recent = None
    if wear.breathing is not None and s.is_known(wear):
        recent = wear.breathing.consumption.recent_l_s()
    wear.rate_looked_at = bar, (recent or 0.0) * 60


def look_at_rate(s: Situation, contact: Contact, wear: Wear, dbar: int) -> bool:
    """A step of the gauge is done; gives whether more than the wearer's rate is to be looked at."""
    if not contact.look_at_or_under_dbar < dbar < contact.look_at_or_over_dbar:
        return True
    wearer = s.wearers[contact.wearer]
    reading, mark = s.counted_from(wearer, contact), wear.turn
    if mark is None or reading is None:
        return True
    _look_at_rate(s, wear, reading.bar, _soon_bar(s, wearer, wear, mark.bar, RATE_MOST_L_MIN))
    set_thresholds(s, contact, wearer, wear)
    soon_bar = _soon_bar(s, wearer, wear, mark.bar)
    return soon_bar is None or _is_near(wear, reading.bar, soon_bar) is not wear.turns_soon


def _is_near(wear: Wear, bar: float, soon_bar: float) -> bool:
    near = bar <= soon_bar + (TURN_AGAIN_BAR if wear.turns_soon else 0)
    return near or wear.projected_soon


def _called_out(wearer: Wearer, wear: Wear) -> bool:
    """Whether an alarm of this wearer calls the crew out already, and wearer and crew are in."""
    inside = wearer.phase is Phase.ENTERED
    return inside and (wear.low_air or wear.projected_low)


def withdrawal_ns(s: Situation) -> int:
    """How long a crew may take to start back, by the procedure."""
    return int(s.procedure.withdrawal_start_s) * SECOND_NS


def turn_back_late_ns(s: Situation, wearer: Wearer) -> int | None:
    """When this wearer's crew is late to start back; None if it need not.

    Nobody's time runs who is on another supply: no deadline is set for them.
    """
    crew = s.crews.get(wearer.crew, []) if wearer.crew else [wearer]
    runs = [
        ns
        for w in crew
        if (wear := w.live_wear) is not None
        and not wear.augmented
        and (ns := _must_turn_for_ns(s, w, wear)) is not None
    ]
    return s.now - max(runs) + withdrawal_ns(s) if runs else None


def _member(s: Situation, wearer: Wearer, wear: Wear) -> Member | None:
    contact = s.contact_of(wearer)
    reading = s.counted_from(wearer, contact)
    if reading is None:
        return None
    rate = wear.breathing.consumption.recent_l_s() if wear.breathing else None
    return Member(
        way=wear.way if s.own_supply(wearer, contact) else None,
        now_bar=reading.bar,
        cylinder=s.cylinder(wearer, contact),
        rate_l_min=None if rate is None else rate * 60,
        falling_bar=None if s.is_present(reading, contact) else s.shown_bar(wearer),
        way_in_bar=_gauge_against_word(s, wearer, wear),
    )


def _gauge_against_word(s: Situation, wearer: Wearer, wear: Wear) -> float | None:
    """What the pack tells now where a word is in doubt against it; None: the two do not differ.

    The lower of the two governs for the wearer. A mate's mark would rise by a word misheard to more
    than any cylinder holds; if the word is right the wearer's own alarm calls the crew out.
    """
    contact = s.contact_of(wearer)
    told = s.believed(wear, contact) if wear.voice_doubt and wear.spoken else None
    return told.bar if told is not None and s.is_present(told, contact) else None


def _must_turn_for_ns(s: Situation, wearer: Wearer, wear: Wear) -> int | None:
    """For how long this wearer ought to have been on the way back and is not; None: need not."""
    return wear.must_turn_for_ns(s.now) if _may_turn(wearer, wear) else None


def _watch_mark(s: Situation, wearer: Wearer, wear: Wear) -> None:
    """Note whether the wearer's own mark is reached, and what pressure is to be looked at next."""
    contact = s.contact_of(wearer)
    reading = s.counted_from(wearer, contact)
    mark = wear.turn
    if wear.augmented:
        pass  # the own gauge rests: what it had reached stays reached
    elif mark is None or reading is None:
        wear.turn_ns = None
    elif reading.bar <= mark.bar or wear.projected_turn:
        wear.turn_ns = s.now if wear.turn_ns is None else wear.turn_ns
    elif reading.bar > mark.bar + TURN_AGAIN_BAR and reading.t >= (wear.turn_ns or 0):
        wear.turn_ns = None
    if wear.turn_ns is None:
        wear.turn_paused_ns = 0
    if mark is None or reading is None:
        soon_bar = wear.rate_looked_at = None
    else:
        far_bar = _soon_bar(s, wearer, wear, mark.bar, RATE_MOST_L_MIN)
        _look_at_rate(s, wear, reading.bar, far_bar)
        soon_bar = _soon_bar(s, wearer, wear, mark.bar)
    if soon_bar is None or reading is None:
        wear.turns_soon = False
    else:
        wear.turns_soon = _is_near(wear, reading.bar, soon_bar)
    if contact is not None:
        set_thresholds(s, contact, wearer, wear)


def _watch_estimate(s: Situation, wearer: Wearer) -> None:
    """The mark of somebody whom nobody hears may have moved to where their estimate is sooner."""
    ages_ns, due = s.ages_ns(wearer), s.projected_turn_due_ns(wearer)
    if ages_ns is not None and due is not None and ages_ns <= s.now:
        s.deadlines.put(max(due, s.now), Due.PROJECTED_TURN, wearer.number)
        s.deadlines.put(max(due - SOON_NS, s.now), Due.TURN_SOON, wearer.number)


def _moves_mates(s: Situation, wearer: Wearer, wear: Wear) -> bool:
    """Whether what this wearer breathes moves the marks of mates: on the way in, by double air."""
    on_way_in = wear.way is not None and wear.way.from_bar is not None
    by_way_in = s.procedure.turn_back_rule == "double"
    return by_way_in and on_way_in and s.has_mates_on_air(wearer)


def set_thresholds(s: Situation, contact: Contact, wearer: Wearer, wear: Wear | None) -> None:
    """Say which pressures need another look, so that all others need none."""
    if wear is None and contact.fall_from_dbar is not None:
        return  # who has not connected: those by which their breathing is measured
    contact.look_at_or_under_dbar = NO_THRESHOLD_LOW
    contact.look_at_or_over_dbar = NO_THRESHOLD_HIGH
    contact.look_at_rate_dbar = NO_THRESHOLD_LOW
    present = contact.pressure_dbar
    if wear is None or present is None:
        return
    if s.now - contact.pressure_ns >= s.stale_after_ns(contact):
        contact.look_at_or_over_dbar = 0  # the next one, whatever it is, ends an estimate
        return
    aside, breathing = wear.augmented_bar is not None, wear.breathing
    if aside and breathing is not None and breathing.fell_once(present / 10):
        contact.look_at_or_over_dbar = 0  # the next one says whether this one counts
        return
    under, over = _marks(s, contact, wearer, wear)
    if _moves_mates(s, wearer, wear):
        under.append(present / 10 - WAY_IN_STEP_BAR)
    contact.look_at_or_under_dbar = max(
        (int(bar * 10 + 1) for bar in under if bar * 10 < present), default=NO_THRESHOLD_LOW
    )
    highest = min((int(bar * 10) for bar in over if bar * 10 > present), default=NO_THRESHOLD_HIGH)
    if wear.way is not None:
        highest = min(highest, _too_high_dbar(s, wear.way))
    contact.look_at_or_over_dbar = highest


def _marks(
    s: Situation, contact: Contact, wearer: Wearer, wear: Wear
) -> tuple[list[float], list[float]]:
    """Pressures at or under which something begins or ends, and those at or over which."""
    under: list[float] = []
    over: list[float] = []
    cylinder = s.cylinder(wearer, contact)
    low_bar = cylinder.low_air_bar
    if low_bar is not None:
        under += [low_bar, low_bar - FLAG_UNDER_BAR, low_bar + flag_over_bar(s, cylinder)]
        if wear.low_air:
            over.append(low_bar + NEW_CYLINDER_BAR)
    if wear.augmented_bar is not None:
        under.append(wear.augmented_bar - s.procedure.reading_tolerance_bar)
    if wear.turn is None:
        return under, over
    mark_bar = wear.turn.bar
    under.append(mark_bar)
    if not wear.turns_soon and (soon_bar := _soon_bar(s, wearer, wear, mark_bar)):
        under.append(soon_bar)
    if wear.turn_ns is not None:
        over.append(mark_bar + TURN_AGAIN_BAR)
    elif wear.rate_looked_at is not None:
        contact.look_at_rate_dbar = int((wear.rate_looked_at[0] - RATE_STEP_BAR) * 10)
    elif far_bar := _soon_bar(s, wearer, wear, mark_bar, RATE_MOST_L_MIN):
        contact.look_at_rate_dbar = int(far_bar * 10)
    return under, over


def flag_over_bar(s: Situation, cylinder: Cylinder) -> float:
    """How far over its value a set's own warning may start."""
    return max(s.procedure.reading_tolerance_bar, FLAG_OVER_FRACTION * (cylinder.rated_bar or 0.0))


def _too_high_dbar(s: Situation, way: Way) -> int:
    """What the way in makes a reading to be looked at: it shows that a point was read too low."""
    tolerance = s.procedure.reading_tolerance_bar
    return int(min(way.start_bar, way.lowest_bar + tolerance) * 10) + 1
