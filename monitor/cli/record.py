"""``outby record``: the recorder alone, without a screen."""

import argparse
import contextlib
import logging
import re
import sys
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, BinaryIO

from monitor.cli.journals import journal_to_go_on, say_closed
from monitor.cli.options import (
    Subparsers,
    add_command,
    add_opening,
    add_settings,
    add_sound,
    require_opening,
    said_of,
    settings_of,
)
from monitor.errors import BadJournal, BadUsage, Exit, OutbyError

if TYPE_CHECKING:
    from monitor.recorder.launch import Launch
    from monitor.recorder.recorder import Recorder
    from monitor.settings import Settings

STDERR = 2
"""Its number, whatever stands for it in this process."""
NAME_MAX = 40
"""Characters of the incident's name in its file's name."""

_DESCRIPTION = """\
Hears packs on all links and writes everything into a journal, until the incident is closed from
a board or the process is told to end. Says one line when it is ready.

JOURNAL names the file. If it is there and not closed, recording goes on in it, and the options
that open an incident are not needed; else a new incident is opened in it. Without JOURNAL a new
incident is opened in the incidents folder.

Killed or out of power at any moment, it goes on where it was when it is started again. SIGTERM
and Ctrl+C end the process in good order; the incident stays open.
"""


def add_parser(subparsers: Subparsers) -> None:
    """Add the command."""
    parser = add_command(
        subparsers,
        "record",
        run=run,
        summary="record an incident, without a screen",
        description=_DESCRIPTION,
        exits=(
            Exit.FILE,
            Exit.LINK,
            Exit.JOURNAL,
            Exit.BUSY,
            Exit.NOT_ANSWERED,
        ),
        examples=(
            (
                'outby record --name "Kiln Lane" --officer "R. Harrow" --real --procedure plain',
                "open an incident and hear packs on UDP port 41900",
            ),
            (
                "outby record kiln-lane.journal --link serial:/dev/ttyUSB0",
                "go on with an incident, on a serial port",
            ),
        ),
    )
    parser.add_argument("journal", nargs="?", metavar="JOURNAL", type=Path,
                        help='the incident to go on with, by its name, "last" or a path; '
                             "or the path of one to make")  # fmt: skip
    # For a board that starts this: what it wants comes by a pipe, out of sight of ps.
    parser.add_argument("--told", action="store_true", help=argparse.SUPPRESS)
    add_opening(parser)
    add_sound(parser)
    add_settings(parser)


def run(args: argparse.Namespace) -> int:
    """Record until the incident is closed or the process is told to end."""
    import asyncio
    import os
    import signal

    from monitor.checkpoint.process import kept
    from monitor.clock import Clock
    from monitor.journal.half_made import discard_unmade
    from monitor.recorder.launch import Launch
    from monitor.service import Service

    if args.told:
        heed(args, sys.stdin.buffer)
    settings = settings_of(args)
    clock = Clock()
    said = args.journal
    path = journal_to_go_on(said, settings) if said else new_path(settings, clock.wall_ns())
    resume = path.exists()
    if not resume:
        require_opening(settings)
    # Journal and log tell of people: whatever is made here is the owner's alone.
    os.umask(0o077)
    if hasattr(signal, "SIGHUP"):
        # The terminal may go; recording goes on.
        signal.signal(signal.SIGHUP, signal.SIG_IGN)
    doing = "recording goes on in" if resume else "recording to"
    service = Service(os.environ, os.getpid())
    with Launch(path, settings, clock, said_of(args)) as launch:
        log = _log_beside(path)
        try:
            recorder = launch.resume() if resume else _begun(launch, args)
        except OutbyError:
            with contextlib.suppress(OSError):
                if not path.exists():
                    # Nothing was opened: what was wrong is said here, and no log of it is left.
                    logging.getLogger().removeHandler(log)
                    log.close()
                    discard_unmade(path)
            raise

        def ready() -> None:
            print(f"{doing} {path}: {launch.links.summary()}", flush=True)
            service.ready(f"{doing} {path.name}: {launch.links.summary()}")

        async def record() -> None:
            beating = asyncio.get_running_loop().create_task(service.beat())
            try:
                await recorder.run(ready)
            finally:
                beating.cancel()

        with kept(path, wanted=settings.checkpoints, secret=launch.journal_key):
            asyncio.run(record())
            service.ending()
        if recorder.closed:
            say_closed(path)
    return Exit.OK


def _begun(launch: "Launch", args: argparse.Namespace) -> "Recorder":
    return launch.begin(clock_checked=args.clock_checked, simulated=args.simulated)


def heed(args: argparse.Namespace, said: BinaryIO) -> None:
    """Put what a board tells by a pipe, ``said``, into ``args``. Raises BadUsage, BadJournal.

    A board that finds its recorder dead says nothing of the use: where the journal has been taken
    away, settings must not open a new incident in its place.
    """
    from pydantic import ValidationError

    from monitor.board.session.recorder_process import TOLD_BYTES_MAX, Told

    try:
        told = Told.model_validate_json(said.read(TOLD_BYTES_MAX))
    except ValidationError as error:
        what = error.errors(include_url=False, include_input=False)[0]["msg"]
        raise BadUsage(f"what a recorder is told is not right: {what}", "--told") from None
    vars(args).update(told.options)
    args.journal, args.clock_checked = Path(told.journal), told.clock_checked
    args.simulated = told.simulated
    if "use" not in told.options and not args.journal.exists():
        to_do = "bring it back, or open a new incident"
        raise BadJournal("the journal is not there any more", told.journal, to_do)


def new_path(
    settings: "Settings", wall_ns: int, taken: Callable[[Path], bool] = Path.exists
) -> Path:
    """Give the path of a new journal: day, time and name; a number is added until it is free."""
    when = datetime.fromtimestamp(wall_ns / 1e9, UTC).astimezone()
    name = re.sub(r"[^a-z0-9]+", "-", settings.name.lower()).strip("-")[:NAME_MAX] or "incident"
    stem = f"{when:%Y-%m-%d-%H%M}-{name}"
    folder = settings.incidents_path
    path, number = folder / f"{stem}.journal", 1
    while taken(path):
        number += 1
        path = folder / f"{stem}-{number}.journal"
    return path


def _log_beside(journal: Path) -> logging.Handler:
    """Log to a file beside the journal, which is given; and to the system's, if that listens."""
    import os

    from monitor.recorder.log_file import LogFile
    from monitor.service import JournalFormatter, is_journal

    root = logging.getLogger()
    if is_journal(os.environ, STDERR):
        # The same lines with their levels, by a thread too: the journal may hang as a disk may.
        told = LogFile(journal, lambda _path: os.dup(STDERR))
        told.setFormatter(JournalFormatter())
        root.addHandler(told)
    # A thread opens it: whole, so that it is the same file whatever folder is current by then.
    beside = LogFile(journal.absolute().with_name(journal.name + ".log"))
    root.addHandler(beside)
    root.setLevel(logging.INFO)
    return beside
