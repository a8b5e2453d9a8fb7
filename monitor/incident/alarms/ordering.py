"""The order of the alarm lines: most urgent first, and those of one crew together.

A crew is one place and one call, so among alarms that are equally urgent its lines stand below one
another, where its oldest stands. Each keeps its own line, number and key: who is in danger is what
counts, and a danger is taken alone. Nothing less urgent ever comes before something more urgent.
"""

from collections.abc import Callable, Iterable

from monitor.incident.alarms.engine import Alarm


def urgency(alarm: Alarm) -> tuple[int, bool, int, int]:
    """Sort key: priority, then waiting before taken, then the oldest, then the number."""
    return (alarm.priority, not alarm.waits, alarm.raised_ns, alarm.number)


def lines(alarms: Iterable[Alarm], crew_of: Callable[[Alarm], str]) -> list[Alarm]:
    """The alarms that have a line, in the order of the screen; no crew is an empty name."""

    def group(alarm: Alarm) -> tuple[int, bool, str | int]:
        return alarm.priority, alarm.waits, crew_of(alarm) or alarm.number

    listed = sorted((alarm for alarm in alarms if alarm.listed), key=urgency)
    first: dict[tuple[int, bool, str | int], int] = {}
    for place, alarm in enumerate(listed):
        first.setdefault(group(alarm), place)
    return sorted(listed, key=lambda alarm: first[group(alarm)])


def worst(alarms: Iterable[Alarm]) -> Alarm | None:
    """The one that names a wearer's state; None if nothing holds or is latched."""
    return min((alarm for alarm in alarms if alarm.counts), key=urgency, default=None)
