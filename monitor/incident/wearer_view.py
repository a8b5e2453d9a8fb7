"""One line of the board, made from what the fold knows of a wearer."""

from dataclasses import replace
from functools import partial

from monitor.incident import grouping, wording
from monitor.incident.air.next_mark import Standing, Target, next_mark, target_of
from monitor.incident.air.shown import SMALLEST_CYLINDER_L, air_view
from monitor.incident.alarms import ordering, over
from monitor.incident.alarms.catalogue import row_word
from monitor.incident.alarms.engine import Alarm
from monitor.incident.alarms.ranking import NOTHING, RANKING, Known
from monitor.incident.contact import Contact
from monitor.incident.orders.answering import coming_out_ns
from monitor.incident.picture import AirFrom, AirView, NextMark, Phase, Priority, Signal, WearerView
from monitor.incident.record import sets
from monitor.incident.service_words import row_said
from monitor.incident.silence import by_voice
from monitor.incident.situation import Situation
from monitor.incident.turning import who_turns
from monitor.incident.wearer import Wear, Wearer

STEADY_S = 180
"""A rate with less time behind it is only about so."""


def wearer_view(
    s: Situation, wearer: Wearer, alarms: list[Alarm], mate_danger_ns: int | None
) -> WearerView:
    """The line of one wearer. ``mate_danger_ns``: since when a mate is in danger."""
    contact = s.contact_of(wearer)
    signal = signal_of(s, wearer, contact)
    worst = ordering.worst(alarms, partial(known_of, s))
    worst_ns = grouping.since_ns(s, worst, wearer.number) if worst else 0
    state, since = _state(wearer, contact, signal, worst, worst_ns, mate_danger_ns)
    report = contact.report if contact else None
    wear = wearer.live_wear
    heard_ns = contact.heard_ns if contact else None
    rule = s.link_rule(contact) if contact else None
    return WearerView(
        wearer=wearer.number,
        name=wearer.name,
        call_sign=wearer.call_sign,
        crew=wearer.crew,
        leader=wearer.leader,
        pack=wearer.pack,
        phase=wearer.phase,
        under_air=wearer.under_air,
        state=row_said(state, s.procedure.words),
        crew_alarm=state == wording.CREW_ALARM,
        priority=worst.priority if worst else None,
        acknowledged=not any(a.waits and a.counts for a in alarms),
        state_for_ns=max(0, s.now - since),
        air=air_in_full(s, wearer, contact),
        signal=signal,
        silence_ns=None if heard_ns is None else s.now - heard_ns,
        silence_limit_ns=rule.limit_ns if rule else None,
        link_rule=wording.link_rule(rule, s.silent_ns(contact)) if rule and contact else "",
        motion=wording.MOTION_WORDS[contact.motion()] if contact else "",
        battery_percent=report.battery_percent if report else None,
        signal_dbm=contact.signal_dbm if contact else None,
        location=wearer.location,
        location_at_ns=wearer.location_ns,
        wear_ns=None if wear is None else s.now - wear.connected_ns,
        pre_alarms=wearer.wear.pre_alarms if wearer.wear else 0,
        pack_doubted=contact is not None and contact.clash,
        left_bar=wearer.wear.left_bar if wearer.wear and wear is None else None,
        frames_taken=contact.account.taken if contact else 0,
        frames_lost=contact.account.lost if contact else 0,
        frames_late=contact.late if contact else 0,
        unit=s.unit(wearer),
        apparatus=s.apparatus(wearer, contact),
        entered_ns=_since(s, wear.entered_ns if wear else None),
        objective_ns=_since(s, wear.objective_ns if wear else None),
        back_ns=_since(s, wear.back_ns if wear else None),
        augmented=wear is not None and wear.augmented,
        committed=s.orders.state_of(wearer.crew) == "committed",
        coming_out_ns=coming_out_ns(s, wearer),
        task=wearer.task,
        brief=wearer.brief,
        communications=wearer.communications,
        moved_to=wearer.moved_to,
        door=wearer.door,
        set_id=wearer.set_id,
        cylinder_id=wearer.cylinder_id,
        defect=sets.defect_of(s, wearer),
    )


def _since(s: Situation, t: int | None) -> int | None:
    return None if t is None else s.now - t


