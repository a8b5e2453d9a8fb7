import io
from pathlib import Path

import pytest

from monitor.board.session.recorder_process import to_go_on, to_open
from monitor.cli import build_parser, main
from monitor.cli.record import heed, new_path
from monitor.errors import BadJournal, Exit
from monitor.settings import Settings

WALL_NS = 1_700_000_000_000_000_000


def test_a_new_journal_is_named_for_day_and_incident(tmp_path: Path) -> None:
    settings = Settings(name='Kiln  Lane "A"', incidents_folder=str(tmp_path))
    path = new_path(settings, WALL_NS)
    assert path.parent == tmp_path
    assert path.name.startswith("2023-11-1")
    assert path.name.endswith("-kiln-lane-a.journal")


def test_a_name_that_is_taken_gets_a_number(tmp_path: Path) -> None:
    settings = Settings(name="Kiln Lane", incidents_folder=str(tmp_path))
    first = new_path(settings, WALL_NS)
    first.touch()
    second = new_path(settings, WALL_NS)
    second.touch()
    third = new_path(settings, WALL_NS)
    assert [p.name.removeprefix(first.stem) for p in (second, third)] == [
        "-2.journal",
        "-3.journal",
    ]


def test_a_name_of_no_letters_still_gives_a_file(tmp_path: Path) -> None:
    settings = Settings(name="???", incidents_folder=str(tmp_path))
    assert new_path(settings, WALL_NS).name.endswith("-incident.journal")


def test_nothing_is_assumed_at_an_opening(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("OUTBY_INCIDENTS_FOLDER", str(tmp_path))
    assert main(["record", str(tmp_path / "a.journal"), "--name", "Kiln Lane"]) == Exit.USAGE
    said = capsys.readouterr().err
    assert "--officer" in said
    assert "--procedure" in said
    assert list(tmp_path.iterdir()) == []


def test_a_journal_that_was_taken_away_is_not_opened_anew_by_a_board(tmp_path: Path) -> None:
    """Settings that say all that opens an incident would else open another in its place."""
    journal = tmp_path / "x.journal"
    told = to_go_on(journal, Settings(), ()).model_dump_json().encode()
    args = build_parser().parse_args(["record", "--told"])
    with pytest.raises(BadJournal, match="not there any more"):
        heed(args, io.BytesIO(told))
    journal.touch()
    heed(args, io.BytesIO(told))
    assert args.journal == journal


def test_a_new_incident_is_told_of_before_there_is_a_journal(tmp_path: Path) -> None:
    told = to_open(tmp_path / "x.journal", Settings(use="exercise")).model_dump_json().encode()
    args = build_parser().parse_args(["record", "--told"])
    heed(args, io.BytesIO(told))
    assert args.use == "exercise"
