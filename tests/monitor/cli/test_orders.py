import csv
import io
import json
import wave
from pathlib import Path

import pytest

import shared
from monitor.cli import main
from monitor.errors import Exit

GOLDEN = str(shared.path("journals", "kiln-lane.journal"))


def test_as_text(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["orders", GOLDEN]) == Exit.OK
    said = capsys.readouterr().out
    assert said.startswith("Kiln Lane, entry A  EXERCISE\n")
    assert said.endswith("No order was given.\n")


def test_as_fields(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["orders", GOLDEN, "--json"]) == Exit.OK
    read = json.loads(capsys.readouterr().out)
    assert (read["name"], read["use"], read["orders"]) == ("Kiln Lane", "exercise", [])


def test_as_a_table(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["orders", GOLDEN, "--format", "csv"]) == Exit.OK
    (head,) = csv.reader(io.StringIO(capsys.readouterr().out))
    assert head[:4] == ["use", "order", "what", "scope"]


def test_the_tone_as_a_file(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    path = tmp_path / "evacuation.wav"
    assert main(["orders", "--tone", str(path)]) == Exit.OK
    with wave.open(str(path)) as file:
        assert file.getnframes() == 3 * 4 * file.getframerate()  # ISO 8201: a cycle is 4 s
    assert "ISO 8201" in capsys.readouterr().out
    assert main(["orders", "--tone", str(path)]) == Exit.ALREADY_THERE
    assert main(["orders"]) == Exit.USAGE


def test_a_truth_file_that_is_none(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    assert main(["orders", GOLDEN, "--truth", str(tmp_path / "none")]) == Exit.FILE
    assert "truth file is not there" in capsys.readouterr().err
