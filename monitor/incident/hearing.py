"""What a frame does to the incident."""

from dataclasses import replace

from monitor.incident.airing import breathe
from monitor.incident.alarms.catalogue import Kind, in_scope
from monitor.incident.alarms.engine import Key
from monitor.incident.calls import Calls, News
from monitor.incident.conditions import key, review_contact, watch_insisting
from monitor.incident.contact import (
    DOUBT_NS,
    PROOF_GRACE_NS,
    STARTS_MANY,
    Contact,
    gap_after_ns,
)
from monitor.incident.deadlines import Due
from monitor.incident.events import Heard
from monitor.incident.link_rule import missed_in
from monitor.incident.orders.answering import hear_orders, hear_unproven
from monitor.incident.record.arrivals import is_here
from monitor.incident.rows import Standing
from monitor.incident.situation import Situation
from monitor.incident.still_heard import Thinned
from monitor.incident.together import is_proven, note_call
from monitor.incident.two_gauges import settle
from monitor.incident.wearer import Wear
from protocol.freshness import NS_PER_MS
from protocol.packets import Kind as PacketKind
from protocol.packets import Motion, Receipt, Report

_LIVE = Standing.LIVE
_SIGN_OFF = PacketKind.SIGN_OFF
_SWITCHED = (PacketKind.SIGN_ON, PacketKind.SIGN_OFF)
_EVENT = PacketKind.EVENT
_STILL = (Motion.PRE_ALARM, Motion.ALARM)
_OLD = (Standing.OLD, Standing.OLD_NOW)


def hear(s: Situation, event: Heard) -> None:
    """Take one frame that the recorder let through, as far as its standing goes."""
    packet = event.packet
    if event.standing != _LIVE:
        new = s.contact_unproven if event.standing == Standing.UNPROVEN_DISTRESS else s.contact
        doubtful = new(packet.identity)
        if doubtful is not None:
            _hear_doubtful(s, doubtful, packet, event.standing)
        return
    contact = s.contacts.get(packet.identity) or s.contact(packet.identity)
    if contact is None:
        return
    gap = contact.account.take(packet.boot, packet.sequence)
    if gap:
        _learn_loss(s, contact, heard=gap > 0)
    wearer = s.wearers.get(contact.wearer)
    wear = wearer.wear if wearer is not None and wearer.under_air else None
    before = contact.report
    if (
        before is None
        or packet.__class__ is not Report
        or packet.boot != contact.boot
        or packet.sequence <= contact.sequence
        or packet.motion is not before.motion
        or packet.kind is not before.kind
        or packet.distress is not before.distress
        or packet.low_air is not before.low_air
        or packet.interval_s != before.interval_s
        or packet.battery_percent != before.battery_percent
        or packet.order_received != before.order_received
        or packet.order_acknowledged != before.order_acknowledged
        or packet.coming_out is not before.coming_out
        or (packet.pressure_dbar is None) is not (before.pressure_dbar is None)
        or packet.equipment is not None
        or contact.lost
        or contact.still_and_silent
        or contact.unproven_since_ns is not None
    ):
        _hear_news(s, contact, packet, wear)
    else:
        contact.heard_ns = s.now
        contact.take(packet, s.now)
        pressure = packet.pressure_dbar
        if pressure is not None and (
            breathe(s, contact, wear)
            or pressure <= contact.look_at_or_under_dbar
            or pressure >= contact.look_at_or_over_dbar
        ):
            review_contact(s, contact)
    contact.signal_dbm = event.signal_dbm
    if wear is not None and wear.spoken is not None:
        _settle_spoken(s, contact, wear)


