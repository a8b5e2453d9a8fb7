"""The rule behind an alarm, in words and with its figures: what stands under its line."""

from collections.abc import Callable

from monitor.incident import grouping, wording
from monitor.incident.air.shown import SECOND_NS
from monitor.incident.alarms.catalogue import CATALOGUE, Kind
from monitor.incident.alarms.engine import Alarm
from monitor.incident.contact import Contact
from monitor.incident.orders import alarming
from monitor.incident.picture import Phase
from monitor.incident.prompts import third_due_ns
from monitor.incident.silence import low_of
from monitor.incident.situation import Situation
from monitor.incident.together import names_of
from monitor.incident.wearer import Wearer

NAMES_MAX = 8
"""Wearers named in one line."""
MATES_TOLD = 2
"""Mates of whom a figure each stands in one line."""


def detail_of(s: Situation, alarm: Alarm, wearer: Wearer | None, contact: Contact | None) -> str:
    """The rule with its figures; where they are not known, how such an alarm is raised."""
    kind = alarm.key.kind
    words = grouping.news(s, alarm) if grouping.is_group(alarm) else None
    if words:
        return words
    if wearer is not None or contact is not None:
        words = _of_one(s, kind, wearer, contact)
    elif kind in grouping.OF_A_CREW or kind in grouping.OF_EVERYBODY:
        words = _of_mates(s, alarm)
    if words is None and kind in _OF_BASE:
        words = _OF_BASE[kind](s, alarm)
    told = words or CATALOGUE[kind].raised
    if alarm.over_ns is None:
        return told
    ago, delay = wording.seconds(s.now - alarm.over_ns), CATALOGUE[kind].off_delay_s
    return f"{told}; over for {ago}, gone at {delay} s"


def _of_one(s: Situation, kind: Kind, wearer: Wearer | None, contact: Contact | None) -> str | None:
    """What is to be said of one wearer, or pack."""
    if wearer is not None and kind in _OF_WEARER:
        return _OF_WEARER[kind](s, wearer)
    return _OF_PACK[kind](s, contact) if contact is not None and kind in _OF_PACK else None


def _of_mates(s: Situation, alarm: Alarm) -> str | None:
    """What is to be said of all of them, or of each, as far as a line goes."""
    mates = [s.wearers[number] for number in sorted(alarm.wearers)]
    said = [(w.label, _of_one(s, alarm.key.kind, w, s.contact_of(w))) for w in mates]
    if len({words for _, words in said}) == 1:
        return said[0][1]
    return "; ".join(f"{label}: {words}" for label, words in said[:MATES_TOLD] if words)


# ---------------------------------------------------------------- of a wearer


def _low_air(s: Situation, wearer: Wearer) -> str:
    contact = s.contact_of(wearer)
    reading = s.reading(wearer, contact)
    report = contact.report if contact else None
    present = reading is not None and s.is_present(reading, contact)  # else the line has its age
    return wording.low_air_detail(
        reading.bar if reading is not None and present else None,
        s.cylinder(wearer, contact).low_air_bar,
        s.unit(wearer),
        flag=report is not None and report.low_air,
    )


def _turn_back(s: Situation, wearer: Wearer) -> str | None:
    turn = wearer.live_wear.turn if wearer.live_wear else None
    if turn is None:
        return None
    return wording.turn_back_detail(wearer.label, turn.bar, turn.why, s.unit(wearer))


def _word_ago(s: Situation, wearer: Wearer) -> str | None:
    limit = int(s.procedure.spoken_reading_valid_s)
    if wearer.wear is None:
        return None
    return f"last word {wording.seconds(s.now - wearer.wear.word_ns)} ago, limit {limit} s"


def _third(s: Situation, wearer: Wearer) -> str | None:
    due, wear = third_due_ns(s, wearer), wearer.live_wear
    if due is None or wear is None:
        return None
    return f"due {wording.minutes((due - wear.connected_ns) // SECOND_NS)} after connecting"


