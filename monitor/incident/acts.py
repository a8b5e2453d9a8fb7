"""What an officer's act does to the incident, once nothing speaks against it."""

from collections.abc import Callable

from monitor.incident import crew, events, starting, two_gauges
from monitor.incident.air.shown import SECOND_NS, Reading
from monitor.incident.air.start import StartFrom
from monitor.incident.airing import begin_wear, end_wear
from monitor.incident.alarms.catalogue import Kind
from monitor.incident.alarms.engine import Key
from monitor.incident.conditions import (
    review_contact,
    review_watched,
    review_wearer,
    watch_insisting,
)
from monitor.incident.contact import Contact
from monitor.incident.grouping import put
from monitor.incident.orders import giving, keeping
from monitor.incident.orders.events import AnswerByVoice
from monitor.incident.picture import AirFrom, Phase
from monitor.incident.prompts import rest_begins, rest_ends, review_back_left
from monitor.incident.put_aside import put_aside, take_back
from monitor.incident.record import arrivals, briefs, sets, undoing
from monitor.incident.record import keeping as record
from monitor.incident.record.events import Undo
from monitor.incident.refusals import named, would_refuse
from monitor.incident.silence import take_silence
from monitor.incident.situation import ACT_IDS_MAX, LOG_MAX, NOTES_MAX, Situation
from monitor.incident.staffing import review_crew_left, review_staffing
from monitor.incident.together import settle_together
from monitor.incident.turning import review_crew_named, turns_no_more
from monitor.incident.unjoined import breathed_since
from monitor.incident.wearer import Wear, Wearer

PACK_KINDS = (
    Kind.DISTRESS,
    Kind.BATTERY_LOW,
    Kind.NOT_PROVEN,
    Kind.RESTARTING,
    Kind.CLOCK_WRONG,
)
"""Alarms of a pack, which go with it to the wearer who gets it."""


def act_on(s: Situation, act: events.Act) -> None:
    """Do it. An act that would be refused, or whose id was taken before, does nothing."""
    if act.id in s.acts or would_refuse(s, act, s.now) is not None:
        return
    if len(s.acts) >= ACT_IDS_MAX:
        del s.acts[next(iter(s.acts))]
    s.acts[act.id] = None
    s.log.append((s.now, act))
    del s.log[:-LOG_MAX]
    _note_voice(s, act)
    undoing.keep_before(s, act)
    _DOERS[type(act)](s, act)
    undoing.note_after(s, act, named(act))
    if isinstance(act, _REVIEWED):
        for number in named(act):
            review_wearer(s, s.wearers[number])
    s.share_again()
    for number in named(act):
        review_staffing(s, s.wearers[number])
    keeping.review(s)
    briefs.review_reliefs(s)
    record.review_limit(s)
    review_watched(s)
    watch_insisting(s)


_ONLY_A_WORD = (events.Locate, AnswerByVoice)
"""Acts that change nothing of their wearers but that a word has come."""
_REVIEWED = (*_ONLY_A_WORD, Undo)
"""Acts after which their wearers are looked at anew from here."""
_BY_VOICE = (
    *_ONLY_A_WORD,
    events.SpokenReading,
    events.ReachObjective,
    events.NewObjective,
    events.StartBack,
    events.AugmentSupply,
)
"""Acts that tell what only a word from inside can have told."""


def _note_voice(s: Situation, act: events.Act) -> None:
    if isinstance(act, _BY_VOICE):
        for number in named(act):
            wear = s.wearers[number].live_wear
            if wear is not None:
                wear.voice_ns = s.now


def _list_wearer(s: Situation, act: events.ListWearer) -> None:
    wearer = Wearer(
        number=act.wearer,
        name=act.name,
        call_sign=act.call_sign,
        crew=act.crew,
        leader=act.leader,
        phase_ns=s.now,
    )
    s.wearers[act.wearer] = wearer
    s.set_crew(wearer, act.crew)
    if act.leader:
        crew.give_lead(wearer, s.wearers.values())


def _set_crew(s: Situation, act: events.SetCrew) -> None:
    wearer = s.wearers[act.wearer]
    before = wearer.crew
    s.set_crew(wearer, act.crew)
    review_crew_left(s, before, wearer)
    review_back_left(s, before, wearer)
    wearer.leader = act.leader
    if act.leader:
        crew.give_lead(wearer, s.wearers.values())
    if before:
        review_crew_named(s, before)
    elif act.crew:
        turns_no_more(s, Key(Kind.TURN_BACK, wearer=wearer.number))
    review_wearer(s, wearer)


