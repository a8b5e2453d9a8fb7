import json
from pathlib import Path

import pytest

import shared
from monitor.cli import main
from monitor.errors import Exit

GOLDEN = str(shared.path("journals", "kiln-lane.journal"))


@pytest.fixture(autouse=True)
def no_settings(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """Whoever runs the tests may have settings of their own."""
    path = tmp_path / "settings.toml"
    path.write_text("")
    monkeypatch.setenv("OUTBY_SETTINGS", str(path))


def test_the_alarms_as_text(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["report", GOLDEN, "--alarms"]) == Exit.OK
    said = capsys.readouterr().out
    assert said.startswith("Kiln Lane, entry A  EXERCISE\n")
    assert "6 alarms waited for the officer" in said


def test_the_alarms_as_fields(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["report", GOLDEN, "--alarms", "--json"]) == Exit.OK
    read = json.loads(capsys.readouterr().out)
    assert (read["name"], read["alarms"]) == ("Kiln Lane", 6)


def test_no_journal_is_one_line(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["report", "nowhere", "--alarms"]) == Exit.JOURNAL
    said = capsys.readouterr()
    assert said.out == ""
    assert said.err == "outby: there is no such journal: nowhere: see outby incidents\n"
