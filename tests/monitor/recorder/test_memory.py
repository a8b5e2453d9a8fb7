from pathlib import Path

from monitor.recorder.memory import SESSION_MAX, Memory, MemoryKeeper, load, memory_path, save

S = 1_000_000_000


def test_what_is_saved_is_loaded_and_private(tmp_path: Path) -> None:
    path = memory_path(tmp_path, "exercise")
    marks = bytes(range(256))
    memory = Memory(base=7, session=3, packs={101: (2, 900, 2**64 - 1, marks)})
    save(path, memory)
    assert load(path) == (memory, "")
    assert path.stat().st_mode & 0o777 == 0o600
    assert list(tmp_path.iterdir()) == [path]


def test_the_two_uses_do_not_share_a_file(tmp_path: Path) -> None:
    assert memory_path(tmp_path, "exercise") != memory_path(tmp_path, "real")


def test_no_file_is_no_fault(tmp_path: Path) -> None:
    assert load(tmp_path / "base-real.json") == (None, "")


def test_a_damaged_file_is_told(tmp_path: Path) -> None:
    path = tmp_path / "base-real.json"
    for data in (b"", b"{}", b'{"format":9,"base":1}', b'{"base":1,"packs":{"1":[1]}}'):
        path.write_bytes(data)
        found, fault = load(path)
        assert found is None
        assert "not a base's memory" in fault


def test_a_file_from_before_marks_were_kept_is_read(tmp_path: Path) -> None:
    path = tmp_path / "base-real.json"
    path.write_bytes(b'{"format":1,"base":7,"session":3,"packs":{"101":[2,900,1]}}')
    found, fault = load(path)
    assert (found and found.packs, fault) == ({101: (2, 900, 1, b"")}, "")
    keeper = MemoryKeeper(path, Memory(base=7, format=1), dict)
    assert keeper.snapshot().format == 2


def test_a_file_that_cannot_be_read_is_told(tmp_path: Path) -> None:
    assert load(tmp_path)[1] == "it is a folder"


def test_a_session_number_never_falls_back() -> None:
    assert Memory(base=7, session=3).next_session(2 * S) == 4
    assert Memory(base=7, session=0).next_session(1_700_000_000 * S) == 1_700_000_000
    assert Memory(base=7, session=SESSION_MAX).next_session(0) == SESSION_MAX


def test_the_keeper_writes_the_numbers_of_the_moment(tmp_path: Path) -> None:
    path = memory_path(tmp_path, "real")
    numbers = {101: (1, 1, 1, b"")}
    keeper = MemoryKeeper(path, Memory(base=7), lambda: dict(numbers))
    numbers[102] = (4, 5, 6, bytes(256))
    keeper.keep(keeper.snapshot())
    assert load(path)[0] == Memory(base=7, packs=numbers)


def test_a_disk_that_does_not_take_it_stops_nothing(tmp_path: Path) -> None:
    keeper = MemoryKeeper(tmp_path / "gone" / "base.json", Memory(base=7), dict)
    keeper.keep(keeper.snapshot())
    assert list(tmp_path.iterdir()) == []
