"""Whoever is noted out, or off air, and whose air is used all the same.

They may have gone in again, or never have come out, or a wrong number was pressed: then no
turn-back is watched, no roll call asks for them, and off air nothing at all is told of them. Off
air nobody breathes from the set, so it is told as soon as it is measured. At the door everybody
does for a while, until they have walked from it and taken the mask off: only what is used after
that counts.
"""

from monitor.incident.air.shown import SECOND_NS
from monitor.incident.alarms.catalogue import Kind
from monitor.incident.contact import Contact
from monitor.incident.deadlines import Due
from monitor.incident.grouping import put
from monitor.incident.picture import Phase
from monitor.incident.situation import Situation
from monitor.incident.unjoined import FALL_DBAR, is_breathing
from monitor.incident.wearer import Wear, Wearer

MASK_OFF_NS = 60 * SECOND_NS
"""From being noted out until the air that is used counts."""
LOOK_NS = 120 * SECOND_NS
"""Then so often: at rest 20 L/min out of 6.8 L use 5.9 bar in it, over the 5 that are measured."""
USED_FOR_NS = 180 * SECOND_NS
"""Off air, breathing is over when none was measured for so long: 5 bar at least take 150 s."""


def review_out(s: Situation, contact: Contact | None, wearer: Wearer) -> None:
    """Tell the engine whether this wearer breathes though noted out, and when to look again."""
    wearer.out_due_ns = None
    on = contact is not None and not contact.signed_off
    breathes = False
    if contact is not None and on and wearer.phase is Phase.OFF_AIR:
        breathes = _off_air(s, contact, wearer)
    elif contact is not None and on and wearer.phase is Phase.OUT and wearer.wear is not None:
        breathes = _at_door(s, contact, wearer, wearer.wear)
    if wearer.out_due_ns is not None:
        s.deadlines.put(wearer.out_due_ns, Due.OUT_BREATHES, wearer.number)
    put(s, Kind.OUT_BREATHES, wearer, condition=breathes)


def _off_air(s: Situation, contact: Contact, wearer: Wearer) -> bool:
    if contact.in_use and contact.used_ns + USED_FOR_NS <= s.now:
        contact.in_use = False
    if contact.in_use:
        wearer.out_due_ns = contact.used_ns + USED_FOR_NS
    return contact.in_use


def _at_door(s: Situation, contact: Contact, wearer: Wearer, wear: Wear) -> bool:
    """By two looks at the pressure; while the pack is not heard the last answer stands."""
    dbar = contact.pressure_dbar
    begin_ns = wearer.phase_ns + MASK_OFF_NS
    if wear.out_look is None or wear.out_look[0] < begin_ns:
        wear.out_breathes = False
        due = begin_ns
    else:
        due = wear.out_look[0] + LOOK_NS
    if s.now >= due:
        if wear.out_look is not None and dbar is not None and due > begin_ns:
            since_ns, before = wear.out_look
            fallen = before - dbar
            rate = fallen * SECOND_NS / (s.now - since_ns)
            wear.out_breathes = fallen >= FALL_DBAR and is_breathing(rate, dbar)
        if dbar is not None:
            wear.out_look = (s.now, dbar)
        due = s.now + LOOK_NS
    wearer.out_due_ns = due
    return wear.out_breathes