def _join_pack(s: Situation, act: events.JoinPack) -> None:
    wearer = s.wearers[act.wearer]
    before = s.contact_of(wearer)
    last = s.reading(wearer, before)
    same_cylinder = act.cylinder_id in {"", wearer.cylinder_id}
    sets.put_on(s, wearer, act)
    wearer.water_volume_l = act.water_volume_l
    wearer.rated_bar = act.rated_bar
    wearer.apparatus = act.apparatus
    wearer.gauge_unit = act.gauge_unit
    wearer.pack = act.pack
    wearer.set_known = True
    if wearer.phase is Phase.OFF_AIR or (wearer.phase is Phase.LISTED and not act.expected):
        wearer.step_to(Phase.CHECKED_IN)
        wearer.phase_ns = s.now
    if before is not None and before.identity != act.pack:
        s.engine.take_back_all(wearer.number, s.now)
        before.wearer = 0
        for kind in PACK_KINDS:
            put(s, kind, wearer, condition=False)
        review_contact(s, before)
    contact = s.contact_joined(act.pack) if act.pack is not None else None
    if contact is not None:
        contact.wearer = wearer.number
        if contact.heard_ns is not None and not (contact.lost or contact.signed_off):
            arrivals.is_here(s, wearer)
        for kind in PACK_KINDS:
            old = Key(kind, pack=contact.identity)
            s.engine.move(old, Key(kind, wearer=wearer.number))
            s.engine.put(old, s.now, condition=False)
    _expect(s, wearer)
    _voids(s, wearer, last, before, same_cylinder=same_cylinder)
    review_wearer(s, wearer)


def _voids(
    s: Situation,
    wearer: Wearer,
    last: Reading | None,
    before: Contact | None,
    *,
    same_cylinder: bool,
) -> None:
    """Readings of another pack or cylinder than is joined now count no more.

    A word that was read before any pack was noted is of this cylinder: the pack was on it unnoted.
    """
    contact, wear = s.contact_of(wearer), wearer.live_wear
    same_pack = before is contact
    if wear is None:
        if contact is not None and not same_cylinder:
            contact.another_cylinder()
    elif not same_cylinder:
        starting.fresh_cylinder(s, wearer, wear)
    elif wearer.pack is None and not same_pack:
        wear.spoken = wear.spoken or last  # its last word of the same cylinder still stands
    elif not same_pack:
        starting.another_pack(s, wearer, wear, was_none=before is None)
    elif wear.breathing is not None:
        wear.doubt_settled = True
        wear.breathing.look_anew()


def _expect(s: Situation, wearer: Wearer) -> None:
    """From now on a joined pack ought to be heard, even if it never was."""
    contact = s.contact_of(wearer)
    if contact is not None and wearer.under_air:
        if contact.heard_ns is None and contact.expected_ns is None:
            contact.expected_ns = s.now
        s.watch_silence(contact)


def _step(s: Situation, wearer: Wearer, phase: Phase, at_ns: int | None) -> int:
    """Move a wearer on; gives the time it counts from."""
    wearer.step_to(phase)
    wearer.phase_ns = s.now if at_ns is None else at_ns
    return wearer.phase_ns


def _wear(wearer: Wearer) -> Wear:
    """The wear of somebody who has connected."""
    assert wearer.wear is not None, "refused before, where nobody has connected"
    return wearer.wear


def _connect(s: Situation, act: events.Connect) -> None:
    for number in act.wearers:
        wearer = s.wearers[number]
        since = _step(s, wearer, Phase.ON_AIR, _connected_ns(s, wearer, act))
        wearer.connected += 1
        rest_ends(s, wearer, since)
        wear = wearer.wear = Wear(
            connected_ns=since, cylinder_ns=since, unknown_ns=since, word_ns=since
        )
        wearer.location, wearer.location_ns = "", None
        wearer.door = ""
        begin_wear(s, wearer, wear, act.pressure_bar)
        if act.pressure_bar is not None:
            _typed_at_connecting(s, wearer, wear, Reading(since, act.pressure_bar, AirFrom.ENTRY))
        _expect(s, wearer)
        review_wearer(s, wearer)


def _connected_ns(s: Situation, wearer: Wearer, act: events.Connect) -> int | None:
    """From when it counts: as told; else from when the pack was heard to be breathed from."""
    contact = s.contact_of(wearer)
    if act.at_ns is not None or contact is None:
        return act.at_ns
    return breathed_since(contact, s.now)


def _typed_at_connecting(s: Situation, wearer: Wearer, wear: Wear, entry: Reading) -> None:
    """Take what was typed, unless the pack has told as much before and has come down since.

    Then it was noted late: it is the start, and no doubt of the gauge.
    """
    contact = s.contact_of(wearer)
    highest = contact.highest_dbar if contact else None
    known = highest is not None and abs(entry.bar - highest / 10) <= (
        s.procedure.reading_tolerance_bar
    )
    told = s.told_bar(wearer)
    if not (known and told is not None and told < entry.bar):
        two_gauges.take_spoken(s, wearer, wear, entry)
        _compare_gauge(s, wearer, entry.bar)


