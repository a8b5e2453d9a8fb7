import json
import os
from pathlib import Path

import pytest
from prometheus_client.openmetrics import parser as openmetrics

from monitor.cli import main
from monitor.errors import Exit


def test_a_disk_that_hangs_keeps_no_collector(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    """A pipe keeps whoever opens it until somebody writes to it, as a dead disk does."""
    os.mkfifo(tmp_path / "x.spill")
    assert main(["status", "--incidents-folder", str(tmp_path)]) == Exit.NOT_ANSWERED
    said = f"the disk does not answer: {tmp_path}: see to it; a recorder that runs goes on"
    assert capsys.readouterr().err == f"outby: {said}\n"
    os.close(os.open(tmp_path / "x.spill", os.O_WRONLY))


def test_where_nothing_is_recorded(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    here = ["--incidents-folder", str(tmp_path)]
    assert main(["status", *here]) == Exit.NOT_ANSWERED
    assert capsys.readouterr().err == f"outby: nothing is recorded here: {tmp_path}\n"
    assert main(["status", "--json", *here]) == Exit.NOT_ANSWERED
    assert json.loads(capsys.readouterr().out) == []
    assert main(["status", "--metrics", *here]) == Exit.NOT_ANSWERED
    said = capsys.readouterr().out
    families = {one.name: one for one in openmetrics.text_string_to_metric_families(said)}
    assert families["outby_recordings"].samples[0].value == 0
