"""What is due by the clock: thirds, a gauge check, being back, a rest, a set left on. Notices.

After one and two thirds of the planned time a crew is told to mind its gauges, once for the crew:
the notice stands at its leader, until anybody of it has given a reading by voice since.

A gauge check is asked of those whom no pack tells of: with telemetry the reading is there. Only
where the procedure wants checks more often than a reading by voice stands; later there is no word.
"""

from monitor.incident.air import planned
from monitor.incident.air.shown import SECOND_NS
from monitor.incident.alarms.catalogue import Kind
from monitor.incident.alarms.engine import Key
from monitor.incident.contact import Contact
from monitor.incident.deadlines import Due
from monitor.incident.grouping import put, share
from monitor.incident.picture import Phase
from monitor.incident.situation import Situation
from monitor.incident.wearer import Wearer

MOTION_UNSEEN_NS = 300 * SECOND_NS
"""Inside with a motion sensor that says nothing for so long, it is told (common practice)."""
LEFT_ON_NS = 600 * SECOND_NS
"""A set that is still on so long after its wearer went off air (our own choice)."""


def review_prompts(s: Situation, contact: Contact | None, wearer: Wearer) -> None:
    """Tell the engine what is due for this wearer, and look again at the next such time."""
    times = {
        Kind.GAUGE_DUE: _gauge_due_ns(s, contact, wearer),
        Kind.THIRDS: third_due_ns(s, wearer),
        Kind.LEFT_ON: _left_on_ns(contact, wearer),
        Kind.MOTION_UNSEEN: _motion_unseen_ns(contact, wearer),
        Kind.RADIO_CHECK: _radio_check_ns(s, contact, wearer),
    }
    for kind, due in times.items():
        put(s, kind, wearer, condition=due is not None and due <= s.now)
    review_back(s, wearer)
    rests_until = wearer.rest_until_ns
    put(s, Kind.REST, wearer, condition=rests_until is not None and s.now < rests_until)
    waited_for = (*times.values(), _back_due_ns(wearer), rests_until)
    coming = [t for t in waited_for if t is not None and t > s.now]
    wearer.prompt_ns = min(coming, default=None)
    if wearer.prompt_ns is not None:
        s.deadlines.put(wearer.prompt_ns, Due.PROMPT, wearer.number)
    if s.procedure.prompts == "thirds" or s.procedure.radio_check_s is not None:
        speaks = _speaks_for_crew(s, wearer)
        if speaks is not None and speaks is not wearer:
            review_prompts(s, s.contact_of(speaks), speaks)


def review_back(s: Situation, wearer: Wearer) -> None:
    """Remind of a crew that ought to be back: its way out has lasted as long as its way in."""
    _review_back(s, wearer.crew, wearer, _crew(s, wearer))


def review_back_left(s: Situation, name: str, left: Wearer) -> None:
    """The same for the crew that a wearer has left; an empty name: the wearer was in none."""
    _review_back(s, name, left, s.crews.get(name, []) if name else [])


def _review_back(s: Situation, name: str, wearer: Wearer, crew: list[Wearer]) -> None:
    due = [w.number for w in crew if (t := _back_due_ns(w)) is not None and t <= s.now]
    own = Key(Kind.BACK_DUE, crew=name) if name else Key(Kind.BACK_DUE, wearer=wearer.number)
    share(s, Key(Kind.BACK_DUE), own, due, holds=bool(due))


def _back_due_ns(wearer: Wearer) -> int | None:
    wear = wearer.live_wear
    if wear is None or wearer.phase is not Phase.ENTERED:
        return None
    if wear.back_ns is None or wear.entered_ns is None:
        return None
    arrived_ns = wear.back_ns if wear.objective_ns is None else wear.objective_ns
    return wear.back_ns + max(0, arrived_ns - wear.entered_ns)


