from pathlib import Path

import pytest

from shared.writing import new_file
from tests.shared.full import no_more_than


def test_a_new_file_is_filled_and_one_that_is_there_is_left_alone(tmp_path: Path) -> None:
    path = tmp_path / "one"
    with new_file(path, 0o600) as file:
        file.write(b"mine")
    assert path.read_bytes() == b"mine"
    assert path.stat().st_mode & 0o777 == 0o600
    with pytest.raises(FileExistsError), new_file(path):
        pass
    assert path.read_bytes() == b"mine"
    link = tmp_path / "link"
    link.symlink_to(tmp_path / "nowhere")
    with pytest.raises(FileExistsError), new_file(link):
        pass


def test_what_could_not_be_filled_is_gone(tmp_path: Path) -> None:
    path = tmp_path / "one"
    with pytest.raises(OSError, match="too large"), no_more_than(10), new_file(path) as file:
        file.write(b"more than ten bytes")
    assert not path.exists()
    making = new_file(path)
    making.__enter__().write(b"half")
    assert path.exists()
    making.__exit__(KeyboardInterrupt, KeyboardInterrupt(), None)
    assert not path.exists()
