import json
from pathlib import Path

import pytest

import shared
from monitor.cli import main
from monitor.errors import Exit

WAITED = 7
"""Dangers and cautions among the announcements in ``tests/golden/kiln-lane.expected.txt``: loss of
pressure, turn-back, no signal, distress, low air, nobody standing by, motion alarm."""
GOLDEN = str(shared.path("journals", "kiln-lane.journal"))


def test_the_alarms_as_text(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["report", GOLDEN, "--alarms"]) == Exit.OK
    said = capsys.readouterr().out
    assert said.startswith("Kiln Lane, entry A  EXERCISE\n")
    assert f"{WAITED} alarms waited for the officer" in said


def test_the_alarms_as_fields(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["report", GOLDEN, "--alarms", "--json"]) == Exit.OK
    read = json.loads(capsys.readouterr().out)
    assert (read["name"], read["alarms"]) == ("Kiln Lane", WAITED)


def test_no_journal_is_one_line(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["report", "nowhere", "--alarms"]) == Exit.JOURNAL
    said = capsys.readouterr()
    assert said.out == ""
    assert said.err == "outby: there is no such journal: nowhere: see outby incidents\n"


def test_the_page_under_its_own_name(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.chdir(tmp_path)
    assert main(["report", GOLDEN]) == Exit.OK
    assert capsys.readouterr().out.startswith("kiln-lane.html: names, whereabouts and health")
    page = (tmp_path / "kiln-lane.html").read_text("utf-8")
    assert page.startswith("<!DOCTYPE html>")
    assert page.endswith("</html>\n")


def test_it_writes_over_nothing(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    path = tmp_path / "mine.html"
    path.write_text("mine")
    assert main(["report", GOLDEN, "-o", str(path)]) == Exit.ALREADY_THERE
    assert "there is a file already" in capsys.readouterr().err
    assert path.read_text() == "mine"


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (["--json"], "outby: fields are of the alarms alone: --format json: say --alarms too\n"),
        (
            ["--alarms", "-o", "x.html"],
            "outby: the alarms are printed: --output: leave it out, or send them to a file\n",
        ),
    ],
)
def test_what_does_not_go_together(
    capsys: pytest.CaptureFixture[str], options: list[str], said: str
) -> None:
    assert main(["report", GOLDEN, *options]) == Exit.USAGE
    assert capsys.readouterr().err == said
