"""Three doors at once: what is said where they cannot be."""

from pathlib import Path

import pytest

from monitor.cli import main
from monitor.cli.drill_doors import ENTRIES, SCENARIOS
from monitor.errors import Exit
from simulators.scenario_file import load


def test_without_a_broker_it_is_said(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setenv("PATH", str(tmp_path))
    assert main(["drill", "--doors", "--incidents-folder", str(tmp_path / "x")]) == Exit.USAGE
    assert "the broker is not installed: nats-server" in capsys.readouterr().err
    assert not (tmp_path / "x").exists()


def test_no_pack_is_at_two_of_the_doors() -> None:
    """Else somebody would be under air on two boards from the start."""
    assert len(SCENARIOS) == len(ENTRIES)
    packs = [one.pack for name in SCENARIOS for one in load(name).packs if one.pack]
    assert len(packs) == len(set(packs))
