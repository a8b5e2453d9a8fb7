"""The keys of a replay: none that acts, none that means something else on the board."""

from monitor.board.keys import table as board
from monitor.replay import keys


def test_no_key_of_a_replay_acts() -> None:
    assert not [key.shown for key in keys.KEYS if key.acts]


def test_a_key_means_on_a_replay_what_it_means_on_the_board() -> None:
    for name, key in keys.BY_NAME.items():
        there = board.BY_NAME.get(name)
        assert there is None or there.does == key.does, name


def test_no_key_stands_twice() -> None:
    names = [name for key in keys.KEYS for name in key.names]
    assert len(names) == len(set(names))


def test_every_command_that_only_looks_is_one_of_the_board() -> None:
    assert {key.does for key in board.KEYS} >= keys.LOOKS
