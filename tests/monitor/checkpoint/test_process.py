"""Started beside a recorder only where it is wanted; the rest is for the functional tests."""

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
