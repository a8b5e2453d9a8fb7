"""A disk whose every sync takes three seconds: nothing that matters waits for it."""

from collections.abc import Callable
from pathlib import Path

import pytest

from tests.functional.conftest import Home, folded, prove, wait_recording
from tests.functional.packs import Packs
from tests.functional.patience import wait_until
from tests.functional.test_recording import opening

SOON_S = 1.0
"""A third of one sync; with a quiet machine it takes some milliseconds."""


@pytest.fixture(scope="module")
def slow_sync(built: Callable[[str], Path]) -> Path:
    return built("slow_sync")


def calls(journal: Path, count: int) -> Callable[[], bool]:
    """Whether so many distress alarms are in the journal."""
    return lambda: sum(a.kind == "distress" for a in folded(journal).alarms) == count


def test_alarms_do_not_wait_for_a_slow_disk_and_the_board_is_told(
    home: Home, journal: Path, port: int, packs: Packs, slow_sync: Path
) -> None:
    sign = home.folder / "slow"
    home.start(*opening(journal, port), LD_PRELOAD=str(slow_sync), SLOW_SYNC_WHILE=str(sign))
    wait_recording(journal)
    prove(packs, 101)
    sign.touch()
    for count, identity in enumerate((101, 102, 201, 202), start=1):
        packs.send(identity, distress=True)
        with home.promised(SOON_S):
            wait_until(calls(journal, count), "the alarm in the journal")
    # More than two seconds are not safe from a power cut while a sync of three seconds runs.
    wait_until(lambda: folded(journal).disk == "behind", "the disk is said to be behind")
    sign.unlink()
    wait_until(lambda: folded(journal).disk == "ok", "the disk is well again")
