"""Whether somebody is in a pack and the board knows of no use of it.

It belongs to nobody on the board, or it is not noted of its wearer that they have connected. Its
air is used at a rate at which people breathe, or its motion warning goes on for longer than
anybody tests it; at the door that is no sign, since who waits there stands still. Faster is a set
being bled, or the test of its air warning; slower is a set that cools. A distress needs none of
this: it is an alarm of its own, whoever has the pack.
"""

from monitor.incident.air.shown import SECOND_NS
from monitor.incident.alarms.catalogue import Kind
from monitor.incident.alarms.engine import Key
from monitor.incident.contact import Contact
from monitor.incident.deadlines import Due
from monitor.incident.picture import Phase
from monitor.incident.situation import Situation
from protocol.packets import Motion

ARMING_DBAR = 20
"""A fall by so much begins a measurement, a rise by so much ends it: gauges flicker by 1 bar."""
FALL_DBAR = 50
"""The fall that is then measured."""
SLOWEST_DBAR_S = 20 / 60
"""Somebody at rest: 20 L/min out of 10 L of water volume; a set that cools loses half of that."""
FASTEST_DBAR_S = 5.0
"""Over 200 L/min out of 6.8 L; a set being bled loses ten times that."""
EMPTY_DBAR = 200
"""Under this the last of a bled set looks like breathing, and nobody goes in with so little."""
STILL_NS = 30 * SECOND_NS
"""A motion warning that is tried is off again by then."""
_STILL = frozenset({Motion.PRE_ALARM, Motion.ALARM})
_NOT_ON_AIR = frozenset({Phase.CHECKED_IN, Phase.OFF_AIR})
"""Phases in which nobody is thought to breathe from the set."""


def review_unjoined(s: Situation, contact: Contact) -> None:
    """Tell the engine whether somebody uses this pack of whom the board knows no use."""
    wearer = s.wearer_of(contact)
    counts = wearer is None or wearer.phase in _NOT_ON_AIR
    phase = wearer.phase.value if wearer else ""
    same = (contact.measured_for, contact.measured_in) == (contact.wearer, phase)
    if not counts or contact.signed_off or not same:
        came = contact.measured_for == 0 and not contact.signed_off  # it was nobody's until now
        contact.measured_for, contact.measured_in = contact.wearer, phase
        contact.in_use = False
        contact.still_ns = contact.fall_from_dbar = contact.fall_ns = None
        if not (counts and came):
            contact.breathes_ns = None
    if counts and not contact.signed_off:
        if wearer is None:
            _watch_motion(s, contact)
        _watch_pressure(s, contact)
    nobodys = contact.in_use and wearer is None
    in_use = Key(Kind.IN_USE, pack=contact.identity)
    s.engine.put(in_use, s.now, condition=nobodys)
    if wearer is not None:
        s.engine.settle(in_use, s.now)


def still_due_ns(contact: Contact) -> int | None:
    """When a motion warning on this pack has gone on for too long; None if there is none."""
    return None if contact.still_ns is None else contact.still_ns + STILL_NS


def is_breathing(dbar_s: float, dbar: int) -> bool:
    """Whether somebody breathes: a gauge that has fallen at this rate, to this pressure."""
    return SLOWEST_DBAR_S <= dbar_s <= FASTEST_DBAR_S and dbar > EMPTY_DBAR


def breathed_since(contact: Contact, now: int) -> int | None:
    """Since when somebody breathes from it, as its pressure has said until now; None: nobody."""
    goes_on = now - contact.used_ns <= FALL_DBAR / SLOWEST_DBAR_S * SECOND_NS
    return contact.breathes_ns if goes_on else None


def _watch_motion(s: Situation, contact: Contact) -> None:
    if contact.motion() not in _STILL:
        contact.still_ns = None
    elif contact.still_ns is None:
        contact.still_ns = s.now
        s.deadlines.put(s.now + STILL_NS, Due.UNJOINED_STILL, contact.identity)
    elif s.now - contact.still_ns >= STILL_NS:
        contact.in_use = True


def _watch_pressure(s: Situation, contact: Contact) -> None:
    """Measure how fast the pressure falls, and say which pressures need another look."""
    dbar = contact.pressure_dbar
    if dbar is None:
        return
    begin, since = contact.fall_from_dbar, contact.fall_ns
    if begin is None or dbar > begin + (0 if since is None else ARMING_DBAR):
        begin, since = dbar, None
    elif since is None and dbar <= begin - ARMING_DBAR:
        begin, since = dbar, s.now
    elif since is not None and dbar <= begin - FALL_DBAR:
        rate = (begin - dbar) * SECOND_NS / max(s.now - since, 1)
        if is_breathing(rate, dbar):
            contact.in_use = True
            contact.breathes_ns = breathed_since(contact, s.now) or since
            contact.used_ns = s.now
        else:
            contact.breathes_ns = None
        begin, since = dbar, s.now
    contact.fall_from_dbar, contact.fall_ns = begin, since
    contact.look_at_or_under_dbar = begin - (ARMING_DBAR if since is None else FALL_DBAR)
    contact.look_at_or_over_dbar = begin + 1 + (0 if since is None else ARMING_DBAR)
