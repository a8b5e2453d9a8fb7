import json

import pytest

import shared
from monitor.cli import main
from monitor.errors import Exit
from monitor.feed.lines import schema

GOLDEN = str(shared.path("journals", "kiln-lane.journal"))


def test_a_record_is_told_to_its_end(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["feed", GOLDEN, "--every", "120"]) == Exit.OK
    lines = [json.loads(line) for line in capsys.readouterr().out.splitlines()]
    assert [line["t_s"] for line in lines if line["line"] == "picture"][:3] == [0, 120, 240]
    assert lines[-1]["line"] == "end"
    assert {w["name"] for line in lines if line["line"] == "picture" for w in line["wearers"]} == {
        None
    }


def test_from_now_on_a_record_has_only_its_end(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["feed", GOLDEN, "--now", "--names"]) == Exit.OK
    picture, end = map(json.loads, capsys.readouterr().out.splitlines())
    assert (picture["line"], end["why"]) == ("picture", "not recorded")
    assert "A. Quoin" in {one["name"] for one in picture["wearers"]}


def test_the_schema_is_printed(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["feed", "--schema"]) == Exit.OK
    assert json.loads(capsys.readouterr().out) == json.loads(json.dumps(schema()))


@pytest.mark.parametrize("line", [["feed"], ["feed", GOLDEN, "--every", "0"]])
def test_what_cannot_be_told(line: list[str]) -> None:
    assert main(line) == Exit.USAGE
