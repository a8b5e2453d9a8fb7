"""One recorder a journal."""

import fcntl
import os
import stat
import subprocess
import sys
import threading
from collections.abc import Callable
from pathlib import Path

import pytest

from monitor.clock import Stamp
from monitor.journal.lock import Guard, Lock, holder, is_free, lock_path
from monitor.journal.writer import JournalWriter


def test_it_is_taken_once(path: Path) -> None:
    assert is_free(path)
    lock = Lock.take(path)
    assert lock is not None
    assert not is_free(path)
    assert Lock.take(path) is None
    assert not is_free(path)
    lock.release()
    assert is_free(path)


def test_a_board_that_is_kept_waiting_in_the_midst_of_asking_keeps_no_recorder_out(
    path: Path,
) -> None:
    """As on a busy machine: a recorder that was killed is to be started again meanwhile."""
    lock_path(path).touch()
    asking = os.open(lock_path(path), os.O_RDONLY)
    fcntl.flock(asking, fcntl.LOCK_SH)
    threading.Timer(0.3, os.close, (asking,)).start()
    lock = Lock.take(path)
    assert lock is not None
    lock.release()


def test_releasing_leaves_nothing_and_twice_is_harmless(path: Path) -> None:
    lock = Lock.take(path)
    assert lock is not None
    assert [p.name for p in path.parent.iterdir()] == [path.name + ".lock"]
    assert stat.S_IMODE(lock_path(path).stat().st_mode) == 0o600
    lock.release()
    lock.release()
    assert list(path.parent.iterdir()) == []


def test_asking_makes_no_file(path: Path) -> None:
    assert is_free(path)
    assert list(path.parent.iterdir()) == []


def test_a_lock_file_whose_holder_has_died_is_free(path: Path) -> None:
    """The lock goes with the process; the file may stay."""
    code = (
        "import os, sys; from pathlib import Path; from monitor.journal.lock import Lock;"
        "assert Lock.take(Path(sys.argv[1])); os._exit(9)"
    )
    done = subprocess.run([sys.executable, "-c", code, str(path)], check=False)  # noqa: S603
    assert done.returncode == 9
    assert lock_path(path).exists()
    assert is_free(path)
    with Lock.take(path) or Lock(-1, path) as lock:
        assert holder(path) is not None
        assert lock.path == lock_path(path)


def test_a_file_removed_by_its_holder_does_not_lock_twice(path: Path) -> None:
    """Somebody opened the old file just before its holder took it away: they must not have it."""
    first = Lock.take(path)
    assert first is not None
    lock_path(path).unlink()
    second = Lock.take(path)
    assert second is not None
    assert Lock.take(path) is None
    second.release()


def test_who_has_lost_the_file_takes_none_of_anothers_away(path: Path) -> None:
    first = Lock.take(path)
    assert first is not None
    lock_path(path).unlink()
    second = Lock.take(path)
    assert second is not None
    first.release()
    assert not is_free(path)
    second.release()


@pytest.mark.parametrize("held_later", [False, True])
def test_a_deleted_lock_file_lets_nobody_in(path: Path, *, held_later: bool) -> None:
    """Also where the journal was made after the lock was taken: an opening."""
    if held_later:
        first = Lock.take(path)
        path.touch()
        assert first is not None
        assert first.hold()
    else:
        path.touch()
        first = Lock.take(path)
        assert first is not None
    lock_path(path).unlink()
    assert not is_free(path)
    assert Lock.take(path) is None
    assert not is_free(path)
    assert first.restore()
    assert holder(path) is not None
    assert not first.restore()
    first.release()
    assert is_free(path)


def test_one_journal_under_two_names_is_recorded_once(path: Path) -> None:
    path.touch()
    other = path.with_name("other.outby")
    other.hardlink_to(path)
    with Lock.take(path) or Lock(-1, path):
        assert Lock.take(other) is None


def test_holding_the_journal_takes_no_lock_from_sqlite(begin: Callable[[], JournalWriter]) -> None:
    """While a lock is held and asked for, another process still may not write to the file."""
    writer = begin()
    path = writer.path
    lock = Lock.take(path)
    assert lock is not None
    writer.commit([], 0, Stamp(1, 1))
    is_free(path)
    code = (
        "import sqlite3, sys; c = sqlite3.connect(sys.argv[1], timeout=0);"
        "print(c.execute('PRAGMA journal_mode=DELETE').fetchall())"
    )
    done = subprocess.run(  # noqa: S603
        [sys.executable, "-c", code, str(path)], check=False, capture_output=True, text=True
    )
    assert "database is locked" in done.stderr, done.stdout
    writer.close(final=False)
    lock.release()


def test_a_guard_makes_a_deleted_file_anew(path: Path) -> None:
    path.touch()
    lock = Lock.take(path)
    assert lock is not None
    guard = Guard(lock, look_s=0.01)
    lock_path(path).unlink()
    for _ in range(500):
        if lock_path(path).exists():
            break
        threading.Event().wait(0.01)
    guard.end()
    assert holder(path) == os.getpid()
    assert Lock.take(path) is None
    lock.release()
    assert list(path.parent.iterdir()) == [path]


def test_what_is_no_lock_file_is_not_taken(path: Path, tmp_path: Path) -> None:
    other = tmp_path / "other"
    other.write_text("mine")
    lock_path(path).symlink_to(other)
    with pytest.raises(OSError, match="was not made by this program"):
        Lock.take(path)
    assert other.read_text() == "mine"


def test_asking_is_not_kept_waiting_by_a_pipe(path: Path) -> None:
    os.mkfifo(lock_path(path))
    assert is_free(path)


def test_the_holder_says_who_they_are(path: Path) -> None:
    assert holder(path) is None
    with Lock.take(path) or Lock(-1, path):
        assert holder(path) == int(lock_path(path).read_text())