def signal_of(s: Situation, wearer: Wearer | None, contact: Contact | None) -> Signal:
    """The word for a wearer's link."""
    wear = wearer.live_wear if wearer else None
    if contact is None:
        spoken = wear is not None and wear.spoke_ns is not None and not wear.word_due
        return Signal.BY_VOICE if spoken else Signal.NONE
    if contact.lost and wear is not None and by_voice(contact, wear):
        return Signal.BY_VOICE
    since = contact.silent_since_ns
    return contact.signal(0 if since is None else s.now - since)


def _state(
    wearer: Wearer,
    contact: Contact | None,
    signal: Signal,
    worst: Alarm | None,
    worst_ns: int,
    mate_danger_ns: int | None,
) -> tuple[str, int]:
    """The one word for the line, and since when it holds. ``worst_ns``: since when that does."""
    if worst is not None and over.is_past(worst.key.kind, wearer.phase, condition=worst.condition):
        return over.row(worst.key.kind), worst_ns
    if worst is not None and worst.priority is not Priority.NOTICE:
        return row_word(worst.key.kind, worst.priority), worst_ns
    if mate_danger_ns is not None:
        return wording.CREW_ALARM, mate_danger_ns
    state = wording.quiet_state(wearer.phase, signal)
    if worst is not None and state == wording.QUIET:
        return row_word(worst.key.kind, worst.priority), worst_ns
    since = wearer.phase_ns
    if contact is not None and wearer.under_air:
        since = max(since, _signal_since(contact, signal))
    return state, since


def danger_since(alarms: list[Alarm]) -> int | None:
    """When the first danger among them began; None if there is none."""
    return min(
        (a.raised_ns for a in alarms if a.counts and a.priority is Priority.DANGER), default=None
    )


def subject_of(s: Situation, alarm: Alarm) -> Wearer | None:
    """Whom an alarm is about: its wearer, or whose air turns its crew back; None for any other."""
    wearer = s.wearers.get(alarm.key.wearer)
    if wearer is not None or not (alarm.key.crew or grouping.is_group(alarm)):
        return wearer
    if grouping.is_group(alarm) and alarm.key.kind not in grouping.OF_ALL:
        return s.wearers.get(min(alarm.wearers, default=0)) if len(alarm.wearers) == 1 else None
    told = [s.wearers[number] for number in alarm.wearers]
    members = s.crews.get(alarm.key.crew, []) if alarm.key.crew else told
    if len({w.crew or w.number for w in members}) != 1:
        return None
    turns = who_turns(s, members[0])
    return turns if turns in members else None


def known_of(s: Situation, alarm: Alarm) -> Known:
    """What ranks an alarm besides its kind, as far as its kind asks for it."""
    rank, past = RANKING[alarm.key.kind], _is_past(s, alarm)
    if rank.by_air is None and rank.at_door is None:
        return Known(past=True) if past else NOTHING
    group = s.together.get(alarm.key.kind)
    # Where a pack is that nobody on the board has, nobody knows.
    told = rank.at_door is not None and (group is None or all(group.packs.values()))
    phases = {s.wearers[number].phase for number in alarm.wearers} if told else ()
    return Known(None if rank.by_air is None else _air_left_s(s, alarm), phases, past=past)


def _is_past(s: Situation, alarm: Alarm) -> bool:
    """Whether it is over for all whom it is about: then something that is not comes first."""
    if alarm.condition:
        return False
    told: list[Phase | None] = [s.wearers[number].phase for number in alarm.wearers]
    kind = alarm.key.kind
    return all(over.is_past(kind, phase, condition=False) for phase in told or [None])


def _air_left_s(s: Situation, alarm: Alarm) -> int | None:
    """Seconds until the air that ranks an alarm is used up, at the earliest; None: unknown."""
    wearer = subject_of(s, alarm)
    wear = wearer.live_wear if wearer else None
    if wearer is None or wear is None or not s.own_supply(wearer, s.contact_of(wearer)):
        return None
    standing = standing_of(s, wearer, wear)
    mark = None if standing is None else next_mark(standing, "empty", 0.0, None)
    return None if mark is None else mark.seconds


