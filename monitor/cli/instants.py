"""An instant of a record, as somebody names it on the command line."""

from monitor.archive.wall_clock import WallClock
from monitor.errors import BadUsage


def instant(said: str, option: str, clock: WallClock, end_ns: int) -> int:
    """Incident time, ns, of a time of day or of seconds from the start.

    Raises BadUsage where it is no time, and where the clock showed it never, or twice: that is
    asked back.
    """
    from monitor.replay.times import SECOND_NS, said_time, several, why_never

    try:
        wanted = said_time(said)
    except (ValueError, OverflowError):
        raise BadUsage("no such time", said, "say HH:MM:SS, or seconds from the start") from None
    if isinstance(wanted, int):
        return wanted
    found = clock.instants(wanted, end_ns, None)
    if not found:
        what = why_never(clock, wanted, end_ns, None)
        raise BadUsage(what, said, "say another, or seconds from the start")
    if len(found) > 1:
        which = " or ".join(f"{option} {t // SECOND_NS}" for t in found)
        raise BadUsage(several(found), said, f"say which: {which}")
    return found[0]