def _alone(s: Situation, wearer: Wearer) -> str:
    crew = s.crews.get(wearer.crew, []) if wearer.crew else [wearer]
    inside = sum(mate.phase is Phase.ENTERED for mate in crew)
    return f"{inside} of the crew inside, least {s.procedure.least_inside}"


def _rest(s: Situation, wearer: Wearer) -> str | None:
    until = wearer.rest_until_ns
    return None if until is None else f"{wording.minutes_left(until - s.now)} to go"


def _breathes(s: Situation, wearer: Wearer) -> str:
    ago = wording.minutes((s.now - wearer.phase_ns) // SECOND_NS)
    noted = "off air" if wearer.phase is Phase.OFF_AIR else "out"
    return f"noted {noted} {ago} ago, and air is used: in again, or never out?"


def _silent_for(s: Situation, wearer: Wearer) -> str | None:
    wear = wearer.live_wear
    if wear is None or wear.entered_ns is None:
        return None
    last = max(wear.entered_ns, wear.voice_ns or 0)
    return f"nothing noted of what they said for {wording.minutes((s.now - last) // SECOND_NS)}"


def _not_noted(s: Situation, wearer: Wearer) -> str | None:
    """What is to be asked beside an alarm of somebody who is not noted as inside."""
    ago = wording.minutes((s.now - wearer.phase_ns) // SECOND_NS)
    if wearer.phase is Phase.ON_AIR:
        return f"on air {ago}, not noted in: inside?"
    if wearer.phase is Phase.OUT:
        return f"noted out {ago} ago: inside again?"
    return None if wearer.under_air else "not noted on air: inside?"


_OF_WEARER: dict[Kind, Callable[[Situation, Wearer], str | None]] = {
    Kind.LOW_AIR: lambda s, wearer: "; ".join(
        filter(None, (_low_air(s, wearer), _not_noted(s, wearer)))
    ),
    Kind.TURN_BACK: _turn_back,
    Kind.TURN_SOON: _turn_back,
    Kind.GAUGE: lambda _s, wearer: wearer.live_wear.gauge_doubt if wearer.live_wear else None,
    Kind.OUT_BREATHES: _breathes,
    Kind.RADIO_CHECK: _silent_for,
    Kind.NO_WORD: _word_ago,
    Kind.GAUGE_DUE: _word_ago,
    Kind.THIRDS: _third,
    Kind.PRE_ALARM: lambda _s, wearer: (
        f"number {wearer.wear.pre_alarms} in this wear" if wearer.wear else None
    ),
    Kind.ALONE: _alone,
    Kind.REST: _rest,
    Kind.ORDER_UNANSWERED: alarming.unanswered_words,
    Kind.ORDER_NOT_OUT: alarming.not_out_words,
}


# ---------------------------------------------------------------- of a pack


def _still(s: Situation, contact: Contact) -> str:
    if not contact.still_and_silent:
        return wording.STILL_HEARD
    return f"silent {wording.seconds(s.silent_ns(contact))} after a motion pre-alarm"


def _clock(_s: Situation, contact: Contact) -> str | None:
    ppm = contact.clock_ppm
    return f"at least {abs(ppm) / 10_000:.2f} % {'slow' if ppm > 0 else 'fast'}" if ppm else None


def _late(_s: Situation, contact: Contact) -> str:
    if contact.clock_ppm > 0:
        return "its clock is slow, and it hears no beacon"
    return "held up on its way, or its clock is slow and it hears no beacon"


_OF_PACK: dict[Kind, Callable[[Situation, Contact], str | None]] = {
    Kind.NO_SIGNAL: lambda s, contact: wording.silence_detail(
        s.silent_ns(contact), s.link_rule(contact).limit_ns
    ),
    Kind.STILL_THEN_SILENT: _still,
    Kind.CLOCK_WRONG: _clock,
    Kind.HELD_BACK: _late,
    Kind.IN_USE: lambda _s, contact: (
        "its air is used" if contact.still_ns is None else "its motion warning goes on"
    ),
    Kind.SLOW_REPORTS: lambda _s, contact: f"a report each {contact.interval_s} s, at most 10 s",
    Kind.BATTERY_FLAT: lambda _s, contact: (
        f"{contact.report.battery_percent} %" if contact.report else None
    ),
    Kind.BATTERY_LOW: lambda _s, contact: (
        f"{contact.report.battery_percent} %" if contact.report else None
    ),
}


# ---------------------------------------------------------------- of the base


def _names(s: Situation, alarm: Alarm) -> str:
    """Who is silent; first whose air is low; of one that was taken, who has joined it since."""
    silent = sorted(alarm.wearers)
    low = low_of(s, silent)
    if low:
        return f"air low by estimate, {len(low)}: {_labels(s, low)}"
    new = [number for number in silent if number not in alarm.known]
    if alarm.known and new:
        return f"{len(new)} new: {_labels(s, new)}"
    return _labels(s, silent)


def _labels(s: Situation, numbers: list[int]) -> str:
    return ", ".join(s.wearers[number].label for number in numbers[:NAMES_MAX])


def _receiver(s: Situation, alarm: Alarm) -> str | None:
    """What is wrong with a link, and how many are left: by another one packs are still heard."""
    link = s.links.get(alarm.key.link)
    if link is None or link.up:
        return None
    left = sum(other.up for other in s.links.values())
    others = f"{left} of {len(s.links)} links left" if left else "no link is left: nobody is heard"
    return f"{link.detail}; {others}" if link.detail else others


def _power(s: Situation, _alarm: Alarm) -> str | None:
    if s.power is None:
        return None
    since = f"on battery for {wording.minutes((s.now - s.battery_ns) // SECOND_NS)}"
    return since if s.power.percent is None else f"{s.power.percent} %, {since}"


def held_back(alarm: Alarm) -> str:
    """How long word of a call was on its way; empty: it came at once. It stays true once over."""
    late_ns = alarm.waiting_ns - alarm.raised_ns
    if alarm.key.kind not in _MAY_BE_HELD or late_ns < SECOND_NS:
        return ""
    return f"held back {wording.seconds(late_ns)} on its way, by the pack's own clock"


def _call(s: Situation, alarm: Alarm, by: str) -> str:
    """How a call came to be known late, and what is to be asked; ``by``: what it was told by."""
    wearer, held = s.wearers.get(alarm.key.wearer), held_back(alarm)
    asked = None if wearer is None else _not_noted(s, wearer)
    return "; ".join(filter(None, (held or by, asked))) if asked else held


_MAY_BE_HELD = frozenset({Kind.DISTRESS, Kind.MOTION_ALARM})
_OF_BASE: dict[Kind, Callable[[Situation, Alarm], str | None]] = {
    Kind.DISTRESS: lambda s, alarm: _call(s, alarm, "the button"),
    Kind.MOTION_ALARM: lambda s, alarm: _call(s, alarm, ""),
    Kind.SEVERAL_SILENT: _names,
    Kind.RECEIVER_DOWN: _receiver,
    Kind.BASE_POWER: _power,
    Kind.KEYS_LOST: lambda s, _alarm: s.setup.key_fault if s.setup else None,
    Kind.PACKETS_LOST: lambda s, _alarm: ", ".join(
        f"{link.name}: {link.lost}" for link in s.links.values() if link.lost
    ),
    Kind.CREW_SILENT: _names,
    Kind.SAME_IDENTITY: names_of,
    Kind.COUNTER_LOST: names_of,
    Kind.STRANGERS: names_of,
    Kind.UNPROVEN_DISTRESS: names_of,
    Kind.DISK: lambda s, _alarm: s.disk.detail,
    Kind.SOUND: lambda s, _alarm: s.sound.detail if s.sound else None,
    Kind.NO_STANDBY: lambda s, _alarm: f"{s.staffing.inside} inside",
}