def rest_begins(s: Situation, wearer: Wearer, off_ns: int) -> None:
    """Off air: count the wear, and how long this wearer is to rest by the procedure."""
    wearer.wears += 1
    if wearer.wears >= s.procedure.rest_after_wears:
        wearer.rest_until_ns = off_ns + _rest_ns(s)


def rest_ends(s: Situation, wearer: Wearer, connected_ns: int) -> None:
    """Connecting again: a rest that was long enough begins the count anew."""
    before = wearer.wear.off_ns if wearer.wear else None
    if before is None or connected_ns - before >= _rest_ns(s):
        wearer.wears = 0


def _rest_ns(s: Situation) -> int:
    return int(s.procedure.least_rest_s * SECOND_NS)


def _gauge_due_ns(s: Situation, contact: Contact | None, wearer: Wearer) -> int | None:
    wear, check_s = wearer.live_wear, s.procedure.gauge_check_s
    told = contact is not None and not contact.signed_off
    if wear is None or wear.word_due or told or check_s is None:
        return None
    if check_s >= s.procedure.spoken_reading_valid_s:
        return None
    return wear.word_ns + int(check_s * SECOND_NS)


def _motion_unseen_ns(contact: Contact | None, wearer: Wearer) -> int | None:
    entered_ns = wearer.live_wear.entered_ns if wearer.live_wear else None
    if contact is None or contact.no_motion_ns is None or entered_ns is None or contact.signed_off:
        return None
    return max(contact.no_motion_ns, entered_ns) + MOTION_UNSEEN_NS


def _radio_check_ns(s: Situation, contact: Contact | None, wearer: Wearer) -> int | None:
    """When a crew whose packs are heard is to be called; None: no rule, or it is called anyway.

    Anything counts that only a word of theirs can have told, of any of the crew who is inside.
    """
    check_s = s.procedure.radio_check_s
    heard = contact is not None and not contact.signed_off and not contact.lost
    if check_s is None or not heard or _speaks_for_crew(s, wearer) is not wearer:
        return None
    wears = [w.live_wear for w in _crew(s, wearer) if w.live_wear and w.phase is Phase.ENTERED]
    last = [t for wear in wears for t in (wear.entered_ns, wear.voice_ns) if t is not None]
    return max(last) + int(check_s * SECOND_NS) if last else None


def third_due_ns(s: Situation, wearer: Wearer) -> int | None:
    """The third of the planned time that nobody of the crew has answered yet; None: none."""
    wear = wearer.live_wear
    if s.procedure.prompts != "thirds" or wear is None or wear.start_bar is None:
        return None
    if wearer.phase is Phase.OUT or _speaks_for_crew(s, wearer) is not wearer:
        return None
    plan = planned.plan(wear.start_bar, s.cylinder(wearer, s.contact_of(wearer)), s.procedure)
    if plan is None:
        return None
    spoke = [w.live_wear.spoke_ns for w in _crew(s, wearer) if w.live_wear]
    last = max((t for t in spoke if t is not None), default=-1)
    thirds = (wear.cylinder_ns + at * SECOND_NS for at in planned.thirds_s(plan.working_s))
    return next((t for t in thirds if last < t), None)


def _crew(s: Situation, wearer: Wearer) -> list[Wearer]:
    return s.crews.get(wearer.crew, []) if wearer.crew else [wearer]


def _speaks_for_crew(s: Situation, wearer: Wearer) -> Wearer | None:
    """The leader if under air, else the first who is; None: nobody of the crew is."""
    on_air = [w for w in _crew(s, wearer) if w.live_wear is not None]
    return min(on_air, key=lambda w: (not w.leader, w.number), default=None)


def _left_on_ns(contact: Contact | None, wearer: Wearer) -> int | None:
    wear = wearer.wear
    on = contact is not None and not contact.signed_off and not contact.lost
    if wearer.phase is not Phase.OFF_AIR or wear is None or wear.off_ns is None or not on:
        return None
    return wear.off_ns + LEFT_ON_NS
