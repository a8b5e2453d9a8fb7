"""``outby replay`` from the command line."""

from pathlib import Path

import pytest

from monitor.cli import main
from monitor.errors import Exit
from shared import path

GOLDEN = str(path("journals", "kiln-lane.journal"))


def test_plain_prints_to_the_end(capsys: pytest.CaptureFixture[str]) -> None:
    """The tests' own output is no terminal, so sentences come without asking for them, too."""
    assert main(["replay", GOLDEN, "--plain"]) == Exit.OK
    plain = capsys.readouterr().out
    assert plain.startswith("REPLAY: nothing here is live.")
    assert "MOTION ALARM" in plain
    assert main(["replay", GOLDEN]) == Exit.OK
    assert capsys.readouterr().out == plain


def test_it_begins_where_it_is_told(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["replay", GOLDEN, "--plain"]) == Exit.OK
    whole = capsys.readouterr().out
    assert main(["replay", GOLDEN, "--plain", "--at", "300"]) == Exit.OK
    assert len(capsys.readouterr().out) < len(whole)


@pytest.mark.parametrize(
    "options", [("--speed", "0"), ("--speed", "fast"), ("--at", "noon"), ("--at", "-3")]
)
def test_what_cannot_be(options: tuple[str, str], capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["replay", GOLDEN, f"{options[0]}={options[1]}"]) == Exit.USAGE
    assert "no such" in capsys.readouterr().err


def test_a_time_of_day_that_never_was(capsys: pytest.CaptureFixture[str]) -> None:
    """The golden incident is of some ten minutes; one of these is not in it in any zone."""
    told = [main(["replay", GOLDEN, "--plain", "--at", at]) for at in ("03:00:00", "03:30:00")]
    assert Exit.USAGE in told
    assert "it is not in the recording, which goes from" in capsys.readouterr().err


def test_no_such_journal(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["replay", str(tmp_path / "none")]) == Exit.JOURNAL
    assert "there is no such journal" in capsys.readouterr().err
