import json
from pathlib import Path

import pytest

import shared
from monitor.cli import main
from monitor.errors import Exit
from monitor.incident.decoding import event_of
from monitor.incident.events import Heard
from monitor.journal.reader import JournalReader

GOLDEN = shared.path("journals", "kiln-lane.journal")
S = 1_000_000_000


@pytest.fixture
def truth(tmp_path: Path) -> Path:
    """What a run would have written beside the golden journal; distress came 105 s into it."""
    with JournalReader(GOLDEN) as reader:
        heard = [e for row in reader.read(0).rows if isinstance(e := event_of(row), Heard)]
    notes: list[dict[str, object]] = [
        {"what": "run", "format": 1, "scenario": "Kiln Lane", "seed": 1},
        *(
            {"what": "frame", "t_ns": one.t, "pack": one.packet.identity,
             "sequence": one.packet.sequence}
            for one in heard[:50]
        ),
        {"what": "inject", "t_ns": 105 * S, "name": "caught under bricks"},
    ]  # fmt: skip
    path = tmp_path / "run.truth.jsonl"
    path.write_text("".join(json.dumps(note) + "\n" for note in notes))
    return path


def test_as_text(truth: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["score", str(GOLDEN), str(truth), "--width", "132"]) == Exit.OK
    said = capsys.readouterr().out
    assert "scenario Kiln Lane, seed 1" in said
    (line,) = (line for line in said.splitlines() if line.startswith("|caught under bricks "))
    assert " shown " in line


def test_as_a_page(truth: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "debrief.html"
    line = ["score", str(GOLDEN), str(truth), "--scenario", "kiln-lane", "--html", str(path)]
    assert main(line) == Exit.OK
    assert path.read_text().startswith("<!DOCTYPE html>")
    assert main(line) == Exit.FILE
    assert "there is a file already" in capsys.readouterr().err


def test_a_truth_file_that_is_not_there_is_said(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["score", str(GOLDEN), str(tmp_path / "none")]) == Exit.FILE
    assert capsys.readouterr().err.count("\n") == 1


def test_a_scenario_of_ones_own_must_be_named(
    truth: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    truth.write_text(truth.read_text().replace("Kiln Lane", "Mine"))
    assert main(["score", str(GOLDEN), str(truth)]) == Exit.USAGE
    assert capsys.readouterr().err == (
        "outby: the scenario does not come with the program: Mine: name it: --scenario\n"
    )
