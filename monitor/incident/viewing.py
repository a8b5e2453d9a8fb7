"""The picture: everything a display shows at one instant, made from what the fold knows."""

from monitor.incident import crew, wording
from monitor.incident.air.shown import air_view
from monitor.incident.alarms import ordering
from monitor.incident.alarms.catalogue import CATALOGUE, Kind, line_word, row_word
from monitor.incident.alarms.engine import Alarm
from monitor.incident.contact import Contact
from monitor.incident.picture import (
    AirView,
    AlarmView,
    LinkView,
    Phase,
    Picture,
    Priority,
    Signal,
    UnjoinedView,
    WearerView,
)
from monitor.incident.silence import by_voice
from monitor.incident.situation import Situation
from monitor.incident.wearer import Wearer

NAMES_MAX = 8
"""Wearers named in one line."""
HEARD = frozenset({Signal.HEARD, Signal.GAP})


def picture_of(s: Situation) -> Picture:
    """Everything at ``s.now``."""
    opened = s.opened
    by_wearer = _alarms_by_wearer(s)
    in_danger = {number for number, alarms in by_wearer.items() if _danger(alarms)}
    wearers = tuple(
        _wearer_view(s, wearer, by_wearer.get(number, []), in_danger)
        for number, wearer in sorted(s.wearers.items())
    )
    expected = [w for w in wearers if w.under_air and w.pack is not None]
    return Picture(
        t=s.now,
        wall_ns=s.wall_base_ns + s.now,
        name=opened.name,
        place=opened.place,
        entry_point=opened.entry_point,
        stage=opened.stage,
        officer=opened.officer,
        use=opened.use,
        keyed=opened.keyed,
        procedure=opened.procedure.title,
        under_air=sum(w.under_air for w in wearers),
        came_out=sum(_came_out(wearer) for wearer in s.wearers.values()),
        signals_heard=sum(w.signal in HEARD for w in expected),
        signals_expected=len(expected),
        wearers=wearers,
        alarms=tuple(_alarm_view(s, alarm) for alarm in ordering.lines(s.engine.by_key.values())),
        unjoined=tuple(_unjoined_view(s, c) for _, c in sorted(s.contacts.items()) if not c.wearer),
        links=tuple(
            LinkView(link=number, name=link.name, up=link.up, detail=link.detail)
            for number, link in sorted(s.links.items())
        ),
        refused=tuple(sorted(s.refused.items())),
        holder=s.holder.by if s.holder else "",
        closed=s.closed,
        pressure_unit=opened.procedure.pressure_unit,
    )


def _came_out(wearer: Wearer) -> bool:
    return (
        wearer.wear is not None
        and wearer.wear.out_ns is not None
        and (wearer.phase in (Phase.OUT, Phase.OFF_AIR))
    )


def _alarms_by_wearer(s: Situation) -> dict[int, list[Alarm]]:
    found: dict[int, list[Alarm]] = {}
    for alarm in s.engine.by_key.values():
        for number in alarm.wearers:
            found.setdefault(number, []).append(alarm)
    return found


def _danger(alarms: list[Alarm]) -> bool:
    return any(alarm.counts and alarm.priority is Priority.DANGER for alarm in alarms)


# ---------------------------------------------------------------- one wearer


def _wearer_view(
    s: Situation, wearer: Wearer, alarms: list[Alarm], in_danger: set[int]
) -> WearerView:
    contact = s.contact_of(wearer)
    signal = signal_of(s, wearer, contact)
    worst = ordering.worst(alarms)
    state, since = _state(s, wearer, contact, signal, worst, in_danger)
    report = contact.report if contact else None
    wear = wearer.live_wear
    heard_ns = contact.heard_ns if contact else None
    return WearerView(
        wearer=wearer.number,
        name=wearer.name,
        call_sign=wearer.call_sign,
        crew=wearer.crew,
        leader=wearer.leader,
        pack=wearer.pack,
        phase=wearer.phase,
        under_air=wearer.under_air,
        state=state,
        priority=worst.priority if worst else None,
        acknowledged=worst is None or not worst.waits,
        state_for_ns=max(0, s.now - since),
        air=air_of(s, wearer, contact),
        signal=signal,
        silence_ns=None if heard_ns is None else s.now - heard_ns,
        silence_limit_ns=s.lost_limit_ns(contact) if contact else None,
        motion=wording.MOTION_WORDS[contact.motion()] if contact else "",
        battery_percent=report.battery_percent if report else None,
        signal_dbm=contact.signal_dbm if contact else None,
        location=wearer.location,
        location_at_ns=wearer.location_ns,
        wear_ns=None if wear is None else s.now - wear.connected_ns,
        pre_alarms=wearer.wear.pre_alarms if wearer.wear else 0,
    )


def signal_of(s: Situation, wearer: Wearer | None, contact: Contact | None) -> Signal:
    """The word for a wearer's link."""
    wear = wearer.live_wear if wearer else None
    if contact is None:
        spoken = wear is not None and wear.spoke_ns is not None and not wear.word_due
        return Signal.BY_VOICE if spoken else Signal.NONE
    if contact.lost and wear is not None and by_voice(contact, wear):
        return Signal.BY_VOICE
    return contact.signal(s.silent_ns(contact))


