"""The list for a person and for a program; one incident packed up."""

import json
import shutil
from pathlib import Path

import pytest

import shared
from monitor.cli import main
from monitor.clock import Stamp
from monitor.errors import Exit
from monitor.incident.rows import Row, RowKind
from monitor.journal import spill
from monitor.journal.lock import Lock
from monitor.journal.reader import JournalReader
from monitor.journal.writer import JournalWriter

GOLDEN = shared.path("journals", "kiln-lane.journal")


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("OUTBY_INCIDENTS_FOLDER", str(tmp_path))
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.fixture
def journal(folder: Path) -> Path:
    path = folder / "kiln-lane.journal"
    path.write_bytes(GOLDEN.read_bytes())
    return path


def test_no_incidents_yet(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["incidents"]) == Exit.OK
    assert capsys.readouterr().out == f"no incidents in {folder}\n"
    assert main(["incidents", "--json"]) == Exit.OK
    assert json.loads(capsys.readouterr().out) == []


def test_the_list(journal: Path, capsys: pytest.CaptureFixture[str]) -> None:
    journal.with_name("letter.journal").write_text("Dear all")
    with Lock.take(journal) or pytest.fail("the lock was not free"):
        assert main(["incidents"]) == Exit.OK
    head, first, second = capsys.readouterr().out.splitlines()
    assert head.split() == ["NAME", "USE", "STATE", "LENGTH", "SIZE", "LAST", "CHANGE", "FILE"]
    assert first.startswith("Kiln Lane  EXERCISE  recorded now    10 min 10 s  ")
    assert first.endswith("  kiln-lane.journal")
    assert second.split("  ")[0] == "-"
    assert "cannot be read" in second


def test_the_list_for_a_program(journal: Path, capsys: pytest.CaptureFixture[str]) -> None:
    journal.with_name("letter.journal").write_text("Dear all")
    assert main(["incidents", "--json"]) == Exit.OK
    good, bad = json.loads(capsys.readouterr().out)
    assert good == {
        "journal": str(journal),
        "name": "Kiln Lane",
        "use": "exercise",
        "state": "open",
        "opened": "2023-11-14T22:13:20Z",
        "length_s": 610,
        "size_bytes": journal.stat().st_size,
        "last_change": "2023-11-14T22:23:30Z",
        "fault": None,
    }
    assert (bad["state"], bad["name"], bad["length_s"]) == ("cannot be read", None, None)
    assert bad["fault"].startswith("this is not a journal")


def test_one_packed_up_by_name_lands_here(
    journal: Path, folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["incidents", "pack", "kiln-lane"]) == Exit.OK
    first, second = capsys.readouterr().out.splitlines()
    assert first == "made kiln-lane.zip: nothing in it speaks against it"
    assert second.startswith("its checksum is in kiln-lane.zip.sha256: ")
    assert (folder / "kiln-lane.zip").exists()
    assert main(["incidents", "pack", "kiln-lane"]) == Exit.ALREADY_THERE
    assert capsys.readouterr().err.count("\n") == 1


def test_one_packed_up_by_path_into_a_file_or_folder(journal: Path, folder: Path) -> None:
    (folder / "stick").mkdir()
    assert main(["incidents", "pack", str(journal), "stick"]) == Exit.OK
    assert main(["incidents", "pack", str(journal), "stick/other.zip"]) == Exit.OK
    assert sorted(path.name for path in (folder / "stick").iterdir()) == [
        "kiln-lane.zip", "kiln-lane.zip.sha256", "other.zip", "other.zip.sha256",
    ]  # fmt: skip


def test_what_cannot_be_packed(journal: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["incidents", "pack", "never"]) == Exit.JOURNAL
    with Lock.take(journal) or pytest.fail("the lock was not free"):
        assert main(["incidents", "pack", "kiln-lane"]) == Exit.BUSY
    assert capsys.readouterr().err.count("\n") == 2


