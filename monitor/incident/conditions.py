"""From what is known to what is an alarm: the conditions of the catalogue.

``review`` looks at one pack and its wearer and tells the engine which conditions hold now. It is
called whenever something they depend on has changed, never for a frame that says the same again.
"""

from monitor.incident.air.breathing import NEW_CYLINDER_BAR
from monitor.incident.airing import review_air
from monitor.incident.alarms.catalogue import CATALOGUE, Kind, in_scope
from monitor.incident.alarms.engine import Key
from monitor.incident.contact import Contact
from monitor.incident.deadlines import Due
from monitor.incident.gone_out import review_out
from monitor.incident.grouping import put, settle
from monitor.incident.picture import Priority
from monitor.incident.prompts import review_prompts
from monitor.incident.silence import no_link_left, review_group, review_silence
from monitor.incident.situation import Situation
from monitor.incident.together import review_together
from monitor.incident.turning import review_crew
from monitor.incident.unjoined import review_unjoined
from monitor.incident.wearer import Wear, Wearer
from protocol.packets import Motion

BATTERY_FLAT_PERCENT = 5
"""A pack at or under it may fall silent at any time: a quarter of what counts as low."""
INTERVAL_UNDER_AIR_MAX_S = 10
"""The longest report interval under air, by the packet format."""
DISK_DANGERS = frozenset({"full", "waiting", "failing", "gone"})
"""States of the disk in which the record is being lost, or soon will be."""
BASE_LOW_PERCENT, BASE_FLAT_PERCENT = 30, 10
"""The base on its battery: a caution, a danger. Half an hour and ten minutes of a usual one."""
NO_PLAYER = frozenset({"missing", "failing"})
"""States of sound in which the recorder ought to sound alarms and cannot."""


def review(s: Situation, contact: Contact | None, wearer: Wearer | None) -> None:
    """Tell the engine every condition of this pack and wearer. Either may be missing."""
    if contact is not None:
        _review_pack(s, contact, wearer)
    if wearer is not None:
        _review_wearer(s, contact, wearer)
    watch_insisting(s)


def review_contact(s: Situation, contact: Contact) -> None:
    """Look at a pack, and at its wearer if it has one."""
    review(s, contact, s.wearer_of(contact))


def review_wearer(s: Situation, wearer: Wearer) -> None:
    """Look at a wearer, and at the pack if there is one."""
    review(s, s.contact_of(wearer), wearer)


def key(kind: Kind, contact: Contact | None, wearer: Wearer | None) -> Key:
    """The alarm of this kind: the wearer's, or the pack's if nobody has it."""
    if wearer is not None:
        return Key(kind, wearer=wearer.number)
    return Key(kind, pack=contact.identity if contact else 0)


def watch_insisting(s: Situation) -> None:
    """Put in a deadline for each danger that waits for the officer, and each off-delay."""
    for number in s.engine.ending:
        ends = s.engine.ends_at_ns(number)
        if ends is not None:
            s.deadlines.put(ends, Due.OFF_DELAY, number)
    s.engine.ending.clear()
    for number in s.engine.waiting:
        due = s.engine.insist_at_ns(number)
        if due is not None:
            s.deadlines.put(due, Due.INSIST, number)
    s.engine.waiting.clear()


# ---------------------------------------------------------------- of the wearer


def _review_wearer(s: Situation, contact: Contact | None, wearer: Wearer) -> None:
    wear = wearer.live_wear
    _review_motion(s, contact, wearer)
    _review_low_air(s, contact, wearer, wear)
    signed_off = contact is not None and contact.signed_off
    put(s, Kind.PACK_OFF, wearer, condition=signed_off)
    put(s, Kind.NOT_ON_AIR, wearer, condition=contact is not None and contact.in_use)
    if wearer.under_air or contact is None:
        settle(s, Kind.NOT_ON_AIR, wearer)
    review_out(s, contact, wearer)
    review_air(s, contact, wearer)
    projected = _projected(wear)
    review_silence(s, contact, wearer)
    if _projected(wear) != projected:
        review_crew(s, wearer)
    review_prompts(s, contact, wearer)


