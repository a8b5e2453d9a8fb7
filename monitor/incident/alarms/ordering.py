"""The order of the alarm lines: by the ranking, and those of one crew together.

A crew is one place and one call, so among alarms that are equally urgent its lines stand below one
another, where its first stands. Each keeps its own line, number and key: who is in danger is what
counts, and a danger is taken alone. Nothing less urgent ever comes before something more urgent.
"""

from collections.abc import Callable, Iterable

from monitor.incident.alarms import over
from monitor.incident.alarms.engine import Alarm
from monitor.incident.alarms.ranking import Known, Place, place_of
from monitor.incident.picture import Priority

KnownOf = Callable[[Alarm], Known]
"""What is known of whom an alarm is about."""


def place(alarm: Alarm, known_of: KnownOf, *, taken: bool) -> Place:
    """Where an alarm stands; ``taken`` false for all of them: which is the worst."""
    return place_of(
        alarm.key.kind,
        alarm.priority,
        known_of(alarm),
        taken=taken,
        raised_ns=alarm.raised_ns,
        number=alarm.number,
    )


def lines(
    alarms: Iterable[Alarm], crew_of: Callable[[Alarm], str], known_of: KnownOf
) -> list[Alarm]:
    """The alarms that have a line, in the order of the screen; no crew is an empty name.

    One that is over and needs no reset stands where one that was taken does: nothing is left of it
    but to take it.
    """
    listed = [
        (place(alarm, known_of, taken=not (alarm.waits and alarm.counts)), alarm)
        for alarm in alarms
        if alarm.listed
    ]
    listed.sort(key=lambda placed: placed[0])
    first: dict[tuple[object, ...], int] = {}
    groups = []
    for order, (at, alarm) in enumerate(listed):
        equal = (at.about, at.priority, at.taken, at.past, at.left, at.life)
        group = (*equal, crew_of(alarm) or alarm.number)
        groups.append((first.setdefault(group, order), order, alarm))
    return [alarm for _, _, alarm in sorted(groups, key=lambda group: group[:2])]


def _is_there(alarm: Alarm) -> bool:
    """Whether it calls for something now."""
    holds = not over.is_over(alarm.key.kind, condition=alarm.condition)
    return holds and alarm.priority is not Priority.NOTICE


def worst(alarms: Iterable[Alarm], known_of: KnownOf) -> Alarm | None:
    """The one that names a wearer's state, taken or not; None if nothing holds or is latched.

    What is over, and only waits for its reset, never hides a caution or danger that is there.
    """
    counting = [alarm for alarm in alarms if alarm.counts]
    there = [alarm for alarm in counting if _is_there(alarm)]
    counting = there or counting
    if len(counting) < 2:  # noqa: PLR2004 - one has nothing to be compared with
        return next(iter(counting), None)
    return min(counting, key=lambda alarm: place(alarm, known_of, taken=False))
