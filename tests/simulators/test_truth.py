import json
from pathlib import Path

import pytest

from simulators.scenario_file import ScenarioFault, load, names, played
from simulators.truth import PLAYED_BYTES_MAX, TruthFile


def test_a_run_leaves_its_head_and_its_lines(tmp_path: Path) -> None:
    path = tmp_path / "run.jsonl"
    truth = TruthFile(path, scenario="Kiln Lane", seed=7, boots_before=3)
    truth.write([{"what": "state", "t_ns": 1}, {"what": "frame", "t_ns": 2}])
    lines = [json.loads(line) for line in path.read_text().splitlines()]
    assert lines[0] == {
        "what": "run", "format": 1, "scenario": "Kiln Lane", "seed": 7, "boots_before": 3,
        "trainee": "", "played": None,
    }  # fmt: skip
    assert [line["t_ns"] for line in lines[1:]] == [1, 2]
    truth.close()


def test_a_place_that_cannot_be_written(tmp_path: Path) -> None:
    with pytest.raises(OSError, match="No such file"):
        TruthFile(tmp_path / "no" / "run.jsonl", scenario="x", seed=1, boots_before=0)


@pytest.mark.parametrize("name", names())
def test_a_scenario_comes_out_of_it_as_it_was_played(name: str, tmp_path: Path) -> None:
    path, scenario = tmp_path / "run.jsonl", load(name)
    whole = scenario.model_dump(mode="json", exclude_defaults=True)
    TruthFile(
        path, scenario=scenario.title, seed=1, boots_before=0, trainee="M. Slip", played=whole
    ).close()
    head = json.loads(path.read_text())
    assert head["trainee"] == "M. Slip"
    assert played(json.dumps(head["played"]), "run.jsonl") == scenario


def test_one_that_is_longer_than_a_line_may_be_is_left_out(tmp_path: Path) -> None:
    path = tmp_path / "run.jsonl"
    long = {"about": "x" * PLAYED_BYTES_MAX}
    TruthFile(path, scenario="x", seed=1, boots_before=0, played=long).close()
    assert json.loads(path.read_text())["played"] is None


def test_what_is_no_scenario_is_told_by_its_key() -> None:
    with pytest.raises(ScenarioFault, match=r"run\.jsonl: title: is missing"):
        played("{}", "run.jsonl")