def breathes(contact: Contact | None, wearer: Wearer) -> bool:
    """Whether this wearer breathes from the set: noted so, or the air in it is used."""
    return wearer.under_air or (contact is not None and contact.in_use)


def _projected(wear: Wear | None) -> tuple[bool, ...]:
    """What the falling estimate has reached."""
    if wear is None:
        return False, False, False
    return wear.projected_turn, wear.projected_low, wear.projected_soon


def _review_motion(s: Situation, contact: Contact | None, wearer: Wearer) -> None:
    motion = contact.motion() if contact else Motion.UNKNOWN
    silent = contact is not None and contact.still_and_silent
    s.engine.put(
        Key(Kind.MOTION_ALARM, wearer=wearer.number),
        s.now,
        condition=motion is Motion.ALARM and breathes(contact, wearer),
    )
    put(s, Kind.STILL_THEN_SILENT, wearer, condition=silent)
    pre_alarm = motion is Motion.PRE_ALARM and not silent
    wear = wearer.live_wear
    worse = None
    if wear is not None:
        begun = motion is Motion.PRE_ALARM and in_scope(Kind.PRE_ALARM, wearer.phase)
        begins = begun and not wear.in_pre_alarm
        wear.in_pre_alarm = begun
        if begins:
            wear.count_pre_alarm(s.now)
        if wear.too_many_pre_alarms():
            worse = Priority.CAUTION
    worse_now = silent or motion is Motion.ALARM  # an alarm of its own has taken its place
    put(s, Kind.PRE_ALARM, wearer, worse, condition=pre_alarm, at_once=worse_now)


def _review_low_air(
    s: Situation, contact: Contact | None, wearer: Wearer, wear: Wear | None
) -> None:
    reading = s.reading(wearer, contact)
    low_bar = s.cylinder(wearer, contact).low_air_bar
    flag = contact is not None and contact.report is not None and contact.report.low_air
    at_or_under = reading is not None and low_bar is not None and reading.bar <= low_bar
    if wear is not None:
        if flag or at_or_under:
            wear.low_air = True
            told_ns = contact.report_ns if contact is not None else s.now
            wear.low_by_flag = not at_or_under and told_ns > wear.cylinder_ns
        elif reading is not None and low_bar is not None:
            wear.low_air = wear.low_air and reading.bar < low_bar + NEW_CYLINDER_BAR
        elif contact is not None and contact.report is not None:
            # Only the pack's own flag could tell, and it is down.
            wear.low_air = False
        if not wear.low_air:
            wear.low_ns = None
        elif wear.low_ns is None:
            wear.low_ns = s.now
    low = (flag or at_or_under) if wear is None else wear.low_air
    breathing = breathes(contact, wearer)
    # A pressure that has risen is a new cylinder's; a flag that has dropped may come again.
    at_once = not breathing or (wear is not None and not wear.low_by_flag)
    s.engine.put(
        Key(Kind.LOW_AIR, wearer=wearer.number),
        s.now,
        condition=low and breathing,
        at_once=at_once,
    )


# ---------------------------------------------------------------- of the pack


