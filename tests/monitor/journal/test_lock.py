"""One recorder a journal."""

import stat
import subprocess
import sys
from pathlib import Path

from monitor.journal.lock import Lock, holder, is_free, lock_path


def test_it_is_taken_once(path: Path) -> None:
    assert is_free(path)
    lock = Lock.take(path)
    assert lock is not None
    assert not is_free(path)
    assert Lock.take(path) is None
    assert not is_free(path)
    lock.release()
    assert is_free(path)


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


def test_the_holder_says_who_they_are(path: Path) -> None:
    assert holder(path) is None
    with Lock.take(path) or Lock(-1, path):
        assert holder(path) == int(lock_path(path).read_text())