def hear_thinned(s: Situation, fact: Thinned) -> None:
    """Take live frames that repeat what their packs told last, the last of each for all."""
    for one in fact.packs:
        contact = s.contacts.get(one.pack)
        before = contact.report if contact is not None else None
        if contact is None or before is None or one.sequence <= contact.sequence:
            continue
        lost = contact.account.lost
        contact.account.also(one.sequence - 1, one.frames - 1)
        if contact.account.lost != lost:
            _learn_loss(s, contact, heard=False)
        report = replace(
            before, kind=PacketKind.STATUS, sequence=one.sequence, uptime_ms=one.uptime_ms,
            pressure_dbar=one.pressure_dbar,
        )  # fmt: skip
        hear(s, Heard(s.now, report, _LIVE, 0, 0, contact.signal_dbm))


def _learn_loss(s: Situation, contact: Contact, *, heard: bool) -> None:
    """Losses of this link have changed; ``heard``: by a frame that ends a silence."""
    interval_s, missed = contact.interval_s, 0
    if heard and contact.heard_ns is not None:
        missed = missed_in(s.silent_ns(contact), interval_s)
    contact.history.follow(contact.account, interval_s, missed)


def _hear_news(s: Situation, contact: Contact, packet: Report | Receipt, wear: Wear | None) -> None:
    """Take a live frame that may change more than a number; what was told late goes on."""
    told_late = _told_late(s, contact, packet) if contact.late_said else {}
    _take_news(s, contact, packet, wear)
    if contact.calls is not None:
        is_proven(s, contact)
    for one, since_ns in told_late.items():
        if one in s.engine.by_key:
            s.engine.began(one, since_ns)


def _take_news(s: Situation, contact: Contact, packet: Report | Receipt, wear: Wear | None) -> None:
    s.made_up.pop(contact.identity, None)
    if contact.lost or contact.heard_ns is None:
        contact.signal_ns = s.now
    _count_starts(s, contact, packet)
    newest = (packet.boot, packet.sequence) > (contact.boot, contact.sequence)
    contact.heard_ns = s.now
    contact.held_run = 0
    contact.comes_old = contact.lost = False
    contact.still_and_silent = False
    contact.unproven_since_ns = None
    contact.unproven_long = False
    if not newest:
        contact.late += 1
    if isinstance(packet, Receipt):
        if newest:
            _take_receipt(contact, packet)
    elif newest:
        _started_anew(s, contact, packet)
        if packet.kind == _EVENT or packet.boot != contact.boot:
            contact.shown_ns = s.now
        contact.signed_off = packet.kind == _SIGN_OFF
        if contact.signed_off:
            _word_of_a_pack(s, contact)
        contact.take(packet, s.now)
        if packet.motion is not Motion.UNKNOWN:
            contact.no_motion_ns = None
        elif contact.no_motion_ns is None:
            contact.no_motion_ns = s.now
        if not contact.wearer and packet.kind in _SWITCHED:
            contact.door_dbar = contact.highest_dbar = None  # nobody has it: a use of its own
        breathe(s, contact, wear)
    else:
        _late_alarm(s, contact, packet)
    if contact.wearer and not contact.signed_off:
        is_here(s, s.wearers[contact.wearer])
    hear_orders(s, contact, packet)
    s.watch_silence(contact)
    review_contact(s, contact)


def _told_late(s: Situation, contact: Contact, packet: Report | Receipt) -> dict[Key, int]:
    """What frames come late have told since the newest, and this one still says: since when."""
    here = (contact.boot, contact.sequence)
    if not isinstance(packet, Report) or (packet.boot, packet.sequence) <= here:
        return {}
    wearer, found = s.wearer_of(contact), {}
    for kind, happens in _calls_in(packet).items():
        alarm = s.engine.by_key.get(key(kind, contact, wearer))
        told = contact.late_said.get(kind, (0, 0)) > here
        if happens and told and alarm is not None:
            found[alarm.key] = alarm.raised_ns
    return found


def _calls_in(packet: Report) -> dict[Kind, bool]:
    return {Kind.DISTRESS: packet.distress, Kind.MOTION_ALARM: packet.motion is Motion.ALARM}