def _compare_gauge(s: Situation, wearer: Wearer, spoken_bar: float) -> None:
    """Keep what was read out at the door beside what the pack told then."""
    contact = s.contact_of(wearer)
    if contact is not None and contact.pressure_dbar is not None:
        _wear(wearer).gauge_bar = spoken_bar, contact.pressure_dbar / 10


def _enter(s: Situation, act: events.Enter) -> None:
    for number in act.wearers:
        wearer = s.wearers[number]
        since = _step(s, wearer, Phase.ENTERED, act.at_ns)
        wear = _wear(wearer)
        if wear.entered_ns is None:
            wear.entered_ns = since
            if wear.breathing is not None:
                wear.breathing.enter(since)
        else:
            _way_in_again(s, wearer, wear)
        wearer.door = ""
        briefs.brief(wearer, act.task, act.brief, act.communications)
        _locate_at(s, wearer, act.location)
        review_wearer(s, wearer)


def _way_in_again(s: Situation, wearer: Wearer, wear: Wear) -> None:
    """Sent on, or in once more: no objective is reached, and nobody is on the way back."""
    wear.objective_ns = wear.back_ns = None
    wear.way_ns = s.now
    if wear.way is not None and (bar := s.way_bar(wearer)) is not None:
        wear.way = wear.way.sent_on(bar)


def _locate_at(s: Situation, wearer: Wearer, location: str) -> None:
    if location:
        wearer.location = location
        wearer.location_ns = s.now


def _locate(s: Situation, act: events.Locate) -> None:
    for number in act.wearers:
        _locate_at(s, s.wearers[number], act.location)


def _reach_objective(s: Situation, act: events.ReachObjective) -> None:
    for number in act.wearers:
        wearer = s.wearers[number]
        wear = _wear(wearer)
        wear.objective_ns = s.now if act.at_ns is None else act.at_ns
        if act.pressure_bar is not None:
            two_gauges.take_spoken(
                s, wearer, wear, Reading(wear.objective_ns, act.pressure_bar, AirFrom.VOICE)
            )
        _way_in_ends(s, wearer, wear)
        review_wearer(s, wearer)


def _way_in_ends(s: Situation, wearer: Wearer, wear: Wear) -> None:
    wear.way_ns = s.now
    if wear.way is not None and (bar := s.way_bar(wearer)) is not None:
        wear.way = wear.way.reached(bar)


def _new_objective(s: Situation, act: events.NewObjective) -> None:
    for number in act.wearers:
        wearer = s.wearers[number]
        _way_in_again(s, wearer, _wear(wearer))
        _locate_at(s, wearer, act.location)
        review_wearer(s, wearer)


def _start_back(s: Situation, act: events.StartBack) -> None:
    for number in act.wearers:
        wearer = s.wearers[number]
        wear = _wear(wearer)
        wear.back_ns = s.now if act.at_ns is None else act.at_ns
        _way_in_ends(s, wearer, wear)  # it does not grow on the way back
        review_wearer(s, wearer)


def _augment_supply(s: Situation, act: events.AugmentSupply) -> None:
    for number in act.wearers:
        wearer = s.wearers[number]
        wear = _wear(wearer)
        if act.on:
            wear.augment(s.now, s.shown_bar(wearer))
        else:
            wear.own_again(s.now)
            wear.doubt_settled = True  # that own air falls is no doubt any more
        review_wearer(s, wearer)


def _come_out(s: Situation, act: events.ComeOut) -> None:
    for number in act.wearers:
        wearer = s.wearers[number]
        since = _step(s, wearer, Phase.OUT, act.at_ns)
        _wear(wearer).out_ns = since
        wearer.door = act.door
        giving.review_committed(s, wearer)
        review_wearer(s, wearer)


def _off_air(s: Situation, act: events.OffAir) -> None:
    for number in act.wearers:
        wearer = s.wearers[number]
        last = s.reading(wearer, s.contact_of(wearer))
        since = _step(s, wearer, Phase.OFF_AIR, act.at_ns)
        wear = _wear(wearer)
        wear.off_ns = since
        wear.left_bar = last.bar if last else None
        contact = s.contact_of(wearer)
        if contact is not None:
            contact.door_dbar = contact.highest_dbar = None
        wearer.after.clear()
        wearer.ticked.clear()
        wearer.task = wearer.brief = wearer.communications = ""  # the next wear is told its own
        end_wear(wearer, wear)
        rest_begins(s, wearer, since)
        giving.review_committed(s, wearer)
        review_wearer(s, wearer)
        s.engine.take_back_all(number, s.now)


