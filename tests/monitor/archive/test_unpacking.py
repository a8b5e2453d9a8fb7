"""A packed incident is read as it is; what somebody else has packed does no harm."""

import stat
import zipfile
from pathlib import Path

import pytest

from monitor.archive.packing import pack
from monitor.archive.unpacking import is_packed, unpacked
from monitor.cli import main
from monitor.errors import BadJournal, Exit
from tests.monitor.archive.conftest import GOLDEN

WALL_NS = 1_700_000_000_000_000_000


@pytest.fixture(scope="module")
def golden_packed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    target = tmp_path_factory.mktemp("packed") / "kiln-lane.zip"
    return pack(GOLDEN, target, b"", "the caution", WALL_NS).archive


@pytest.fixture
def packed(golden_packed: Path, tmp_path: Path) -> Path:
    copy = tmp_path / "kiln-lane.zip"
    copy.write_bytes(golden_packed.read_bytes())
    return copy


def test_the_journal_comes_out_as_it_went_in_and_goes_away_again(packed: Path) -> None:
    assert is_packed(packed)
    with unpacked(packed) as path:
        assert path.name == "kiln-lane.journal"
        with zipfile.ZipFile(packed) as archive:
            assert path.read_bytes() == archive.read("kiln-lane.journal")
        assert stat.S_IMODE(path.parent.stat().st_mode) == 0o700
        assert [one.name for one in path.parent.iterdir()] == ["kiln-lane.journal"]
    assert not path.parent.exists()


@pytest.mark.parametrize(
    "line",
    [
        ["verify", "{}"],
        ["orders", "{}"],
        ["report", "{}", "--alarms"],
        ["handover", "{}"],
        ["replay", "{}", "--plain", "--at", "600"],
        ["export", "{}", "{}.tables"],
        ["roster", "{}"],
        ["feed", "{}", "--every", "600"],
    ],
)
def test_every_command_that_reads_takes_the_archive(
    packed: Path, line: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    assert main([part.format(packed) for part in line]) == Exit.OK
    out, err = capsys.readouterr()
    assert out
    assert not err


def test_a_packed_one_is_told_by_its_own_name(
    packed: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["verify", str(packed)]) == Exit.OK
    assert f"journal        {packed}\n" in capsys.readouterr().out


def test_a_fault_in_a_packed_one_is_told_by_its_own_name(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Where its journal lay meanwhile tells nobody anything."""
    path = archive_of(tmp_path / "some.zip", {"a.journal": b"no journal"})
    assert main(["verify", str(path)]) == Exit.JOURNAL
    assert f": {path}: " in capsys.readouterr().err


@pytest.mark.parametrize("line", [["watch", "{}"], ["record", "{}"], ["incidents", "pack", "{}"]])
def test_nobody_goes_on_with_one(
    packed: Path, line: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    assert main([part.format(packed) for part in line]) == Exit.JOURNAL
    assert "this is a packed incident, which is only read" in capsys.readouterr().err


def test_what_a_drill_has_beside_it_is_packed_and_comes_out_with_it(tmp_path: Path) -> None:
    journal = tmp_path / "one.journal"
    journal.write_bytes(GOLDEN.read_bytes())
    (tmp_path / "one.truth.jsonl").write_text("{}\n")
    (tmp_path / "one.key").write_text("secret")
    made = pack(journal, tmp_path / "one.zip", b"", "", WALL_NS)
    with unpacked(made.archive) as path:
        names = sorted(one.name for one in path.parent.iterdir())
    assert names == ["one.journal", "one.truth.jsonl"]
    with zipfile.ZipFile(made.archive) as archive:
        assert "one.key" not in archive.namelist()


def archive_of(path: Path, members: dict[str, bytes]) -> Path:
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as made:
        for name, data in members.items():
            made.writestr(name, data)
    return path


@pytest.mark.parametrize(
    ("members", "said"),
    [
        ({}, "no journal"),
        ({"letter.txt": b"x"}, "no journal"),
        ({"a.journal": b"x", "b.journal": b"x"}, "2 journals"),
        ({"../a.journal": b"x"}, "a name that no journal has"),
        ({"/etc/a.journal": b"x"}, "a name that no journal has"),
        ({"\x1b[2J.journal": b"x"}, "a name that no journal has"),
        ({".journal": b"x"}, "a name that no journal has"),
        ({"a.journal": bytes(2_000_000)}, "too long to be a journal"),
        ({f"{n}.txt": b"" for n in range(101)}, "too much in the archive"),
    ],
)
def test_what_is_no_packed_incident(tmp_path: Path, members: dict[str, bytes], said: str) -> None:
    path = archive_of(tmp_path / "some.zip", members)
    with pytest.raises(BadJournal, match=said), unpacked(path):
        pass


def test_one_that_is_damaged_is_said(packed: Path) -> None:
    """A byte in the middle: the checksum of the member no longer fits; then half of it."""
    raw = bytearray(packed.read_bytes())
    raw[len(raw) // 2] ^= 0xFF
    packed.write_bytes(raw)
    with pytest.raises(BadJournal, match="the archive is damaged"), unpacked(packed):
        pass
    packed.write_bytes(raw[: len(raw) // 2])
    with pytest.raises(BadJournal, match="the archive is damaged"), unpacked(packed):
        pass


def test_one_that_says_that_it_is_shorter_than_it_is(tmp_path: Path) -> None:
    """The length in both headers is 1; the library ends there and finds the checksum wrong."""
    path = archive_of(tmp_path / "some.zip", {"a.journal": b"x" * 5_000})
    raw = path.read_bytes()
    path.write_bytes(raw.replace((5_000).to_bytes(4, "little"), (1).to_bytes(4, "little")))
    with pytest.raises(BadJournal, match="the archive is damaged"), unpacked(path):
        pass


def test_what_is_no_archive(tmp_path: Path) -> None:
    assert not is_packed(GOLDEN)
    assert not is_packed(tmp_path / "none")
    assert not is_packed(tmp_path)
