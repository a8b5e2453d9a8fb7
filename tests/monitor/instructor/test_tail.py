"""What really is, from a truth file that grows."""

import json
from pathlib import Path
from typing import Any

import pytest

from monitor.instructor.tail import Really, TruthTail, take

STATE: dict[str, Any] = {
    "what": "state", "t_ns": 5, "pack": 101, "wearer": 1, "pressure_bar": 287.3, "usable_l": 1900,
    "rate_l_min": 41.2, "gas_c": 20, "still_s": 3.0, "work": "walk", "breathing_from_set": True,
    "place": "loft", "x_m": 1, "y_m": 2, "floor": 1, "way_back_s": 40,
}  # fmt: skip


def line(**note: object) -> str:
    return json.dumps(note) + "\n"


def test_the_newest_state_of_each_counts(tmp_path: Path) -> None:
    path = tmp_path / "run.jsonl"
    tail = TruthTail(path)
    assert not tail.poll()
    path.write_text(line(what="run", scenario="Kiln Lane", seed=1) + line(**STATE))
    assert tail.poll()
    assert (tail.really.scenario, tail.really.wearers[1].bar) == ("Kiln Lane", 287.3)
    with path.open("a") as file:
        file.write(line(**{**STATE, "t_ns": 9, "pressure_bar": 280.0})[:-20])
    tail.poll()
    assert tail.really.wearers[1].bar == 287.3
    with path.open("a") as file:
        file.write(line(**{**STATE, "t_ns": 9, "pressure_bar": 280.0})[-20:])
    tail.poll()
    assert (tail.really.wearers[1].bar, tail.really.t_ns) == (280.0, 9)


def test_what_came_what_was_ordered_what_was_refused() -> None:
    really = Really()
    take(really, {"what": "inject", "t_ns": 7, "name": "free flow"})
    take(really, {"what": "order", "t_ns": 8, "pack": 101, "order": 1, "kind": "COME_OUT"})
    take(really, {"what": "instructor", "t_ns": 9, "refused": "there is no wearer 9"})
    assert really.came == [(7, "free flow")]
    assert really.ordered == {101: "come out"}
    assert really.refused == "there is no wearer 9"
    take(really, {"what": "instructor", "t_ns": 10, "do": "stand", "still": True})
    assert really.refused == ""


@pytest.mark.parametrize(
    "broken",
    ["x\n", "[]\n", "{}\n", '{"what":"state","t_ns":1}\n', '{"what":"order","t_ns":"x"}\n'],
)
def test_a_line_that_is_none_is_passed_over(tmp_path: Path, broken: str) -> None:
    path = tmp_path / "run.jsonl"
    path.write_text(broken + line(**STATE))
    tail = TruthTail(path)
    tail.poll()
    assert tail.really.wearers[1].wearer == 1
