from pathlib import Path

import pytest

from monitor.cli import main
from monitor.errors import Exit


def test_where_nothing_is_recorded_nothing_is_stopped(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    assert main(["stop", "--incidents-folder", str(tmp_path)]) == Exit.NOT_ANSWERED
    assert capsys.readouterr().err.startswith("outby: nothing is recorded here: ")
