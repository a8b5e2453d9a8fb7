import json
from pathlib import Path

import pytest

from monitor.cli import main
from monitor.errors import Exit

WHAT = ["disk", "buffers", "clock", "terminal", "signs", "sound", "ports", "keys"]


def test_every_part_has_a_line(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    main(["doctor", "--sound", "off", "--incidents-folder", str(tmp_path)])
    lines = capsys.readouterr().out.splitlines()
    assert [line.split()[1] for line in lines] == WHAT
    assert {line.split()[0] for line in lines} <= {"good", "look", "bad"}


def test_what_is_bad_is_told_by_the_exit_code(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    line = ["doctor", "--sound", "no-such-player", "--json", "--incidents-folder", str(tmp_path)]
    assert main(line) == Exit.NOT_ANSWERED
    found = json.loads(capsys.readouterr().out)
    assert [one["what"] for one in found] == WHAT
    assert next(one for one in found if one["what"] == "sound")["verdict"] == "bad"
