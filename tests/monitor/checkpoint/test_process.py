"""Started beside a recorder only where it is wanted; the rest is for the functional tests."""

import json
from pathlib import Path

from monitor.checkpoint import process
from monitor.checkpoint.shelf import folder_of


def test_none_is_started_where_none_is_wanted(journal: Path) -> None:
    with process.kept(journal, wanted=False):
        assert not folder_of(journal).exists()


def test_one_is_ended_with_whoever_started_it(journal: Path) -> None:
    """There is no such journal and nobody records into it: it ends by itself, or is ended."""
    with process.kept(journal, wanted=True):
        pass
    assert not folder_of(journal).exists()


def test_what_it_is_told_comes_back_and_is_on_no_command_line(journal: Path) -> None:
    raw = json.dumps([str(journal), bytes(range(32)).hex()]).encode()
    assert process.told(raw) == (journal, bytes(range(32)))
    assert len(json.dumps(["x" * 4_096, "0" * 128])) < process.TOLD_BYTES_MAX
