"""A second place: what it holds goes on from the journal, and comes into it whole or not at all."""

import os
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from random import Random
from typing import Any

import pytest

from monitor.clock import Stamp
from monitor.errors import BadJournal
from monitor.incident.rows import Row
from monitor.journal import spill
from monitor.journal.reader import JournalReader
from monitor.journal.schema import Header
from monitor.journal.sealing import Sealed
from monitor.journal.verify import verify_digest
from monitor.journal.writer import JournalWriter

MS = 1_000_000
KEY = b"k" * 32
Frames = Callable[..., list[Row]]


def sealed_by(writer: JournalWriter, rows: list[Row], size: int = 10) -> list[Sealed]:
    """Batches of ``size`` rows, each with its horizon at its last row."""
    made = []
    for first in range(0, len(rows), size):
        batch = rows[first : first + size]
        t = batch[-1].t
        made.append(writer.sealer.seal(batch, t, Stamp(500 + t, 1_000 + t)))
    return made


def spilt(path: Path, journal: JournalWriter, batches: list[Sealed]) -> None:
    """Make a spill that holds these batches."""
    made = JournalWriter.follow(path, journal, batches[0].before, journal.sessions())
    made.write(batches)
    made.close(final=False)


@pytest.fixture
def place(tmp_path: Path) -> Path:
    (tmp_path / "elsewhere").mkdir()
    return tmp_path / "elsewhere" / "one.spill"


@pytest.mark.parametrize("key", [b"", KEY])
@pytest.mark.parametrize("has", [0, 3, 7, 10])
def test_merging_brings_what_the_journal_has_not(
    begin: Any, frames: Frames, path: Path, place: Path, has: int, key: bytes
) -> None:
    """The hung commit may have been made in the end: 3, 7 or all 10 batches are there already."""
    writer: JournalWriter = begin(key)
    rows = frames(100)
    batches = sealed_by(writer, rows)
    writer.write(batches[:1])
    spilt(place, writer, batches[1:])
    if has > 1:
        writer.write(batches[1:has])
    merged = spill.merge(writer, place)
    had = max(has, 1)
    assert merged == spill.Merged(10 - had, 100 - 10 * had)
    assert verify_digest(path, key) is None
    with JournalReader(path) as reader:
        assert reader.read(0).rows == rows
        assert reader.last_batch() == batches[-1].batch
    assert spill.merge(writer, place) == spill.Merged(0, 0)


def test_a_session_that_began_in_the_spill_comes_with_it(
    begin: Any, frames: Frames, path: Path, place: Path
) -> None:
    writer: JournalWriter = begin()
    writer.write(sealed_by(writer, frames(10)))
    writer.begin_session("boot two", 7, 8, "outby test")
    batches = sealed_by(writer, frames(30, 20 * MS))
    spilt(place, writer, batches)
    spill.merge(writer, place)
    assert [one.boot_id for one in writer.sessions()] == ["boot one", "boot two"]
    assert verify_digest(path) is None


def differing(writer: JournalWriter, batches: list[Sealed], frames: Frames) -> None:
    """The journal has gone on by itself, with other rows under the same numbers."""
    writer.sealer.last = batches[0].batch
    writer.write(sealed_by(writer, frames(10, 11 * MS, Random(7))))


def test_what_differs_is_never_merged(begin: Any, frames: Frames, place: Path) -> None:
    writer: JournalWriter = begin()
    batches = sealed_by(writer, frames(100))
    writer.write(batches[:1])
    spilt(place, writer, batches[1:])
    differing(writer, batches, frames)
    before = writer.last
    with pytest.raises(BadJournal, match="differ in batch 2"):
        spill.merge(writer, place)
    assert writer.last == before


def test_batches_that_are_missing_between_are_told(begin: Any, frames: Frames, place: Path) -> None:
    """The journal was cut back to before the place where the spill begins."""
    writer: JournalWriter = begin()
    batches = sealed_by(writer, frames(100))
    writer.write(batches[:1])
    spilt(place, writer, batches[5:])
    with pytest.raises(BadJournal, match="missing between the journal and its spill, after 1"):
        spill.merge(writer, place)


def test_a_spill_of_another_incident_is_not_touched(
    begin: Any, frames: Frames, place: Path, tmp_path: Path, header: Header
) -> None:
    writer: JournalWriter = begin()
    other = JournalWriter.create(
        tmp_path / "other.journal", header.model_copy(update={"incident": "1" * 32})
    )
    other.begin_session("boot one", 500, 1_000, "outby test")
    batches = sealed_by(other, frames(20))
    other.write(batches[:1])
    spilt(place, other, batches[1:])
    other.close(final=False)
    with pytest.raises(BadJournal, match="another incident"):
        spill.merge(writer, place)


def test_a_row_that_was_changed_in_the_spill_is_found_by_its_digest(
    begin: Any, frames: Frames, path: Path, place: Path
) -> None:
    writer: JournalWriter = begin()
    batches = sealed_by(writer, frames(100))
    writer.write(batches[:1])
    spilt(place, writer, batches[1:])
    with closing(sqlite3.connect(place)) as connection, connection:
        connection.execute("UPDATE rows SET data = x'00' WHERE id = 55")
    with pytest.raises(BadJournal, match="damaged in batch 6"):
        spill.merge(writer, place)
    assert verify_digest(path) is None