def test_a_half_made_one_is_told_and_taken_away(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (folder / "kiln.journal.making").touch()
    (folder / "kiln.journal.log").touch()
    assert main(["incidents"]) == Exit.OK
    assert "half made" in capsys.readouterr().out
    assert main(["incidents", "--json"]) == Exit.OK
    assert json.loads(capsys.readouterr().out)[0]["opened"] is None
    assert main(["incidents", "discard", "kiln"]) == Exit.OK
    assert capsys.readouterr().out == f"taken away: {folder / 'kiln.journal'}\n"
    assert list(folder.iterdir()) == []
    assert main(["incidents", "discard", "kiln"]) == Exit.JOURNAL


def test_what_has_something_in_it_is_never_taken_away(
    journal: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before = journal.read_bytes()
    assert main(["incidents", "discard", "kiln-lane"]) == Exit.JOURNAL
    assert "there is something in it" in capsys.readouterr().err
    with Lock.take(journal) or pytest.fail("the lock was not free"):
        assert main(["incidents", "discard", "kiln-lane"]) == Exit.BUSY
    assert journal.read_bytes() == before


@pytest.fixture
def died(journal: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The journal's last rows are in a second place only."""
    second = tmp_path / "second"
    second.mkdir()
    monkeypatch.setenv("OUTBY_SPILL_FOLDER", str(second))
    file = spill.spill_path(journal, second)
    writer = JournalWriter.open(journal)
    spill.Spill(file).make(writer, writer.last, writer.sessions(), lost=False).close(final=False)
    kept = JournalWriter.open(file)
    writer.begin_session("boot", 0, 1_000, "outby test")
    t = writer.last.horizon + 1
    row = Row(t, RowKind.FACT, b'{"what":"boards_alive","alive":true}')
    kept.write([writer.sealer.seal([row], t, Stamp(t, t))])
    kept.close(final=False)
    writer.close(final=False)
    return journal


def test_rows_in_a_second_place_are_listed_with_the_one_command(
    died: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    told = f"1 rows are NOT IN {died}, but kept: outby incidents recover {died}"
    assert main(["incidents"]) == Exit.OK
    assert capsys.readouterr().out.splitlines()[-1] == told
    # Whoever reads the journal meanwhile is told too, beside what it says.
    assert main(["verify", str(died)]) == Exit.OK
    assert told in capsys.readouterr().err
    assert main(["incidents", "recover", "kiln-lane"]) == Exit.OK
    assert capsys.readouterr().out.startswith(f"1 rows brought into {died}")
    assert main(["incidents"]) == Exit.OK
    assert "NOT IN" not in capsys.readouterr().out
    assert main(["verify", str(died)]) == Exit.OK


def test_rows_of_another_incident_are_never_told_as_this_ones(
    died: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The journal they belong to is elsewhere; another has its name."""
    kept = died.rename(died.with_name("kept.journal"))
    with JournalReader(kept) as reader:
        header = reader.header().model_copy(update={"incident": "1" * 32})
    JournalWriter.create(died, header).close(final=True)
    assert main(["incidents"]) == Exit.OK
    said = capsys.readouterr().out.splitlines()
    assert not any("NOT IN" in line for line in said)
    assert f"rows of ANOTHER incident that had the name {died} are kept" in said[-1]
    assert main(["verify", str(died)]) != Exit.USAGE
    assert "NOT IN" not in capsys.readouterr().err


def test_a_journal_that_is_gone_is_listed_and_brought_back(
    journal: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    second = tmp_path / "second"
    second.mkdir()
    monkeypatch.setenv("OUTBY_SPILL_FOLDER", str(second))
    writer = JournalWriter.open(journal)
    rows, place = writer.last.last_row, spill.Spill(spill.spill_path(journal, second))
    place.make(writer, writer.last, writer.sessions(), lost=True).close(final=False)
    writer.close(final=False)
    journal.unlink()
    told = f"{journal} is GONE; {rows:,} rows of it are kept: outby incidents recover {journal}"
    assert main(["incidents"]) == Exit.OK
    assert capsys.readouterr().out.splitlines()[-1] == told
    for command in ("verify", "watch"):
        assert main([command, str(journal)]) == Exit.JOURNAL
        assert "bring it back: outby incidents recover" in capsys.readouterr().err
    assert main(["incidents", "recover", str(journal)]) == Exit.OK
    assert main(["verify", str(journal)]) == Exit.OK
    assert list(second.iterdir()) == []


def test_a_journal_whose_whole_folder_is_gone_is_brought_back(
    journal: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    second, folder = tmp_path / "second", tmp_path / "folder"
    second.mkdir()
    folder.mkdir()
    monkeypatch.setenv("OUTBY_SPILL_FOLDER", str(second))
    writer = JournalWriter.open(journal.rename(folder / journal.name))
    place = spill.Spill(spill.spill_path(writer.path, second))
    place.make(writer, writer.last, writer.sessions(), lost=True).close(final=False)
    writer.close(final=False)
    shutil.rmtree(folder)
    assert main(["incidents", "recover", str(writer.path)]) == Exit.OK
    assert main(["verify", str(writer.path)]) == Exit.OK
    assert folder.stat().st_mode & 0o077 == 0


def test_one_that_looks_half_made_but_has_rows_elsewhere_is_not_discarded(
    tmp_path: Path, journal: Path, capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    """Its log was lost before anything of it came into the file."""
    second = tmp_path / "second"
    second.mkdir()
    monkeypatch.setenv("OUTBY_SPILL_FOLDER", str(second))
    path = journal.with_name("young.journal")
    with JournalReader(journal) as reader:
        writer = JournalWriter.create(path, reader.header())
    place = spill.Spill(spill.spill_path(path, second))
    kept = place.make(writer, writer.last, writer.sessions(), lost=False)
    writer.begin_session("boot", 0, 1_000, "outby test")
    row = Row(1, RowKind.FACT, b'{"what":"boards_alive","alive":true}')
    kept.write([writer.sealer.seal([row], 1, Stamp(1, 1))])
    kept.close(final=False)
    writer.close(final=False)
    assert main(["incidents", "discard", str(path)]) == Exit.JOURNAL
    assert f"outby incidents recover {path}" in capsys.readouterr().err
    assert path.exists()


def test_the_log_of_a_journal_whose_name_another_took_is_listed(
    journal: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """It was all that was left of one; nobody else ever says that it lies there."""
    gone = journal.with_name("gone.journal")
    log = gone.with_name(f"{gone.name}-wal")
    log.write_bytes(b"rows")
    with JournalReader(journal) as reader:
        JournalWriter.create(gone, reader.header()).close(final=True)
    capsys.readouterr()
    assert main(["incidents"]) == Exit.OK
    told = capsys.readouterr().out.splitlines()[-1]
    assert told.startswith(f"kept, of an earlier {gone}: {log}.1: remove it")
    assert Path(f"{log}.1").read_bytes() == b"rows"
