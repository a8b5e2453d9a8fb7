"""Times as a person says them, to instants of a recording. Pure."""

from collections.abc import Sequence
from datetime import datetime, time, tzinfo

from monitor.archive.wall_clock import WallClock

SECOND_NS = 1_000_000_000
JUMP_DIGITS = 6
"""Hours, minutes, seconds: two each."""


def span(ns: int) -> str:
    """A length of time, cut off to whole seconds: ``1 h 4 min 9 s``."""
    minutes, seconds = divmod(max(ns, 0) // SECOND_NS, 60)
    hours, minutes = divmod(minutes, 60)
    said = f"{minutes} min {seconds} s"
    return f"{hours} h {said}" if hours else said


def said_time(said: str) -> int | time:
    """Understand ``14:32:07`` or ``143207`` as a time of day, ``90`` as ns from the start.

    ValueError for anything else.
    """
    if ":" not in said and len(said) != JUMP_DIGITS:
        seconds = int(said)
        if seconds < 0:
            raise ValueError(said)
        return seconds * SECOND_NS
    form = "%H:%M:%S" if ":" in said else "%H%M%S"
    # Only its time of day is used.
    return datetime.strptime(said, form).time()  # noqa: DTZ007


def why_never(clock: WallClock, moment: time, end_ns: int, zone: tzinfo | None) -> str:
    """Say why the wall clock never showed that time of day up to ``end_ns``."""
    skipped = clock.skipped_at(moment, zone)
    if skipped is not None and skipped <= end_ns:
        return f"the clock never showed it: it went on from before to after, {span(skipped)} in"
    first, last = (_day_time(clock.at(t), zone) for t in (0, end_ns))
    return f"it is not in the recording, which goes from {first} to {last}"


def several(found: Sequence[int]) -> str:
    """Say where the wall clock showed one time of day more than once."""
    told = ", ".join(span(t) for t in found)
    return f"the clock showed it {len(found)} times: {told} in"


def _day_time(wall_ns: int, zone: tzinfo | None) -> str:
    return f"{datetime.fromtimestamp(wall_ns // SECOND_NS, zone):%H:%M:%S}"