@pytest.mark.parametrize("lost", [False, True])
def test_a_spill_that_was_overlooked_is_not_written_over(
    begin: Any, frames: Frames, place: Path, lost: bool
) -> None:
    """A failing disk had said that there is none when this recorder began."""
    writer: JournalWriter = begin(b"")
    batches = sealed_by(writer, frames(100))
    earlier = spill.Spill.at(place).make(writer, writer.last, writer.sessions(), lost=False)
    earlier.write(batches[:2])
    earlier.close(final=False)
    made = spill.Spill.at(place).make(writer, writer.last, writer.sessions(), lost=lost)
    made.close(final=False)
    with JournalReader(place.with_name("one.spill.1")) as reader:
        assert reader.last_batch() == batches[1].batch


def test_one_without_a_row_is_made_anew(begin: Any, place: Path) -> None:
    writer: JournalWriter = begin(b"")
    for _ in range(2):
        made = spill.Spill.at(place).make(writer, writer.last, writer.sessions(), lost=False)
        made.close(final=False)
    assert not place.with_name("one.spill.1").exists()


def test_one_in_the_way_is_put_aside_and_removing_leaves_nothing(place: Path) -> None:
    for ending in spill.ENDINGS:
        place.with_name(place.name + ending).write_bytes(b"x")
    kept = spill.put_aside(place)
    assert kept.name == "one.spill.1"
    place.write_bytes(b"y")
    assert spill.put_aside(place).name == "one.spill.2"
    place.write_bytes(b"z")
    spill.remove(place)
    spill.remove(place)
    left = {one.name for one in place.parent.iterdir()}
    assert left == {*(f"one.spill.1{ending}" for ending in spill.ENDINGS), "one.spill.2"}


def test_each_journal_has_its_own_name_in_a_folder(tmp_path: Path) -> None:
    one, two = (spill.spill_path(tmp_path / name, tmp_path) for name in ("a.journal", "b.journal"))
    assert one != two
    assert one == spill.spill_path(tmp_path / "a.journal", tmp_path)


@pytest.fixture
def shared(tmp_path: Path) -> Path:
    """A folder in the place of the system's shared memory."""
    folder = tmp_path / "shm"
    folder.mkdir()
    return folder


def test_another_file_system_comes_first(tmp_path: Path) -> None:
    journal = tmp_path / "a.journal"
    found = spill.choose(journal, None, [tmp_path])
    if spill.SHARED_MEMORY.is_dir():
        assert found[0].stat().st_dev != tmp_path.stat().st_dev
        assert found[0].stat().st_mode & 0o077 == 0
    else:
        assert found == [tmp_path]


def test_behind_a_folder_that_was_wanted_stands_memory(tmp_path: Path, shared: Path) -> None:
    wanted = tmp_path / "card" / "outby"
    memory = shared / f"outby-{os.getuid()}"
    journal = tmp_path / "a.journal"
    assert spill.choose(journal, wanted, [wanted, tmp_path], shared) == [wanted, memory]
    assert wanted.is_dir()
    file = tmp_path / "file"
    file.write_bytes(b"")
    assert spill.choose(journal, file / "no", [file / "no", tmp_path], shared) == [memory]


def test_a_folder_in_memory_that_is_not_ones_own_is_passed_over(
    tmp_path: Path, shared: Path
) -> None:
    """Anybody can make what they like there: a link, a file, a folder that all can open."""
    name = f"outby-{os.getuid()}"
    (tmp_path / "theirs").mkdir(mode=0o700)
    (shared / name).symlink_to(tmp_path / "theirs")
    (shared / f"{name}-2").write_bytes(b"")
    (shared / f"{name}-3").mkdir()
    (shared / f"{name}-3").chmod(0o755)
    journal = tmp_path / "a.journal"
    card = tmp_path / "card"
    assert spill.choose(journal, card, [card], shared) == [card, shared / f"{name}-4"]
    assert spill.folders(None, [], shared) == [shared / f"{name}-4"]
    made = spill.spill_path(journal, shared / f"{name}-4")
    made.write_bytes(b"")
    assert spill.found(journal, spill.folders(None, [tmp_path], shared)) == [made]


def test_one_that_does_not_answer_is_not_asked_for_anything(tmp_path: Path, shared: Path) -> None:
    wanted, memory = tmp_path / "card" / "outby", shared / f"outby-{os.getuid()}"
    # Both are on the journal's file system here, so the folder of one's own comes first.
    assert spill.choose(tmp_path / "a.journal", wanted, [tmp_path], shared) == [tmp_path, memory]
    assert not wanted.parent.exists()


def test_that_the_wanted_one_is_on_the_journals_own_disk_is_said(
    tmp_path: Path, shared: Path, caplog: pytest.LogCaptureFixture
) -> None:
    spill.choose(tmp_path / "a.journal", tmp_path / "b", [tmp_path / "b"], shared)
    assert f"on the journal's own disk, and hangs with it: {tmp_path / 'b'}" in caplog.text


def test_that_no_name_is_left_in_memory_is_said(
    tmp_path: Path, shared: Path, caplog: pytest.LogCaptureFixture
) -> None:
    first = f"outby-{os.getuid()}"
    for name in (first, *(f"{first}-{n}" for n in range(2, 10))):
        (shared / name).write_bytes(b"")
    assert spill.choose(tmp_path / "a.journal", None, [tmp_path], shared) == [tmp_path]
    assert "no second place in memory" in caplog.text
