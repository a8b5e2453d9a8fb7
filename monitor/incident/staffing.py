"""Whether those inside are enough to look after one another, and somebody stands by.

Crews are noted one wearer at a time, going in and coming out, so nothing here is an alarm before a
minute has passed. Somebody stands by who is checked in or on air at the door, in a crew of which
nobody is in.
"""

from monitor.incident.air.shown import SECOND_NS
from monitor.incident.alarms.catalogue import AT_DOOR_PHASES, Kind
from monitor.incident.alarms.engine import Key
from monitor.incident.deadlines import Due
from monitor.incident.grouping import put
from monitor.incident.picture import Phase
from monitor.incident.situation import Situation
from monitor.incident.wearer import Wearer

GRACE_NS = 60 * SECOND_NS
"""Our own choice: time to note a crew at the door."""


def review_staffing(s: Situation, wearer: Wearer) -> None:
    """Tell the engine whether this wearer's crew is big enough, and whether somebody stands by."""
    crew = s.crews.get(wearer.crew, []) if wearer.crew else [wearer]
    _review(s, wearer.crew or wearer.number, crew)


def review_crew_left(s: Situation, name: str, left: Wearer) -> None:
    """The same for the crew that a wearer has left; an empty name: the wearer was in none."""
    _review(s, name or left.number, s.crews.get(name, []) if name else [])


def review_alone(s: Situation, wearer: Wearer) -> None:
    """Tell the engine whether this wearer has been in without enough mates for too long."""
    since = wearer.alone_ns
    alone = since is not None and s.now - since >= GRACE_NS
    put(s, Kind.ALONE, wearer, condition=alone)


def review_standby(s: Situation) -> None:
    """Tell the engine whether too few have stood by for too long."""
    since = s.staffing.short_ns
    short = since is not None and s.now - since >= GRACE_NS
    s.engine.put(Key(Kind.NO_STANDBY), s.now, condition=short)


def alone_due_ns(wearer: Wearer) -> int | None:
    """When being alone becomes an alarm; None if this wearer is not."""
    return None if wearer.alone_ns is None else wearer.alone_ns + GRACE_NS


def standby_due_ns(s: Situation) -> int | None:
    """When too few standing by becomes an alarm; None if there are enough."""
    return None if s.staffing.short_ns is None else s.staffing.short_ns + GRACE_NS


def _review(s: Situation, key: str | int, crew: list[Wearer]) -> None:
    inside = sum(wearer.phase is Phase.ENTERED for wearer in crew)
    at_door = sum(wearer.phase in AT_DOOR_PHASES for wearer in crew)
    small = 0 < inside < s.procedure.least_inside
    for wearer in crew:
        if not (small and wearer.phase is Phase.ENTERED):
            wearer.alone_ns = None
        elif wearer.alone_ns is None:
            wearer.alone_ns = s.now
            s.deadlines.put(s.now + GRACE_NS, Due.ALONE, wearer.number)
        review_alone(s, wearer)
    staffing = s.staffing
    staffing.note(key, inside, 0 if inside else at_door)
    if not staffing.inside or staffing.ready >= s.procedure.standby:
        staffing.short_ns = None
    elif staffing.short_ns is None:
        staffing.short_ns = s.now
        s.deadlines.put(s.now + GRACE_NS, Due.STANDBY, 0)
    review_standby(s)
