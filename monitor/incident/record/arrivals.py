"""Who of a roster is here. A roster says who may come, with which set; it checks nobody in.

Whoever is on a roster counts as nobody at the door, standing by included, until their pack is heard
live or the officer says so.
"""

from monitor.incident.picture import Phase
from monitor.incident.record.events import Arrive
from monitor.incident.situation import Situation
from monitor.incident.staffing import review_staffing
from monitor.incident.wearer import Wearer


def is_here(s: Situation, wearer: Wearer) -> None:
    """Check in somebody of a roster who has been waited for; whoever is further on stays there."""
    if wearer.phase is Phase.LISTED and wearer.set_known:
        wearer.step_to(Phase.CHECKED_IN)
        wearer.phase_ns = s.now
        review_staffing(s, wearer)


def arrive(s: Situation, act: Arrive) -> None:
    """Check them in with the sets that the roster gives them."""
    for number in act.wearers:
        is_here(s, s.wearers[number])


def why_not_arrive(s: Situation, act: Arrive, _t: int) -> str | None:
    """Only whoever is not here yet, and has a set."""
    for number in act.wearers:
        wearer = s.wearers[number]
        if wearer.phase is not Phase.LISTED:
            return f"{wearer.label} is here already."
        if not wearer.set_known:
            return f"{wearer.label} has no set: check them in with a pack, or none."
    return None
