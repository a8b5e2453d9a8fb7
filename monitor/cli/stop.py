"""``outby stop``: ends the recorder of an incident in good order; the incident stays open."""

import argparse
from pathlib import Path

from monitor.cli.options import Subparsers, add_command, add_settings, settings_of
from monitor.errors import BadUsage, Exit, NotAnswered

WAIT_S = 15.0
"""A recorder whose disk hangs takes some seconds to end."""
LOOK_S = 0.05

_DESCRIPTION = """\
Ends the recorder of the incident that is being recorded, as leaving the board with "stop recording
too" does: what it has heard is in the journal, every board says that recording was stopped on
purpose, and the incident stays open ("outby watch" or "outby record" go on with it).

While anybody is under air it refuses, and says so: nothing watches over them then. --anyway stops
all the same."""


def add_parser(subparsers: Subparsers) -> None:
    """Add the command."""
    parser = add_command(
        subparsers,
        "stop",
        run=run,
        summary="end the recording of an incident; it stays open",
        description=_DESCRIPTION,
        examples=(
            ("outby stop", "the one that is recorded here"),
            ("outby stop kiln-lane --anyway", "also with people under air"),
        ),
        exits=(Exit.FILE, Exit.JOURNAL, Exit.NOT_ANSWERED),
    )
    parser.add_argument("journal", metavar="JOURNAL", type=Path, nargs="?",
                        help="which; the one being recorded if not said")  # fmt: skip
    parser.add_argument_group("HOW").add_argument(
        "--anyway", action="store_true", help="also while people are under air"
    )
    add_settings(parser)


def run(args: argparse.Namespace) -> int:
    """Stop it. Raises BadUsage, BadJournal, NotAnswered."""
    import os
    import signal
    from threading import Event

    from monitor.cli.recorded import picture_of, the_one
    from monitor.journal import lock

    settings = settings_of(args)
    path = the_one(args.journal, settings)
    under_air = picture_of(path, settings).under_air
    if under_air and not args.anyway:
        what = f"{under_air} {'is' if under_air == 1 else 'are'} under air"
        raise BadUsage(what, str(path), "nothing would watch over them; else --anyway")
    pid = lock.holder(path)
    if pid is None:
        raise NotAnswered("its recorder is not known", str(path), "leave it from a board")
    try:
        os.kill(pid, signal.SIGTERM)
    except PermissionError:
        raise NotAnswered("it is another user's recorder", f"process {pid}") from None
    except ProcessLookupError:
        pass
    pause = Event()
    for _ in range(round(WAIT_S / LOOK_S)):
        if not lock.is_recorded(path):
            print(f"stopped: {path}; the incident stays open")
            return Exit.OK
        pause.wait(LOOK_S)
    raise NotAnswered("the recorder has not ended", f"process {pid}", "see its log")
