"""What a mirror says beside its replica."""

from pathlib import Path

import pytest

from monitor.mirror.beside import Beside, beside, is_replica, read, write

SAID = Beside(operation="Kiln works", incident="0" * 32, proof="keyed", fault="commit 3: x")


def test_it_reads_as_it_was_written(tmp_path: Path) -> None:
    journal = tmp_path / "a.journal"
    assert read(journal) is None
    assert not is_replica(journal)
    write(journal, SAID)
    write(journal, SAID)
    assert read(journal) == SAID
    assert is_replica(journal)
    assert beside(journal).stat().st_mode & 0o777 == 0o600
    assert [path.name for path in tmp_path.iterdir()] == ["a.journal.mirror"]


@pytest.mark.parametrize("raw", [b"", b"{}", b"[]", b"\xff", b"x" * 20_000])
def test_what_cannot_be_read_is_still_a_replica(tmp_path: Path, raw: bytes) -> None:
    journal = tmp_path / "a.journal"
    beside(journal).write_bytes(raw)
    assert is_replica(journal)
    with pytest.raises(ValueError, match="cannot be read"):
        read(journal)
