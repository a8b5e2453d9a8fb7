"""What is handed over is whole, says what it is, and is written over nothing."""

import json
import stat
import zipfile
from hashlib import sha256
from pathlib import Path

import pytest

from monitor.archive.packing import pack
from monitor.clock import Stamp
from monitor.errors import BadFile, BadJournal, Busy
from monitor.incident.rows import Row
from monitor.journal.lock import Lock
from monitor.journal.reader import JournalReader
from monitor.journal.verify import examine, verify_digest
from monitor.journal.writer import JournalWriter
from tests.monitor.archive.conftest import GOLDEN, Remade

WALL_NS = 1_700_000_000_000_000_000
"""2023-11-14 22:13:20 UTC."""
KEY = bytes(range(32))


@pytest.fixture
def target(tmp_path: Path) -> Path:
    return tmp_path / "kiln-lane.zip"


def manifest(archive: Path) -> dict[str, dict[str, object]]:
    with zipfile.ZipFile(archive) as opened:
        found: dict[str, dict[str, object]] = json.loads(opened.read("manifest.json"))
    return found


def unpacked(archive: Path, tmp_path: Path) -> Path:
    with zipfile.ZipFile(archive) as opened:
        assert opened.testzip() is None
        opened.extractall(tmp_path / "unpacked")
    return tmp_path / "unpacked"


def test_what_is_in_it(target: Path, tmp_path: Path) -> None:
    made = pack(GOLDEN, target, b"", "the caution", WALL_NS)
    assert made.verdict == "nothing in it speaks against it"
    folder = unpacked(target, tmp_path)
    names = {path.name for path in folder.iterdir()}
    assert names == {"kiln-lane.journal", "manifest.json", "digest.txt", "JOURNAL-FORMAT.md"}
    journal, about = folder / "kiln-lane.journal", manifest(target)
    last = examine(GOLDEN).last
    assert last is not None
    assert examine(journal).last == last
    raw = journal.read_bytes()
    assert about["journal"]["sha256"] == sha256(raw).hexdigest()
    assert about["journal"]["bytes"] == len(raw)
    assert about["journal"]["rows"] == last.last_row
    assert about["incident"]["use"] == "EXERCISE"
    assert about["incident"]["opened"] == "2023-11-14T22:13:20Z"
    assert about["incident"]["length_s"] == 610
    assert about["packed"]["at"] == "2023-11-14T22:13:20Z"
    assert about["packed"]["caution"] == "the caution"
    hexed = (folder / "digest.txt").read_text().replace(" ", "").strip()
    assert hexed == last.digest.hex()
    assert about["digest"]["keyed"] is False


def test_the_checksum_beside_it_is_the_archives(target: Path) -> None:
    """In the form of sha256sum: digest, two spaces, name."""
    made = pack(GOLDEN, target, b"", "", WALL_NS)
    right = sha256(target.read_bytes()).hexdigest()
    assert made.checksum.read_text() == f"{right}  kiln-lane.zip\n"
    assert made.sha256 == right
    for path in (target, made.checksum):
        assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert sorted(path.name for path in target.parent.iterdir()) == [
        "kiln-lane.zip", "kiln-lane.zip.sha256",
    ]  # fmt: skip


def test_rows_that_are_still_in_the_log_are_handed_over_too(
    remade: Remade, target: Path, tmp_path: Path
) -> None:
    """As a killed recorder leaves them; the journal and its log stay as they are."""
    path = remade()
    writer = JournalWriter.open(path)
    writer.begin_session("boot", 0, 0, "outby test")
    end = writer.last.horizon + 1
    writer.commit([], end, Stamp(0, 0))
    before = path.read_bytes()
    pack(path, target, b"", "", WALL_NS)
    assert path.read_bytes() == before
    assert path.with_name(path.name + "-wal").exists()
    last = examine(unpacked(target, tmp_path) / path.name).last
    assert last is not None
    assert last.horizon == end
    writer.close(final=False)


def test_an_incident_that_is_being_recorded_is_refused(remade: Remade, target: Path) -> None:
    path = remade()
    with (
        Lock.take(path) or pytest.fail("the lock was not free"),
        pytest.raises(Busy, match="being recorded"),
    ):
        pack(path, target, b"", "", WALL_NS)
    assert not target.exists()


@pytest.mark.parametrize("there", ["kiln-lane.zip", "kiln-lane.zip.sha256"])
def test_nothing_is_written_over(target: Path, tmp_path: Path, there: str) -> None:
    (tmp_path / there).write_text("mine")
    with pytest.raises(BadFile, match="there is a file already"):
        pack(GOLDEN, target, b"", "", WALL_NS)
    assert [path.name for path in tmp_path.iterdir()] == [there]
    assert (tmp_path / there).read_text() == "mine"


def test_no_place_for_it(tmp_path: Path) -> None:
    with pytest.raises(BadFile, match="the archive cannot be made"):
        pack(GOLDEN, tmp_path / "never" / "one.zip", b"", "", WALL_NS)


def test_a_journal_that_cannot_be_read(tmp_path: Path, target: Path) -> None:
    letter = tmp_path / "letter.journal"
    letter.write_text("Dear all, this is a letter and no journal")
    with pytest.raises(BadJournal, match="not a journal"):
        pack(letter, target, b"", "", WALL_NS)
    assert not target.exists()


def test_a_journal_that_was_changed_is_handed_over_as_such(remade: Remade, target: Path) -> None:
    def without_announcements(rows: list[Row]) -> list[Row]:
        return [row for row in rows if row.kind.name != "ANNOUNCED"]

    made = pack(remade(without_announcements), target, b"", "", WALL_NS)
    assert "alarms are not those that were announced" in made.verdict
    assert manifest(target)["digest"]["verified"] == made.verdict


def test_a_keyed_digest_is_verified_with_its_key_only(tmp_path: Path, target: Path) -> None:
    with JournalReader(GOLDEN) as reader:
        header, last = reader.header(), reader.last_batch()
        rows = [row for step in reader.steps(last.last_row) for row in step]
    path = tmp_path / "keyed.journal"
    writer = JournalWriter.create(path, header, KEY)
    writer.begin_session("golden", 0, 0, header.software)
    writer.commit(rows, last.horizon, Stamp(0, 0))
    writer.close(final=True)
    assert verify_digest(path, KEY) is None
    made = pack(path, target, b"", "", WALL_NS)
    assert made.verdict == "nothing in it speaks against it; its keyed digest was not checked"
    assert manifest(target)["journal"]["rows"] == last.last_row
    other = tmp_path / "other.zip"
    assert pack(path, other, KEY, "", WALL_NS).verdict == "nothing in it speaks against it"
    assert manifest(other)["digest"]["keyed"] is True
