from pathlib import Path

import pytest

import shared
from monitor.cli import main
from monitor.errors import Exit

GOLDEN = str(shared.path("journals", "kiln-lane.journal"))


def test_a_journal_that_no_drill_made_is_said(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["instruct", GOLDEN]) == Exit.USAGE
    assert "no drill has been run into it" in capsys.readouterr().err


def test_no_drill_runs(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    assert main(["instruct", "--incidents-folder", str(tmp_path)]) == Exit.USAGE
    assert "no drill runs now" in capsys.readouterr().err


def test_a_terminal_that_cannot_draw_is_said(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    journal = tmp_path / "one.journal"
    journal.write_bytes(Path(GOLDEN).read_bytes())
    (tmp_path / "one.truth.jsonl").write_text('{"what":"run","scenario":"Kiln Lane"}\n')
    assert main(["instruct", str(journal)]) == Exit.USAGE
    assert "cannot draw" in capsys.readouterr().err