def _review_pack(s: Situation, contact: Contact, wearer: Wearer | None) -> None:
    report = contact.report
    low = s.procedure.battery_low_percent
    battery = report.battery_percent if report and not contact.signed_off else None
    flat = wearer is not None and _is_flat(s, wearer, battery)
    conditions = {
        Kind.DISTRESS: report is not None and report.distress,
        # One line for one battery: the more urgent takes the place of the other.
        Kind.BATTERY_LOW: not flat
        and _at_or_under(s, key(Kind.BATTERY_LOW, contact, wearer), battery, low),
    }
    for kind, holds in conditions.items():
        s.engine.put(key(kind, contact, wearer), s.now, condition=holds)
    if wearer is None:
        unproven = Key(Kind.NOT_PROVEN, pack=contact.identity)
        s.engine.put(unproven, s.now, condition=contact.unproven_long)
    else:
        put(s, Kind.NOT_PROVEN, wearer, condition=contact.unproven_long)
        put(s, Kind.BATTERY_FLAT, wearer, condition=flat)
        seldom = contact.interval_s > INTERVAL_UNDER_AIR_MAX_S and not contact.signed_off
        put(s, Kind.SLOW_REPORTS, wearer, condition=seldom)
    review_together(s, contact)
    if wearer is not None:
        put(s, Kind.RESTARTING, wearer, condition=contact.restarting)
        put(s, Kind.CLOCK_WRONG, wearer, condition=contact.clock_ppm != 0)
    review_unjoined(s, contact)


def _is_flat(s: Situation, wearer: Wearer, percent: float | None) -> bool:
    """Whether a pack may fall silent at any time, and its wearer is where that counts."""
    flat = Key(Kind.BATTERY_FLAT, wearer=wearer.number)
    inside = in_scope(Kind.BATTERY_FLAT, wearer.phase)
    return inside and _at_or_under(s, flat, percent, BATTERY_FLAT_PERCENT)


def _at_or_under(s: Situation, of: Key, value: float | None, limit: float) -> bool:
    """Whether this value is one to alarm; once it is, until it is over the limit by a dead band."""
    if value is None or value <= limit:
        return value is not None
    alarm = s.engine.by_key.get(of)
    holds = alarm is not None and alarm.condition
    return holds and value <= limit + CATALOGUE[of.kind].dead_band


# ---------------------------------------------------------------- of the base


def review_base(s: Situation) -> None:
    """Tell the engine the conditions of links, disk and authentication."""
    none_left = no_link_left(s)
    for number, link in s.links.items():
        # One that a new recorder cannot have is no cable that was just pulled: nobody saw it go.
        worse = Priority.DANGER if none_left or link.name in s.heard_before else None
        s.engine.put(Key(Kind.RECEIVER_DOWN, link=number), s.now, worse, condition=not link.up)
    bad_disk = s.disk.state in DISK_DANGERS
    disk_worse = Priority.DANGER if bad_disk else None
    s.engine.put(Key(Kind.DISK), s.now, disk_worse, condition=s.disk.state != "ok")
    no_player = s.sound is not None and s.sound.state in NO_PLAYER
    s.engine.put(Key(Kind.SOUND), s.now, condition=no_player)
    s.engine.put(Key(Kind.BASE_POWER), s.now, _power_is(s), condition=_on_battery(s))
    no_keys = s.setup is not None and bool(s.setup.key_fault)
    s.engine.put(Key(Kind.KEYS_LOST), s.now, condition=no_keys)
    s.engine.put(Key(Kind.PACKETS_LOST), s.now, condition=s.listening.lost_ns is not None)
    s.engine.put(Key(Kind.FOREIGN_FRAMES), s.now, condition=s.foreign_ns is not None)
    for wearer in s.wearers.values():
        review_silence(s, s.contact_of(wearer), wearer)
    review_group(s, settled=True)
    watch_insisting(s)


def _on_battery(s: Situation) -> bool:
    return s.power is not None and s.power.state == "battery"


def _power_is(s: Situation) -> Priority | None:
    """How urgent it is that the base runs on its battery."""
    percent = s.power.percent if s.power is not None else None
    if percent is None or percent > BASE_LOW_PERCENT:
        return None
    return Priority.CAUTION if percent > BASE_FLAT_PERCENT else Priority.DANGER


def review_watched(s: Situation) -> None:
    """Tell the engine whether somebody is under air with no board to show it."""
    alone = not s.watched and any(wearer.under_air for wearer in s.wearers.values())
    s.engine.put(Key(Kind.NO_BOARD), s.now, condition=alone)
