import json
from pathlib import Path

import pytest

import shared
from monitor.cli import main
from monitor.errors import Exit
from monitor.incident.decoding import event_of
from monitor.incident.events import Heard
from monitor.journal.reader import JournalReader
from simulators.scenario_file import load

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
    line = ["score", str(GOLDEN), str(truth), "--scenario", "kiln-lane", "-o", str(path)]
    assert main(line) == Exit.OK
    assert path.read_text().startswith("<!DOCTYPE html>")
    assert main(line) == Exit.ALREADY_THERE
    assert "there is a file already" in capsys.readouterr().err


def test_a_truth_file_that_is_not_there_is_said(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["score", str(GOLDEN), str(tmp_path / "none.jsonl")]) == Exit.FILE
    assert capsys.readouterr().err.count("\n") == 1


def test_a_scenario_of_ones_own_must_be_named(
    truth: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    truth.write_text(truth.read_text().replace("Kiln Lane", "Mine"))
    assert main(["score", str(GOLDEN), str(truth)]) == Exit.USAGE
    assert capsys.readouterr().err == (
        "outby: the scenario does not come with the program: Mine: name it: --scenario\n"
    )


def played(truth: Path, **more: object) -> None:
    """Put the scenario as it was played into the run's line."""
    scenario = load("kiln-lane").model_dump(mode="json", exclude_defaults=True)
    first, rest = truth.read_text().split("\n", 1)
    head = json.loads(first) | {"played": scenario} | more
    truth.write_text(json.dumps(head) + "\n" + rest)


def test_it_is_judged_by_the_scenario_as_it_was_played(
    truth: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Whatever a file of that title says today; whose run it was stands on top."""
    played(truth, scenario="Mine", trainee="M. Slip")
    assert main(["score", str(GOLDEN), str(truth), "--width", "132"]) == Exit.OK
    said = capsys.readouterr().out
    assert "trainee M. Slip" in said
    assert "caught under bricks" in said
    played(truth, played={"title": 3})
    assert main(["score", str(GOLDEN), str(truth)]) == Exit.FILE
    error = capsys.readouterr().err
    assert error.startswith("outby: the scenario in the truth file: ")
    assert error.count("\n") == 1


def test_what_could_not_happen_is_told_as_that(truth: Path, tmp_path: Path) -> None:
    told = {"what": "inject", "t_ns": 600 * S, "name": "one more collapse", "shows": "motion_alarm",
            "wearers": [8], "shows_within_s": 5, "could_not": "wearer 8 is out"}  # fmt: skip
    truth.write_text(truth.read_text() + json.dumps(told) + "\n")
    page = tmp_path / "debrief.html"
    assert main(["score", str(GOLDEN), str(truth), "-o", str(page)]) == Exit.OK
    assert "could not happen: wearer 8 is out" in page.read_text("utf-8")


def test_several_runs_are_compared(
    truth: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    copy = tmp_path / "again.journal"
    copy.write_bytes(GOLDEN.read_bytes())
    line = ["score", str(GOLDEN), str(truth), str(copy), "--width", "140"]
    assert main(line) == Exit.OK
    said = capsys.readouterr().out
    assert "2 runs compared" in said
    # Beside the copy there is no truth file: that is no fault, and it is said.
    assert "no truth file" in said
    path = tmp_path / "runs.html"
    assert main([*line[:-2], "-o", str(path)]) == Exit.OK
    assert "2 runs compared" in path.read_text("utf-8")


def test_a_truth_file_stands_behind_its_journal(
    truth: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for files in ([str(truth), str(GOLDEN)], [str(GOLDEN), str(truth), str(truth)]):
        assert main(["score", *files]) == Exit.USAGE
        assert "name the journal first" in capsys.readouterr().err


def test_too_many_runs_are_said(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["score", *[str(GOLDEN)] * 21]) == Exit.USAGE
    assert "at most 20" in capsys.readouterr().err