def _spoken_reading(s: Situation, act: events.SpokenReading) -> None:
    together = act.lowest and len(act.wearers) > 1
    of_crew = two_gauges.several(s, act.wearers) if together else frozenset()
    for number in _spoken_for(s, act):
        wearer = s.wearers[number]
        wear = _wear(wearer)
        wear.word_ns = wear.spoke_ns = s.now
        wear.word_due = False
        spoken = Reading(s.now, act.pressure_bar, AirFrom.VOICE)
        two_gauges.take_spoken(s, wearer, wear, spoken, of_crew=of_crew)
        if wearer.phase is Phase.ON_AIR and not act.lowest:
            _compare_gauge(s, wearer, act.pressure_bar)
        _locate_at(s, wearer, act.location)
        review_wearer(s, wearer)


def _spoken_for(s: Situation, act: events.SpokenReading) -> tuple[int, ...]:
    """Whose reading it is. The lowest of a crew may be anybody's whose gauge nobody hears.

    Those whose pack tells more than that keep their own figure; if that is everybody, it is the
    one whose pack tells the least.
    """
    if not act.lowest:
        return act.wearers
    told = {n: bar for n in act.wearers if (bar := s.told_bar(s.wearers[n])) is not None}
    unheard = tuple(n for n in act.wearers if n not in told)
    lowest = min(told, key=lambda n: (told[n], n), default=0)
    if unheard and (not told or told[lowest] > act.pressure_bar):
        return unheard
    return (*unheard, lowest)


def _amend_start(s: Situation, act: events.AmendStart) -> None:
    for number in act.wearers:
        wearer = s.wearers[number]
        wear = _wear(wearer)
        untold = s.reading(wearer, s.contact_of(wearer)) is None
        if untold:
            entry = Reading(wear.cylinder_ns, act.pressure_bar, AirFrom.ENTRY)
            _typed_at_connecting(s, wearer, wear, entry)
        starting.amend(s, wear, act.pressure_bar, StartFrom.READ if untold else StartFrom.AMENDED)
        review_wearer(s, wearer)


def _trust_gauge(s: Situation, act: events.TrustGauge) -> None:
    two_gauges.trust_gauge(s, act)
    review_wearer(s, s.wearers[act.wearer])


def _acknowledge(s: Situation, act: events.Acknowledge) -> None:
    for number in act.alarms:
        s.engine.acknowledge(number, act.by, s.now)
        take_silence(s, number, act.by)


def _reset(s: Situation, act: events.Reset) -> None:
    alarm = s.engine.by_number[act.alarm]
    wearer = s.wearers.get(alarm.key.wearer)
    contact = s.contact_of(wearer) if wearer else s.contacts.get(alarm.key.pack)
    if contact is not None:
        contact.settled[alarm.key.kind] = (contact.boot, contact.sequence)
    s.engine.reset(act.alarm, s.now)
    settle_together(s, alarm)


def _silence(s: Situation, act: events.Silence) -> None:
    s.silenced_ns = s.now
    s.silenced_until_ns = s.now + act.seconds * SECOND_NS


def _enrol_again(s: Situation, act: events.EnrolAgain) -> None:
    contact = s.contacts[act.pack]
    contact.clash = contact.clash_now = contact.comes_old = contact.rivals = False
    contact.boot = contact.sequence = contact.newest_boot = 0
    contact.account.begin_again()
    s.orders.pager(contact.identity).unproven = None
    contact.settled.clear()
    review_contact(s, contact)


def _note(s: Situation, act: events.Note) -> None:
    if len(s.notes) < NOTES_MAX:
        s.notes.append((s.now, act))


def _close(s: Situation, _act: events.Close) -> None:
    s.closed = True


# Each doer is only ever given the kind of act that it stands beside.
_DOERS: dict[type, Callable[..., None]] = {
    events.ListWearer: _list_wearer,
    events.SetCrew: _set_crew,
    events.JoinPack: _join_pack,
    events.Connect: _connect,
    events.Enter: _enter,
    events.Locate: _locate,
    events.ComeOut: _come_out,
    events.OffAir: _off_air,
    events.SpokenReading: _spoken_reading,
    events.AmendStart: _amend_start,
    events.TrustGauge: _trust_gauge,
    events.ReachObjective: _reach_objective,
    events.NewObjective: _new_objective,
    events.StartBack: _start_back,
    events.AugmentSupply: _augment_supply,
    **giving.DOERS,
    **record.DOERS,
    events.PutAside: put_aside,
    events.TakeBack: take_back,
    events.Acknowledge: _acknowledge,
    events.Reset: _reset,
    events.Silence: _silence,
    events.EnrolAgain: _enrol_again,
    events.Note: _note,
    events.Close: _close,
}
