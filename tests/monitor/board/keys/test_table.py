"""The key table keeps its own rules."""

from monitor.board.keys.table import BY_NAME, KEYS, help_texts


def test_no_key_means_two_things() -> None:
    names = [name for key in KEYS for name in key.names]
    assert len(names) == len(set(names)) == len(BY_NAME)


def test_no_chord_no_function_key_no_y_or_z_no_shift() -> None:
    ways_out = {"ctrl+c", "ctrl+q", "ctrl+z"}
    for key in KEYS:
        for name in set(key.names) - ways_out:
            assert "+" not in name
            assert name not in {"y", "z"}
            assert not (name.startswith("f") and name[1:].isdigit())
            assert name == name.lower()


def test_every_way_out_asks() -> None:
    assert {BY_NAME[name].does for name in ("q", "ctrl+c", "ctrl+q", "ctrl+z")} == {"quit"}


def test_help_names_every_key_and_fits_half_a_line() -> None:
    assert len(help_texts()) == len(KEYS)
    assert max(len(words) for _, words in help_texts()) <= 28