def _word_of_a_pack(s: Situation, contact: Contact) -> None:
    """A pack that is switched off has told until now: no word of its wearer is due at once."""
    wearer = s.wearer_of(contact)
    if wearer is not None and wearer.live_wear is not None:
        wearer.live_wear.word_due = False


def _started_anew(s: Situation, contact: Contact, packet: Report) -> None:
    """A pack that starts anew in the middle of a pre-alarm has forgotten it; its wearer may lie."""
    forgets = packet.boot != contact.boot and packet.motion not in _STILL
    if forgets and contact.motion() is Motion.PRE_ALARM and not contact.signed_off:
        wearer = s.wearer_of(contact)
        if wearer is not None and in_scope(Kind.STILL_THEN_SILENT, wearer.phase):
            s.engine.pulse(key(Kind.STILL_THEN_SILENT, contact, wearer), s.now)


def _count_starts(s: Situation, contact: Contact, packet: Report | Receipt) -> None:
    """Note each boot counter that is higher than any before: the pack has started anew."""
    if packet.boot <= contact.newest_boot:
        return
    contact.clock_ppm = 0
    if contact.newest_boot:
        contact.starts_ns = [*contact.starts_ns, s.now][-STARTS_MANY:]
        many = len(contact.starts_ns) == STARTS_MANY
        contact.restarting = many and s.now - contact.starts_ns[0] <= DOUBT_NS
        s.deadlines.put(s.now + DOUBT_NS, Due.DOUBT_OVER, contact.identity)
    contact.newest_boot = packet.boot


def _take_receipt(contact: Contact, receipt: Receipt) -> None:
    """A receipt carries no state: only its number counts, and that the pack is on."""
    if receipt.boot == contact.boot:
        contact.sequence = receipt.sequence
        contact.signed_off = False


def _late_alarm(s: Situation, contact: Contact, packet: Report) -> None:
    """An older frame, come late: not the present state, but an alarm in it did happen."""
    wearer = s.wearer_of(contact)
    phase = wearer.phase if wearer else None
    numbers = (packet.boot, packet.sequence)
    for kind, happened in _calls_in(packet).items():
        before = contact.late_said.pop(kind, None)
        if not happened:
            continue
        contact.late_said[kind] = numbers
        one = key(kind, contact, wearer)
        # The officer has it already while nothing but such frames has said anything since.
        told = before is not None and before >= (contact.boot, contact.sequence)
        if told and one in s.engine.by_key:
            continue
        if in_scope(kind, phase) and numbers > contact.settled.get(kind, (0, 0)):
            s.engine.pulse(one, s.now, _made_ns(s, contact, packet))
    watch_insisting(s)


def _made_ns(s: Situation, contact: Contact, packet: Report) -> int | None:
    """When a frame was made, by its pack's own clock; None where that cannot be told."""
    newest = contact.report
    if newest is None or newest.boot != packet.boot:
        return None
    return min(s.now, contact.report_ns + (packet.uptime_ms - newest.uptime_ms) * NS_PER_MS)


def _says_help(s: Situation, contact: Contact, packet: Report) -> bool:
    """Whether this wearer may need help at once, for all the frame says."""
    wearer = s.wearer_of(contact)
    still = packet.motion is Motion.ALARM
    return packet.distress or (
        still and in_scope(Kind.MOTION_ALARM, wearer.phase if wearer else None)
    )


def _settle_spoken(s: Situation, contact: Contact, wear: Wear) -> None:
    """Hold the reading by voice that governs against what has just come."""
    if settle(s, contact, s.wearers[contact.wearer], wear):
        review_contact(s, contact)


