import json
import socket

import pytest

from monitor.cli import main
from monitor.cli.conformance import as_json, lines
from monitor.errors import Exit
from simulators.conformance.rules import RULES
from simulators.conformance.trial import Trial
from simulators.conformance.vectors import check

S = 1_000_000_000


@pytest.fixture
def port() -> int:
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


class Even:
    """No random at all."""

    def random(self) -> float:
        return 0.5


@pytest.fixture
def trial() -> Trial:
    made = Trial(None, Even(), 0, length_ns=S)  # type: ignore[arg-type]
    made.hear(2 * S, b"\x01" * 40)
    return made


def test_as_text(trial: Trial) -> None:
    text = list(lines(trial, check(), trial.rows(3 * S)))
    assert text[0].startswith("this program: all ")
    assert text[1] == "no pack"
    (at,) = (n for n, line in enumerate(text) if "FAILED" in line)
    assert text[at].split("  ")[0] == RULES["checksum"].what
    assert text[at + 1] == "    2.00 s: checksum wrong: damaged on its way"
    assert text[at + 2].split() == ["01"] * 26
    assert text[at + 3].split() == ["01"] * 14
    assert text[-1] == f"0 passed, 1 failed, {len(RULES) - 1} not seen"
    assert max(map(len, text)) <= 100


def test_the_clock_of_the_pack_is_told(trial: Trial) -> None:
    for second in range(60):
        trial.conduct.timing.clock.take(second * S, second * (S - S // 500))
    trial.conduct.timing.end(60 * S, lossy=False)
    rows = trial.rows(60 * S)
    text = list(lines(trial, check(), rows))
    assert text[2] == "its clock: 2000 parts in a million slow, over 40 s"
    assert json.loads(as_json(trial, check(), rows))["clock_slow_ppm"] == 2000
    (row,) = (row for row in rows if row.name == "clock")
    assert row.verdict == "failed"


def test_as_json(trial: Trial) -> None:
    told = json.loads(as_json(trial, check(), trial.rows(3 * S)))
    assert (told["pack"], told["frames"], told["other_packs"]) == (None, 0, [])
    assert [rule["name"] for rule in told["rules"]] == list(RULES)
    (failed,) = (rule for rule in told["rules"] if rule["verdict"] == "failed")
    assert failed["first"] == {
        "at_s": 2.0, "why": "checksum wrong: damaged on its way", "frame": "01" * 40
    }  # fmt: skip
    assert failed["faults"] == 1


def test_no_pack_is_said_with_its_own_code(port: int, capsys: pytest.CaptureFixture[str]) -> None:
    line = ["conformance", "--link", f"udp:127.0.0.1:{port}", "--for", "1"]
    assert main(line) == Exit.NOT_ANSWERED
    assert capsys.readouterr().err.splitlines()[-1].startswith("outby: no pack was heard: udp")


def test_a_port_that_is_taken_is_said(capsys: pytest.CaptureFixture[str]) -> None:
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as taken:
        taken.bind(("127.0.0.1", 0))
        port = taken.getsockname()[1]
        assert main(["conformance", "--link", f"udp:127.0.0.1:{port}"]) == Exit.LINK
    assert "in use" in capsys.readouterr().err


@pytest.mark.parametrize(
    "line", [["--for", "0"], ["--for", "3601"], ["--pack", "0"], ["--link", "tcp:5"]]
)
def test_what_cannot_be_is_said(line: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["conformance", *line]) == Exit.USAGE
    assert capsys.readouterr().err.count("\n") == 1