def _state(
    s: Situation,
    wearer: Wearer,
    contact: Contact | None,
    signal: Signal,
    worst: Alarm | None,
    in_danger: set[int],
) -> tuple[str, int]:
    """The one word for the line, and since when it holds."""
    if worst is not None and worst.priority is not Priority.NOTICE:
        return row_word(worst.key.kind, worst.priority), worst.raised_ns
    if wearer.under_air:
        mates = [mate for mate in crew.mates(wearer, s.wearers) if mate.number in in_danger]
        if mates:
            return wording.CREW_ALARM, _danger_since(s, mates)
    if worst is not None:
        return row_word(worst.key.kind, worst.priority), worst.raised_ns
    state = wording.quiet_state(wearer.phase, signal)
    since = wearer.phase_ns
    if contact is not None and wearer.under_air:
        since = max(since, _signal_since(contact, signal))
    return state, since


def _danger_since(s: Situation, mates: list[Wearer]) -> int:
    """When the first danger in the crew began."""
    numbers = {mate.number for mate in mates}
    return min(
        alarm.raised_ns
        for alarm in s.engine.by_key.values()
        if not numbers.isdisjoint(alarm.wearers)
        and alarm.counts
        and alarm.priority is Priority.DANGER
    )


def _signal_since(contact: Contact, signal: Signal) -> int:
    if signal is Signal.HEARD:
        return contact.signal_ns
    if signal is Signal.LOST:
        return contact.lost_ns
    return contact.heard_ns or 0


def air_of(s: Situation, wearer: Wearer | None, contact: Contact | None) -> AirView:
    """The air cell of a wearer, or of a pack that nobody has."""
    return air_view(
        s.reading(wearer, contact),
        s.cylinder(wearer, contact),
        s.now,
        s.stale_after_ns(contact),
        s.procedure.projection_rate_l_min,
        falling=wearer is not None and wearer.under_air,
    )


def _unjoined_view(s: Situation, contact: Contact) -> UnjoinedView:
    last = max(
        t
        for t in (contact.heard_ns, contact.unproven_ns, contact.distress_doubt_ns, 0)
        if t is not None
    )
    dbar = contact.pressure_dbar
    return UnjoinedView(
        pack=contact.identity,
        pressure_bar=None if dbar is None else dbar / 10,
        silence_ns=s.now - last,
        signal=signal_of(s, None, contact),
    )


# ---------------------------------------------------------------- one alarm


def _alarm_view(s: Situation, alarm: Alarm) -> AlarmView:
    wearer = s.wearers.get(alarm.key.wearer)
    contact = s.contact_of(wearer) if wearer else s.contacts.get(alarm.key.pack)
    entry = CATALOGUE[alarm.key.kind]
    mates = crew.mates(wearer, s.wearers) if wearer else []
    return AlarmView(
        number=alarm.number,
        kind=alarm.key.kind.value,
        word=line_word(alarm.key.kind, alarm.priority),
        priority=alarm.priority,
        state=alarm.state.value,
        acknowledged=not alarm.waits,
        latched=alarm.latched,
        wearers=alarm.wearers,
        subject=_subject(s, alarm, wearer),
        crew=wearer.crew if wearer else "",
        location=wearer.location if wearer else "",
        location_at_ns=wearer.location_ns if wearer else None,
        air=air_of(s, wearer, contact) if wearer else None,
        mates=tuple(
            (mate.number, mate.label, air_of(s, mate, s.contact_of(mate)).pressure_bar)
            for mate in mates
        ),
        raised_at_ns=alarm.raised_ns,
        raised_for_ns=s.now - alarm.raised_ns,
        to_do=entry.to_do,
        detail=_detail(s, alarm, wearer, contact),
        insistent=alarm.insisted,
    )


def _subject(s: Situation, alarm: Alarm, wearer: Wearer | None) -> str:
    if wearer is not None:
        return wearer.label
    if alarm.key.kind is Kind.SEVERAL_SILENT:
        with_pack = sum(w.under_air and w.pack is not None for w in s.wearers.values())
        return f"{len(alarm.wearers)} of {with_pack}"
    if alarm.key.pack:
        return f"pack {alarm.key.pack}"
    if alarm.key.link:
        return s.links[alarm.key.link].name
    return "base"


def _detail(s: Situation, alarm: Alarm, wearer: Wearer | None, contact: Contact | None) -> str:
    """The rule behind the alarm, with its figures."""
    kind = alarm.key.kind
    if contact is not None and kind is Kind.NO_SIGNAL:
        return wording.silence_detail(s.silent_ns(contact), s.lost_limit_ns(contact))
    if contact is not None and kind is Kind.STILL_THEN_SILENT:
        return f"silent {wording.seconds(s.silent_ns(contact))} after a motion pre-alarm"
    if kind is Kind.LOW_AIR:
        reading = s.reading(wearer, contact)
        report = contact.report if contact else None
        return wording.low_air_detail(
            reading.bar if reading else None,
            s.cylinder(wearer, contact).low_air_bar,
            flag=report is not None and report.low_air,
        )
    if kind is Kind.NO_WORD and wearer is not None and wearer.wear is not None:
        limit = int(s.procedure.spoken_reading_valid_s)
        return f"last word {wording.seconds(s.now - wearer.wear.word_ns)} ago, limit {limit} s"
    if kind is Kind.PRE_ALARM and wearer is not None and wearer.wear is not None:
        return f"number {wearer.wear.pre_alarms} in this wear"
    if kind is Kind.SEVERAL_SILENT:
        return ", ".join(s.wearers[number].label for number in alarm.wearers[:NAMES_MAX])
    if kind is Kind.BATTERY_LOW and contact is not None and contact.report is not None:
        return f"{contact.report.battery_percent} %"
    return CATALOGUE[kind].raised
