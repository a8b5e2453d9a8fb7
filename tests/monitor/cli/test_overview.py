"""The overview printed once."""

import pytest

import shared
from monitor.cli import main
from monitor.errors import Exit

GOLDEN = str(shared.path("journals", "kiln-lane.journal"))


def test_doors_printed_once(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["overview", GOLDEN, "--once"]) == Exit.OK
    page = capsys.readouterr().out.splitlines()
    assert page[0].startswith("ALL DOORS ")
    # A record of years ago that nobody goes on with is not heard, and says so.
    assert any("DOOR NOT HEARD" in line for line in page)
    (line,) = [line for line in page if line.startswith(" 1 ")]
    assert "R. Harrow" in line
    assert "NOT H." in line


def test_an_operation_without_replicas(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["overview", "--operation", "no such one"]) == Exit.USAGE
    assert "there are no replicas" in capsys.readouterr().err
