"""The order of the alarm lines: most urgent first."""

from collections.abc import Iterable

from monitor.incident.alarms.engine import Alarm


def urgency(alarm: Alarm) -> tuple[int, bool, int, int]:
    """Sort key: priority, then waiting before taken, then the oldest, then the number."""
    return (alarm.priority, not alarm.waits, alarm.raised_ns, alarm.number)


def lines(alarms: Iterable[Alarm]) -> list[Alarm]:
    """The alarms that have a line, in the order of the screen."""
    return sorted((alarm for alarm in alarms if alarm.listed), key=urgency)


def worst(alarms: Iterable[Alarm]) -> Alarm | None:
    """The one that names a wearer's state; None if nothing holds or is latched."""
    return min((alarm for alarm in alarms if alarm.counts), key=urgency, default=None)
