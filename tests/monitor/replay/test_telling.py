"""A recording as sentences."""

from collections.abc import Callable
from datetime import UTC
from typing import Any

from monitor.replay.marks import note_of
from monitor.replay.telling import REPLAY, tell

Make = Callable[..., Any]
S = 1_000_000_000


def test_it_says_that_it_is_a_replay_first_and_last(short: Any, make_player: Make) -> None:
    said = list(tell(make_player(short), UTC))
    assert said[0] == said[-1] == REPLAY


def test_each_sentence_has_its_time_of_day(short: Any, make_player: Make) -> None:
    """1 700 000 000 s after 1970 is 22:13:20 UTC."""
    said = list(tell(make_player(short), UTC))
    assert "22:13:20 Kiln Lane, entry not named, EXERCISE." in said


def test_it_goes_to_the_end(short: Any, make_player: Make) -> None:
    player = make_player(short)
    list(tell(player, UTC))
    assert player.horizon == short.end_ns


def test_a_note_is_told_at_its_time(short: Any, make_player: Make) -> None:
    """Noted 8 s after 22:13:20."""
    notes = tuple(note for row in short.all if (note := note_of(row)))
    said = list(tell(make_player(short), UTC, notes))
    assert said.count("22:13:28 Note by R. Harrow: water on") == 1


def test_a_note_before_the_beginning_is_not_told(short: Any, make_player: Make) -> None:
    player = make_player(short)
    player.aim(9 * S)
    notes = tuple(note for row in short.all if (note := note_of(row)))
    assert not any("water on" in words for words in tell(player, UTC, notes))
