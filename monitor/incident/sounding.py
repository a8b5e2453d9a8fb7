"""What is to be heard at an instant: a few words on the alarms that wait for the officer."""

from monitor.incident.alarms.engine import INSIST_AFTER_NS
from monitor.incident.picture import Priority, Sounding
from monitor.incident.situation import Situation


def sounding(s: Situation) -> Sounding:
    """Say what waits, as far as it sounds: an alarm that is over waits in its line, quietly."""
    if s.closed:
        return Sounding()
    newest: dict[Priority, int] = {}
    insistent = False
    for alarm in s.engine.by_key.values():
        if alarm.waits and alarm.counts:
            said_ns = alarm.insist_ns - INSIST_AFTER_NS
            newest[alarm.priority] = max(newest.get(alarm.priority, said_ns), said_ns)
            insistent |= alarm.insisted
    return Sounding(
        danger_ns=newest.get(Priority.DANGER),
        caution_ns=newest.get(Priority.CAUTION),
        insistent=insistent,
        silenced_ns=_silenced_ns(s),
        evacuate_ns=max(
            (o.given_ns for o in s.orders.open() if o.given.order == "evacuate"), default=None
        ),
    )


def _silenced_ns(s: Situation) -> int:
    """How long the silence still lasts; a danger that came after it was asked for has ended it."""
    if s.engine.new_danger_ns >= s.silenced_ns:
        return 0
    return max(0, s.silenced_until_ns - s.now)
