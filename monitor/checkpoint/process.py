"""The keeper as a process: started beside a recorder, and what it does then."""

import contextlib
import json
import os
import signal
import subprocess
import threading
from collections.abc import Iterator
from pathlib import Path

from monitor import children
from monitor.errors import OutbyError
from monitor.journal import lock

LOOK_S = 5.0
"""How often it looks. Later than this, a recovery folds so much more."""
END_S = 1.0
"""So long a recorder that ends waits for it to end."""
TOLD_BYTES_MAX = 10_000
"""A path and a key."""
NICE = 19
"""Whatever else wants the processor goes first."""


@contextlib.contextmanager
def kept(journal: Path, *, wanted: bool, secret: bytes = b"") -> Iterator[None]:
    """Have checkpoints kept meanwhile, if they are ``wanted`` and a process can be started.

    It is told by a pipe which journal, and by which key (``secret``) to tag them: what is on a
    command line can be read by everybody.
    """
    process: subprocess.Popen[bytes] | None = None
    if wanted:
        with contextlib.suppress(OSError):
            process = subprocess.Popen(  # noqa: S603 - our own program
                children.line("monitor.checkpoint"),
                stdin=subprocess.PIPE,
                stdout=subprocess.DEVNULL,
                stderr=subprocess.DEVNULL,
                # Not the terminal's keys, but the same session: where the kernel shares the
                # processor by sessions, being nice counts only within one.
                process_group=0,
            )
            assert process.stdin is not None, "asked for"
            with process.stdin as pipe:
                pipe.write(json.dumps([str(journal.absolute()), secret.hex()]).encode())
    try:
        yield
    finally:
        if process is not None:
            process.terminate()
            with contextlib.suppress(subprocess.TimeoutExpired):
                process.wait(END_S)


def told(raw: bytes) -> tuple[Path, bytes]:
    """Which journal, and its key, as ``kept`` tells them. ValueError: that is something else."""
    journal, secret = json.loads(raw)
    return Path(journal), bytes.fromhex(secret)


def main(journal: Path, secret: bytes) -> None:
    """Be the keeper of a journal for as long as somebody records into it."""
    os.nice(NICE)
    signal.signal(signal.SIGTERM, _end)
    pause = threading.Event()
    while not pause.wait(LOOK_S) and not lock.is_free(journal):
        # Not before it is nice, nor before it is needed: a third of a second of work.
        from monitor.checkpoint.keeper import lock_place  # noqa: PLC0415

        # If another is there, it is of a recorder that was killed: it goes on, or ends by itself.
        with contextlib.suppress(OSError), _alone(lock_place(journal)) as alone:
            if alone:
                _keep(journal, pause, secret)
                return


def _end(*_: object) -> None:
    raise SystemExit


@contextlib.contextmanager
def _alone(place: Path) -> Iterator[bool]:
    """Whether no other keeps this journal; at the end, take away folders with nothing in them."""
    place.parent.parent.mkdir(mode=0o700, exist_ok=True)
    place.parent.mkdir(mode=0o700, exist_ok=True)
    held = lock.Lock.take(place)
    try:
        yield held is not None
    finally:
        if held is not None:
            held.release()
            with contextlib.suppress(OSError):
                place.parent.rmdir()
                place.parent.parent.rmdir()


def _keep(journal: Path, pause: threading.Event, secret: bytes) -> None:
    from monitor.checkpoint.keeper import Keeper  # noqa: PLC0415 - not before it is nice
    from monitor.incident.decoding import NOT_UNDERSTOOD  # noqa: PLC0415 - the same

    # A row that cannot be understood is for those to tell who fold for people.
    with contextlib.suppress(OutbyError, *NOT_UNDERSTOOD):
        keeper: Keeper | None = None
        while not lock.is_free(journal):
            keeper = keeper or Keeper(journal, secret=secret)
            if not keeper.look():
                return
            pause.wait(LOOK_S)
