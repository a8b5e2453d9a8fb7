import json
from pathlib import Path

import pytest

from simulators.truth import TruthFile


def test_a_run_leaves_its_head_and_its_lines(tmp_path: Path) -> None:
    path = tmp_path / "run.jsonl"
    truth = TruthFile(path, scenario="Kiln Lane", seed=7, boots_before=3)
    truth.write([{"what": "state", "t_ns": 1}, {"what": "frame", "t_ns": 2}])
    lines = [json.loads(line) for line in path.read_text().splitlines()]
    assert lines[0] == {
        "what": "run", "format": 1, "scenario": "Kiln Lane", "seed": 7, "boots_before": 3,
    }  # fmt: skip
    assert [line["t_ns"] for line in lines[1:]] == [1, 2]
    truth.close()


def test_a_place_that_cannot_be_written(tmp_path: Path) -> None:
    with pytest.raises(OSError, match="No such file"):
        TruthFile(tmp_path / "no" / "run.jsonl", scenario="x", seed=1, boots_before=0)
