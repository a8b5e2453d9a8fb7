"""Every key of the overview once, and none that acts."""

from monitor.board.keys.table import KEYS as BOARD_KEYS
from monitor.overview.keys import BY_NAME, KEYS, LOOKS


def test_no_key_means_two_things() -> None:
    names = [name for key in KEYS for name in key.names]
    assert len(names) == len(set(names)) == len(BY_NAME)


def test_what_it_takes_from_the_board_changes_nothing_but_the_screen() -> None:
    acts = {"take", "evacuate", "send", "connect", "enter", "off air", "note"}
    assert not acts & {key.does for key in KEYS}
    assert {key.does for key in BOARD_KEYS} >= LOOKS
