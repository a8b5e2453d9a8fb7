"""A recording as sentences, each with its time of day, to the end. Pure."""

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from datetime import tzinfo

from monitor.board.plain.words import first_sentences, sentences
from monitor.board.words import wording
from monitor.replay.player import Player

SECOND_NS = 1_000_000_000
REPLAY = "REPLAY: nothing here is live."


Notes = Sequence[tuple[int, str]]
"""Remarks of officers as sentences, each with its incident time, in order."""


def tell(player: Player, zone: tzinfo | None, notes: Notes = ()) -> Iterator[str]:
    """Say what stands where the player was told to go, then what happens in each second after."""
    times = [t for t, _ in notes]
    player.go(player.target)
    old = player.picture()
    yield REPLAY
    for words in first_sentences(old):
        yield f"{wording.day_time(old.wall_ns, zone, seconds=True)} {words}"
    end = player.end()
    while player.horizon < end and not old.closed:
        player.go(player.horizon + SECOND_NS)
        new = player.picture()
        time = wording.day_time(new.wall_ns, zone, seconds=True)
        for _, words in notes[bisect_right(times, old.t) : bisect_right(times, new.t)]:
            yield f"{time} {words}"
        for words in sentences(old, new):
            yield f"{time} {words}"
        old = new
    yield REPLAY
