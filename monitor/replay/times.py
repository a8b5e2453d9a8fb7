"""Times as a person says them, to instants of a recording. Pure."""

from datetime import datetime, time, timedelta, tzinfo

SECOND_NS = 1_000_000_000
JUMP_DIGITS = 6
"""Hours, minutes, seconds: two each."""


def span(ns: int) -> str:
    """A length of time, cut off to whole seconds: ``1 h 4 min 9 s``."""
    minutes, seconds = divmod(max(ns, 0) // SECOND_NS, 60)
    hours, minutes = divmod(minutes, 60)
    said = f"{minutes} min {seconds} s"
    return f"{hours} h {said}" if hours else said


def instant(said: str, ahead_ns: int, zone: tzinfo | None) -> int:
    """Incident time, ns, of ``14:32:07``, ``143207``, or of seconds from the start, ``90``.

    ``ahead_ns``: wall clock less incident time. A time of day is the first one in the recording
    after its start. ValueError for anything else.
    """
    if ":" not in said and len(said) != JUMP_DIGITS:
        seconds = int(said)
        if seconds < 0:
            raise ValueError(said)
        return seconds * SECOND_NS
    form = "%H:%M:%S" if ":" in said else "%H%M%S"
    # Only its time of day is used.
    moment: time = datetime.strptime(said, form).time()  # noqa: DTZ007
    opened = datetime.fromtimestamp(ahead_ns // SECOND_NS, zone)
    meant = datetime.combine(opened.date(), moment, opened.tzinfo)
    if meant < opened:
        meant += timedelta(days=1)
    return int((meant - opened).total_seconds()) * SECOND_NS
