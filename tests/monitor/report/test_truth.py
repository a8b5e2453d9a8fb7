"""What a truth file tells, in the time of the incident."""

import json
from pathlib import Path

import pytest

import shared
from monitor.errors import BadFile
from monitor.incident.decoding import event_of
from monitor.incident.events import Heard
from monitor.journal.reader import JournalReader
from monitor.report.truth import read_truth

GOLDEN = shared.path("journals", "kiln-lane.journal")
S = 1_000_000_000
EARLIER_NS = 7 * S
"""The run of these truth files began so long before the incident was opened."""


def truth(path: Path, *notes: dict[str, object]) -> Path:
    path.write_text("".join(json.dumps(note) + "\n" for note in notes))
    return path


def frames() -> list[dict[str, object]]:
    """What a truth file says of the first frames of the golden journal."""
    with JournalReader(GOLDEN) as reader:
        heard = [e for row in reader.read(0).rows if isinstance(e := event_of(row), Heard)]
    return [
        {
            "what": "frame", "t_ns": one.t + EARLIER_NS, "pack": one.packet.identity,
            "sequence": one.packet.sequence, "copy": 0, "kind": "status", "lost": None,
        }
        for one in heard[:50]
    ]  # fmt: skip


def tone(pack: int, from_s: int, to_s: int) -> dict[str, object]:
    return {
        "what": "tone", "t_ns": to_s * S, "pack": pack, "order": 1, "from_ns": from_s * S,
        "to_ns": to_s * S,
    }  # fmt: skip


def test_the_two_times_are_brought_together_by_the_frames(tmp_path: Path) -> None:
    notes = [{"what": "run", "format": 1}, *frames(), tone(101, 60, 72), tone(101, 90, 95)]
    found = read_truth(truth(tmp_path / "run.jsonl", *notes), GOLDEN).tones
    assert found == {101: ((53 * S, 65 * S), (83 * S, 88 * S))}


def test_frames_that_took_long_do_not_shift_it(tmp_path: Path) -> None:
    notes = frames()
    for note in notes[:20]:
        note["t_ns"] = int(str(note["t_ns"])) - 5 * S
    found = read_truth(truth(tmp_path / "run.jsonl", *notes, tone(102, 60, 72)), GOLDEN).tones
    assert found == {102: ((53 * S, 65 * S),)}


@pytest.mark.parametrize(
    "text",
    [
        "rubbish",
        "[" * 10_000,
        "9" * 5_000,
        "\x00",
        '{"pack": 1}\n',
        '{"pack": 1, "what": "tone"}\n',
    ],
)
def test_another_file_is_said(tmp_path: Path, text: str) -> None:
    path = tmp_path / "run.jsonl"
    path.write_text(text)
    with pytest.raises(BadFile, match=r"not a truth file|has a line that is too long"):
        read_truth(path, GOLDEN)


def test_no_file_is_said(tmp_path: Path) -> None:
    with pytest.raises(BadFile, match="truth file is not there"):
        read_truth(tmp_path / "run.jsonl", GOLDEN)


def test_the_truth_of_another_run_is_said(tmp_path: Path) -> None:
    with pytest.raises(BadFile, match="no frame of this journal"):
        read_truth(truth(tmp_path / "run.jsonl", tone(101, 1, 2)), GOLDEN)


def test_injects_come_in_incident_time_with_the_scenario_and_its_seed(tmp_path: Path) -> None:
    notes = [
        {"what": "run", "format": 1, "scenario": "Kiln Lane", "seed": 7},
        *frames(),
        {"what": "inject", "t_ns": 60 * S, "name": "free flow", "wearers": [4], "deed": {}},
    ]
    found = read_truth(truth(tmp_path / "run.jsonl", *notes), GOLDEN)
    assert (found.title, found.seed) == ("Kiln Lane", 7)
    assert found.injects == ((53 * S, "free flow"),)
    assert found.ahead_ns == -EARLIER_NS


def test_true_pressures_come_in_incident_time_by_wearer(tmp_path: Path) -> None:
    notes: list[dict[str, object]] = [
        *frames(),
        {"what": "state", "t_ns": 20 * S, "pack": 101, "wearer": 1, "pressure_bar": 299.5},
        {"what": "state", "t_ns": 20 * S, "pack": None, "wearer": 2, "pressure_bar": 250.0},
        {"what": "state", "t_ns": 25 * S, "pack": 101, "wearer": 1, "pressure_bar": 299.0},
    ]
    found = read_truth(truth(tmp_path / "run.jsonl", *notes), GOLDEN)
    shift = -EARLIER_NS
    assert found.pressures == {
        1: [(20 * S + shift, 299.5), (25 * S + shift, 299.0)],
        2: [(20 * S + shift, 250.0)],
    }