def _hear_doubtful(
    s: Situation, contact: Contact, packet: Report | Receipt, standing: Standing
) -> None:
    """Take a frame that does not count as heard. What it warns of is never dropped."""
    name = Standing(standing).name
    s.doubtful[name] = s.doubtful.get(name, 0) + 1
    if standing == Standing.HELD:
        _hold(s, contact)
        if contact.account.take(packet.boot, packet.sequence):
            _learn_loss(s, contact, heard=False)
            s.watch_silence(contact)
        if isinstance(packet, Report):
            _late_alarm(s, contact, packet)
        if (packet.boot, packet.sequence) > (contact.boot, contact.sequence):
            hear_unproven(s, contact, packet)
        return
    known = _doubts(contact)
    if standing in _OLD:
        _hear_old(s, contact, packet, standing)
    elif standing == Standing.NOT_PROVEN:
        if contact.unproven_since_ns is None:
            contact.unproven_since_ns = s.now
        contact.unproven_ns = s.now
        contact.unproven_long = s.now - contact.unproven_since_ns >= PROOF_GRACE_NS
        s.deadlines.put(s.now + DOUBT_NS, Due.DOUBT_OVER, contact.identity)
        _count_starts(s, contact, packet)
        hear_unproven(s, contact, packet)
    if isinstance(packet, Report):
        _hear_call(s, contact, packet, standing)
    # A flood of such frames says the same again and again: only news is looked at.
    if known != _doubts(contact):
        review_contact(s, contact)


def _hear_call(s: Situation, contact: Contact, packet: Report, standing: Standing) -> None:
    """Take what a frame without proof says of help."""
    helps = _says_help(s, contact, packet)
    if contact.calls is None:
        if not helps:
            return
        contact.calls = Calls()
    news = contact.calls.hear(packet, standing, helps=helps)
    if news is not News.NOTHING:
        wearer = s.wearer_of(contact)
        told = s.engine.by_key.get(key(Kind.DISTRESS, contact, wearer))
        if packet.distress and told is not None and told.condition and not contact.clash:
            return  # the pack has said so in a frame that counts, and nothing since
        contact.distress_doubt_ns = s.now
        s.deadlines.put(s.now + DOUBT_NS, Due.DOUBT_OVER, contact.identity)
        note_call(s, contact, news)


def _hold(s: Situation, contact: Contact) -> None:
    """Note that frames come, though too late to show the present state."""
    before = contact.comes_late
    in_time_since = contact.held_ns is None or (contact.heard_ns or 0) > contact.held_ns
    contact.held_run = 1 if in_time_since else contact.held_run + 1
    contact.held_ns = s.now
    s.deadlines.put(s.now + gap_after_ns(contact.interval_s), Due.DOUBT_OVER, contact.identity)
    if contact.lost and contact.comes_late != before:
        review_contact(s, contact)


def _doubts(contact: Contact) -> tuple[bool, ...]:
    return (
        contact.clash,
        contact.comes_old,
        contact.rivals,
        contact.restarting,
        contact.unproven_long,
        contact.distress_doubt_ns is not None,
    )


def _hear_old(s: Situation, contact: Contact, packet: Report | Receipt, standing: Standing) -> None:
    """Take a genuine frame whose numbers went back: another pack, a lost counter, a recording."""
    last = max((t for t in (contact.heard_ns, contact.unproven_ns) if t is not None), default=None)
    heard = last is not None and s.now - last < gap_after_ns(contact.interval_s)
    # Silent for so long the other is not there, or never was: the one that speaks is who can obey.
    alone = last is None or s.now - last >= DOUBT_NS
    alone = alone or contact.lost
    contact.rivals = heard or (contact.clash and contact.rivals and not alone)
    contact.clash = True
    contact.clash_ns = s.now
    contact.clash_now = contact.clash_now or standing == Standing.OLD_NOW
    s.deadlines.put(s.now + DOUBT_NS, Due.DOUBT_OVER, contact.identity)
    if standing == Standing.OLD_NOW:
        contact.comes_old, contact.old_ns = True, s.now
        over_ns = s.now + gap_after_ns(contact.interval_s)
        s.deadlines.put(over_ns, Due.DOUBT_OVER, contact.identity)
        # It is there and could obey an order, alone or beside another: it must not miss one.
        hear_unproven(s, contact, packet)
