import json
import os
from pathlib import Path

import pytest

from monitor.cli import main
from monitor.errors import Exit
from monitor.settings import Settings


def test_each_value_says_where_it_comes_from(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    path = os.environ["OUTBY_SETTINGS"]
    Path(path).write_text('officer = "R. Harrow"\nstage = "1"')
    monkeypatch.setenv("OUTBY_STAGE", "2")
    assert main(["settings", "--json"]) == Exit.OK
    found = {row["setting"]: row for row in json.loads(capsys.readouterr().out)}
    assert list(found) == list(Settings.model_fields)
    assert found["officer"] == {"setting": "officer", "value": "R. Harrow", "from": path}
    assert (found["stage"]["value"], found["stage"]["from"]) == ("2", "environment")
    assert (found["theme"]["value"], found["theme"]["from"]) == ("dark", "default")
    assert main(["settings"]) == Exit.OK
    said = capsys.readouterr().out
    assert f"{path}: read" in said
    assert 'officer           "R. Harrow"' in said
