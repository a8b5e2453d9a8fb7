"""Bookmarks of a journal: instants with words, one a line of a file beside it. Pure.

    14:32:07 the call that nobody took
    1874 evacuation, first copy

A time of day as the base's clock showed it, or seconds from the start; a blank; words. What follows
a ``#`` at the start of a line is a remark. The file is a person's: nothing else writes over it.
"""

from collections.abc import Iterator
from datetime import tzinfo
from pathlib import Path

from monitor.archive.wall_clock import WallClock
from monitor.board.words.marks import clean
from monitor.errors import BadFile
from monitor.replay.marks import Mark, MarkKind
from monitor.replay.times import said_time, several, why_never

ENDING = ".bookmarks"
FILE_BYTES_MAX = 100_000
COUNT_MAX = 500
WORDS_MAX = 200
_TO_DO = "each line is a time, a blank, and words: 14:32:07 the second call"


def beside(journal: Path) -> Path:
    """Where the bookmarks of a journal are, if there are any."""
    return journal.with_suffix(ENDING)


def line_of(when: str, said: str) -> str:
    """A line of the file. ValueError where the time is none, or there are no words."""
    said_time(when)
    words = " ".join(said.split())
    if not words or len(words) > WORDS_MAX or not words.isprintable():
        raise ValueError(said)
    return f"{when} {words}\n"


def read(
    text: str, where: str, clock: WallClock, end_ns: int, zone: tzinfo | None
) -> tuple[Mark, ...]:
    """The bookmarks of a file, in order of time. BadFile names the line that is none."""
    found = sorted(_each(text, where, clock, end_ns, zone))
    if len(found) > COUNT_MAX:
        raise BadFile(f"more than {COUNT_MAX} bookmarks", where, "take some out")
    return tuple(found)


def _each(
    text: str, where: str, clock: WallClock, end_ns: int, zone: tzinfo | None
) -> Iterator[Mark]:
    for number, line in enumerate(text.splitlines(), start=1):
        if not line.strip() or line.startswith("#"):
            continue
        place = f"{where}:{number}"
        when, _, said = line.strip().partition(" ")
        try:
            line_of(when, said)
            wanted = said_time(when)
        except (ValueError, OverflowError):
            raise BadFile("no bookmark", place, _TO_DO) from None
        if isinstance(wanted, int):
            instants, never = [wanted] if wanted <= end_ns else [], "it is after the end"
        else:
            instants = clock.instants(wanted, end_ns, zone)
            never = "" if instants else why_never(clock, wanted, end_ns, zone)
        if len(instants) != 1:
            what = several(instants) if instants else never
            raise BadFile(f"{when}: {what}", place, "say seconds from the start")
        yield Mark(instants[0], MarkKind.BOOKMARK, words=clean(" ".join(said.split())))