def _signal_since(contact: Contact, signal: Signal) -> int:
    if signal is Signal.HEARD:
        return contact.signal_ns
    if signal is Signal.LOST:
        return contact.lost_ns
    return contact.heard_ns or 0


def air_of(s: Situation, wearer: Wearer | None, contact: Contact | None) -> AirView:
    """The air cell of a wearer, or of a pack that nobody has."""
    return air_view(
        s.counted_from(wearer, contact),
        s.cylinder(wearer, contact),
        s.now,
        s.stale_after_ns(contact),
        s.fall(wearer),
        falling=wearer is not None and wearer.under_air and s.own_supply(wearer, contact),
    )


def air_in_full(s: Situation, wearer: Wearer, contact: Contact | None) -> AirView:
    """The air cell with rate, next mark and turn-back, for the wearer's own line."""
    air = air_of(s, wearer, contact)
    wear = wearer.live_wear
    if wear is None or wear.breathing is None or not s.own_supply(wearer, contact):
        return air
    sums = wear.breathing.consumption.sums
    recent, mean = sums.recent_l_s(), sums.mean_l_s()
    standing = None if air.pressure_bar is None else standing_of(s, wearer, wear)
    mark = None if standing is None else mark_of(standing, wearer, wear, air)
    # Written out: ``replace`` takes five times as long, and this is a tenth of a picture.
    return AirView(
        source=air.source,
        pressure_bar=air.pressure_bar,
        fraction=air.fraction,
        contents_l=air.contents_l,
        reading_bar=air.reading_bar,
        reading_age_ns=air.reading_age_ns,
        low_air_bar=air.low_air_bar,
        rated_bar=air.rated_bar,
        rate_l_min=None if recent is None else recent * 60,
        rate_mean_l_min=None if mean is None else mean * 60,
        rate_about=sums.seconds < STEADY_S,
        next=mark,
        ahead=() if standing is None or mark is None else marks_after(standing, mark, air),
        turn_bar=wear.turn.bar if wear.turn else None,
        start_bar=wear.way.start_bar if wear.way else None,
        start_from=wear.start_from,
    )


def standing_of(s: Situation, wearer: Wearer, wear: Wear) -> Standing | None:
    """What times of this wearer's air are reckoned from; None before any reading."""
    contact = s.contact_of(wearer)
    reading = s.counted_from(wearer, contact)
    known = s.outlooks(wearer, wear)
    if reading is None or known is None or wear.breathing is None:
        return None
    cylinder = s.cylinder(wearer, contact)
    if not cylinder.water_volume_l:
        # Nobody has described it: the smallest, whose gauge falls fastest.
        cylinder = replace(cylinder, water_volume_l=SMALLEST_CYLINDER_L)
    return Standing(
        now=s.now,
        connected_ns=wear.cylinder_ns,
        reading=reading,
        fresh_ns=0 if reading.source is AirFrom.ASSUMED else s.stale_after_ns(contact),
        start_bar=wear.start_bar,
        cylinder=cylinder,
        outlooks=known,
        planning_rate_l_min=s.procedure.planning_rate_l_min,
        step_bar=s.procedure.gauge_step_bar,
        kept_s=wear.breathing.until_s,
    )


def mark_of(standing: Standing, wearer: Wearer, wear: Wear, air: AirView) -> NextMark | None:
    """What the air of this wearer comes to next."""
    assert air.pressure_bar is not None, "there is a reading"
    turn = wear.turn.bar if wear.turn else None
    # On air at the door the way in has not begun, but the mark is the earlier one all the same.
    back = wear.back_ns is not None or wearer.phase is Phase.OUT
    target, bar = target_of(air.pressure_bar, turn, air.low_air_bar, back=back)
    return next_mark(standing, target, bar, wear.turn_ns if target == "turn" else None)


def marks_after(standing: Standing, mark: NextMark, air: AirView) -> tuple[NextMark, ...]:
    """What this wearer's air comes to after its next mark."""
    if mark.target == "empty":
        return ()
    bars: list[tuple[Target, float]] = [("empty", 0.0)]
    if mark.target == "turn" and air.low_air_bar is not None:
        bars.insert(0, ("low", air.low_air_bar))
    told = (next_mark(standing, target, bar, None) for target, bar in bars)
    return tuple(later for later in told if later is not None)
