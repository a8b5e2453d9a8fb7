"""Doubts that are told together: one alarm line for all packs of which the same is to be said.

Old frames of any number of packs can be played, and strangers made up, by whoever likes; so what
they raise never costs more than one line, with a count and names. One more of them asks for
attention again, at most once a minute.
"""

from monitor.incident.air.shown import SECOND_NS
from monitor.incident.alarms.catalogue import Kind
from monitor.incident.alarms.engine import Alarm, Key
from monitor.incident.contact import Contact
from monitor.incident.situation import Situation, Together
from monitor.incident.wearer import Wearer

AGAIN_NS = 60 * SECOND_NS
"""One more pack makes a line wait anew only after so long: a player of recordings sets the pace."""
NAMES_MAX = 8
"""Packs named in one line."""


def review_together(s: Situation, contact: Contact) -> None:
    """Put this pack among those that share an alarm, or take it out."""
    strange = contact.distress_doubt_ns is not None and not contact.wearer
    conditions = {
        Kind.SAME_IDENTITY: contact.clash and contact.rivals,
        Kind.COUNTER_LOST: contact.clash and not contact.rivals,
        Kind.STRANGERS: strange,
    }
    for kind, holds in conditions.items():
        _review(s, kind, contact, holds=holds)


def _review(s: Situation, kind: Kind, contact: Contact, *, holds: bool) -> None:
    group = s.together.get(kind)
    before = group.packs.get(contact.identity) if group else None
    if before == (contact.wearer if holds else None):
        return
    if group is None:
        group = s.together[kind] = Together()
    group.wearers.pop(before or 0, None)
    if holds:
        group.packs[contact.identity] = contact.wearer
        if contact.wearer:
            group.wearers[contact.wearer] = None
    else:
        del group.packs[contact.identity]
    alarm = s.engine.by_key.get(Key(kind))
    more = holds and before is None and alarm is not None
    joined = more and alarm is not None and s.now - alarm.waiting_ns >= AGAIN_NS
    s.engine.put(
        Key(kind), s.now, condition=bool(group.packs), wearers=group.wearers, joined=joined
    )


def only_one(s: Situation, alarm: Alarm) -> Wearer | None:
    """The wearer whom such an alarm is about, if it is about one pack."""
    group = s.together.get(alarm.key.kind)
    if group is None or alarm.key != Key(alarm.key.kind) or len(group.packs) != 1:
        return None
    return s.wearers.get(next(iter(group.packs.values())))


def group_of(s: Situation, alarm: Alarm) -> str:
    """Whom such an alarm is about, for its line; empty for any other alarm."""
    group = s.together.get(alarm.key.kind)
    if group is None or alarm.key != Key(alarm.key.kind):
        return ""
    return f"{len(group.packs)} packs" if len(group.packs) > 1 else _names(s, group)


def names_of(s: Situation, alarm: Alarm) -> str | None:
    """Who they are; None where the line says it."""
    group = s.together.get(alarm.key.kind)
    return _names(s, group) if group and len(group.packs) > 1 else None


def _names(s: Situation, group: Together) -> str:
    """Those who are on the board first."""
    known = [s.wearers[number].label for number in sorted(group.wearers)[:NAMES_MAX]]
    others = (f"pack {pack}" for pack, wearer in group.packs.items() if not wearer)
    for _, name in zip(range(NAMES_MAX - len(known)), others, strict=False):
        known.append(name)
    more = len(group.packs) - len(known)
    return ", ".join(known) + (f" + {more} more" if more > 0 else "")
