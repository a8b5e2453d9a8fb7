"""Alarms that the officer has put aside for a time (shelving, in the words of ISA-18.2).

Never a danger, and nothing that may stand for one: the catalogue says what may be. It ends by
itself: at its time, when it becomes a danger, when its wearer goes off air or changes packs. What
is put aside has no line and no sound, so the list of it is always in view.
"""

from monitor.incident import events
from monitor.incident.air.shown import SECOND_NS
from monitor.incident.alarms.catalogue import CATALOGUE
from monitor.incident.alarms.engine import Aside
from monitor.incident.deadlines import Due
from monitor.incident.picture import Priority
from monitor.incident.situation import Situation

MINUTE_NS = 60 * SECOND_NS


def why_not_put_aside(s: Situation, act: events.PutAside, _t: int) -> str | None:
    """Why this alarm cannot be put aside; None if it can."""
    alarm = s.engine.by_number.get(act.alarm)
    if alarm is None:
        return f"There is no alarm {act.alarm} any more."
    if alarm.aside is not None:
        return f"Alarm {act.alarm} is put aside already."
    if alarm.priority is Priority.DANGER:
        return "A danger is never put aside."
    if not alarm.may_be_put_aside:
        return f"{CATALOGUE[alarm.key.kind].word.capitalize()} is never put aside."
    entry = CATALOGUE[alarm.key.kind]
    if act.minutes > entry.aside_minutes:
        return f"{entry.word.capitalize()} is put aside for {entry.aside_minutes} min at most."
    if act.seen_ns is not None and alarm.waits and alarm.waiting_ns > act.seen_ns:
        return f"Alarm {act.alarm} came again after what was on the screen."
    return None


def put_aside(s: Situation, act: events.PutAside) -> None:
    """Put it aside, and see to it that it comes back."""
    until_ns = s.now + act.minutes * MINUTE_NS
    s.engine.put_aside(act.alarm, Aside(until_ns, act.by, act.reason), s.now)
    s.deadlines.put(until_ns, Due.ASIDE_OVER, act.alarm)


def why_not_take_back(s: Situation, act: events.TakeBack, _t: int) -> str | None:
    """Why this alarm cannot be taken back; None if it can."""
    alarm = s.engine.by_number.get(act.alarm)
    if alarm is None or alarm.aside is None:
        return f"Alarm {act.alarm} is not put aside."
    return None


def take_back(s: Situation, act: events.TakeBack) -> None:
    """End it before its time."""
    s.engine.take_back(act.alarm, s.now)
