import json
from pathlib import Path

import pytest
from prometheus_client.openmetrics import parser as openmetrics

from monitor.cli import main
from monitor.errors import Exit


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
