"""Which folders answer: one on a disk that hangs keeps nobody who only looks for a second place.

A disk that hangs keeps whoever asks it for as long as it likes. So each folder is tried in a thread
of its own, which is left to itself if nothing comes of it.
"""

import contextlib
import os
import threading
from collections.abc import Callable, Sequence
from pathlib import Path

ANSWER_S = 1.0
"""A disk that takes longer to write a name and to read what lies there is gone on without."""
FILES_MAX = 100
"""Spills in one folder that are tried."""
END_BYTES = 4_096


def answering(
    folders: Sequence[Path],
    within_s: float = ANSWER_S,
    tried: Callable[[Path], object] | None = None,
) -> tuple[list[Path], list[Path]]:
    """Give those that answer, in their order, and those that do not. All are tried at once.

    ``tried`` asks a folder what is to be asked of it: that something can be written and read there.
    One that refuses has answered.
    """
    tried = tried or _try
    threads = [threading.Thread(target=tried, args=(one,), daemon=True) for one in folders]
    over = threading.Event()
    watch = threading.Thread(target=_wait, args=(threads, over), daemon=True)
    for thread in threads:
        thread.start()
    watch.start()
    over.wait(within_s)
    hung = [one for one, thread in zip(folders, threads, strict=True) if thread.is_alive()]
    return [one for one in folders if one not in hung], hung


def _wait(threads: Sequence[threading.Thread], over: threading.Event) -> None:
    for thread in threads:
        thread.join()
    over.set()


def _try(folder: Path) -> None:
    """Write a name there, and read the end of every spill: what is in memory tells nothing.

    Nothing of it is open in this process yet: closing a file drops the locks that SQLite has on it.
    """
    with contextlib.suppress(OSError, StopIteration):
        there = next(one for one in (folder, *folder.parents) if one.is_dir())
        trial = there / f".outby-trial-{os.getpid()}"
        os.close(os.open(trial, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC | os.O_NOFOLLOW, 0o600))
        trial.unlink(missing_ok=True)
    with contextlib.suppress(OSError):
        for file in sorted(folder.glob("*.spill*"))[:FILES_MAX]:
            _read_end(file)


def _read_end(file: Path) -> None:
    with contextlib.suppress(OSError):
        fd = os.open(file, os.O_RDONLY | os.O_CLOEXEC)
        try:
            os.pread(fd, END_BYTES, max(0, os.fstat(fd).st_size - END_BYTES))
        finally:
            os.close(fd)
