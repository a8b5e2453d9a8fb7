"""What the keeper does, once it is started.

It keeps two things, each in a fold of its own, so that none can spoil the other: checkpoints for
whoever opens the incident, and what a report has gathered.
"""

import contextlib
import os
import signal
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from monitor.errors import OutbyError
from monitor.journal import lock

LOOK_S = 5.0
"""How often it looks. Later than this, a recovery folds so much more."""
NICE = 19
"""Whatever else wants the processor goes first."""


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
    # Not before it is nice.
    from monitor.checkpoint.keeper import Follow, Keeper  # noqa: PLC0415
    from monitor.incident.decoding import NOT_UNDERSTOOD  # noqa: PLC0415
    from monitor.journal.reader import JournalReader  # noqa: PLC0415
    from monitor.report.gathered_before import gatherings_of  # noqa: PLC0415
    from monitor.report.gathering import Gathering  # noqa: PLC0415

    # A row that cannot be understood is for those to tell who fold for people.
    with contextlib.suppress(OutbyError, *NOT_UNDERSTOOD):
        keepers: tuple[Follow[Any], ...] = ()
        while not lock.is_free(journal):
            if not keepers:
                with JournalReader(journal) as reader:
                    gathered = gatherings_of(journal, reader.header(), secret)
                keepers = (
                    Keeper(journal, secret=secret),
                    Follow(journal, gathered, Gathering),
                )
            if not any([keeper.look() for keeper in keepers]):  # noqa: C419 - each is to look
                return
            pause.wait(LOOK_S)
