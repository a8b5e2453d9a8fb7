import stat
from pathlib import Path

import pytest

import shared
from monitor.cli import main
from monitor.errors import Exit

GOLDEN = str(shared.path("journals", "kiln-lane.journal"))


def test_as_text(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["handover", GOLDEN, "--width", "120"]) == Exit.OK
    said = capsys.readouterr().out
    assert said.startswith("EXERCISE\nKiln Lane, entry A")
    assert "handed over by" in said
    assert max(map(len, said.splitlines())) <= 120


def test_as_a_page_for_its_owner_alone(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    path = tmp_path / "handover.html"
    assert main(["handover", GOLDEN, "--output", str(path)]) == Exit.OK
    assert path.read_text().startswith("<!DOCTYPE html>")
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert main(["handover", GOLDEN, "--output", str(path)]) == Exit.ALREADY_THERE
    assert "there is a file already" in capsys.readouterr().err


def test_too_narrow_is_said(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["handover", GOLDEN, "--width", "79"]) == Exit.USAGE
    assert capsys.readouterr().err == ("outby: too narrow for its tables: --width: 80 or more\n")


def test_only_a_file_is_made_anew(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    assert main(["handover", GOLDEN, "--renew"]) == Exit.USAGE
    assert "only a file can be made anew" in capsys.readouterr().err
    path = tmp_path / "door.html"
    # Nobody records into the golden journal: the file is made once, and that is all.
    assert main(["handover", GOLDEN, "--output", str(path), "--renew"]) == Exit.OK
    assert path.is_file()
