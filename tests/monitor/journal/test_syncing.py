"""The thread that brings the log to the disk."""

import os
import threading
from pathlib import Path

from monitor.journal.syncing import LogSyncer


def test_a_commit_counts_as_behind_until_it_is_synced(tmp_path: Path) -> None:
    wal = tmp_path / "wal"
    wal.touch()
    syncer = LogSyncer(wal)
    assert syncer.oldest_unsynced_ns() is None
    syncer.committed(5)
    syncer.committed(9)
    assert syncer.oldest_unsynced_ns() in {5, 9, None}
    syncer.stop()
    assert syncer.oldest_unsynced_ns() is None
    assert syncer.syncs in {1, 2}
    assert syncer.fault == ""
    syncer.stop()


def test_nothing_committed_is_nothing_synced(tmp_path: Path) -> None:
    (tmp_path / "wal").touch()
    syncer = LogSyncer(tmp_path / "wal")
    syncer.stop()
    assert syncer.syncs == 0


def test_a_sync_that_fails_is_kept_in_mind_and_the_disk_stays_behind() -> None:
    """The null device cannot be synced."""
    syncer = LogSyncer(Path(os.devnull))
    syncer.committed(5)
    syncer.committed(9)
    syncer.stop()
    assert syncer.oldest_unsynced_ns() == 5
    assert "Invalid argument" in syncer.fault


def test_no_thread_is_left(tmp_path: Path) -> None:
    (tmp_path / "wal").touch()
    before = threading.active_count()
    syncer = LogSyncer(tmp_path / "wal")
    assert threading.active_count() == before + 1
    syncer.stop()
    assert threading.active_count() == before
