"""``outby feed``: the picture and every announcement as JSON Lines, live or from a record."""

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from monitor.cli.journals import journal_at
from monitor.cli.options import WHICH, Subparsers, add_command, add_settings, settings_of
from monitor.errors import BadJournal, BadUsage, Exit
from shared.printable import as_json

if TYPE_CHECKING:
    from collections.abc import Iterable

    from monitor.feed.lines import Line
    from monitor.feed.telling import Telling
    from monitor.journal.reader import JournalReader

LOOK_S = 0.2
EVERY_S = 5.0
EVERY_S_MIN, EVERY_S_MAX = 0.1, 3_600.0
NS_PER_S = 1_000_000_000

_DESCRIPTION = """\
Prints an incident for other programs, one JSON object a line: the picture, as every board shows
it, every few seconds of the incident; and each announcement, when something becomes an alarm or is
said again. Of a journal that is being recorded it goes on until recording ends; the last line is
always the end. It reads the journal alone and can delay nothing there.

Each line has its kind ("line": picture, announcement, end) and the version of the format; --schema
prints the JSON Schema that they keep. Names of people and where they are are null unless --names
is said: numbers are enough to join lines by. It is no alarm: who watches over people looks at the
board.

Where the journal's disk hangs, this stands still; boards go on."""


def add_parser(subparsers: Subparsers) -> None:
    """Add the command."""
    parser = add_command(
        subparsers,
        "feed",
        run=run,
        summary="picture and announcements as JSON Lines, live or recorded",
        description=_DESCRIPTION,
        examples=(
            ("outby feed kiln-lane --now", "from now on, as it goes"),
            ("outby feed kiln-lane --every 60", "the whole record, a picture a minute"),
            ("outby feed --schema", "what a line may hold"),
        ),
        exits=(Exit.FILE, Exit.JOURNAL),
    )
    parser.add_argument("journal", metavar="JOURNAL", type=Path, nargs="?",
                        help=WHICH)  # fmt: skip
    group = parser.add_argument_group("WHAT IS TOLD")
    group.add_argument("--now", action="store_true", help="begin at the end of what is recorded")
    group.add_argument("--every", type=float, default=EVERY_S, metavar="SECONDS",
                       help=f"between two pictures; {EVERY_S:g} if not said")  # fmt: skip
    group.add_argument("--names", action="store_true", help="with names and whereabouts")
    group.add_argument("--schema", action="store_true", help="print the JSON Schema, and end")
    add_settings(parser)


def run(args: argparse.Namespace) -> int:
    """Print it. Raises BadUsage, BadJournal, BadFile."""
    from monitor.feed.lines import schema
    from monitor.feed.telling import Telling
    from monitor.incident.decoding import NOT_UNDERSTOOD, why
    from monitor.journal.reader import JournalReader

    if args.schema:
        print(as_json(schema()))
        return Exit.OK
    if args.journal is None:
        raise BadUsage("no journal was named", "outby feed", "name one: outby incidents")
    if not EVERY_S_MIN <= args.every <= EVERY_S_MAX:
        to_do = f"{EVERY_S_MIN:g} to {EVERY_S_MAX:g}"
        raise BadUsage("no such length", f"--every {args.every:g}", to_do)
    path = journal_at(args.journal, settings_of(args))
    telling = Telling(round(args.every * NS_PER_S), names=args.names)
    with JournalReader(path) as reader:
        try:
            _tell(telling, reader, from_now=args.now)
        except NOT_UNDERSTOOD as error:
            what = f"row {telling.row + 1} is not to be understood ({why(error)})"
            raise BadJournal(what, str(path), "verify it") from None
    return Exit.OK


def _tell(telling: "Telling", reader: "JournalReader", *, from_now: bool) -> None:
    from threading import Event

    from monitor.journal import lock

    pause, complete = Event(), False
    while True:
        # Before the look into the file: what was committed before its end is still told.
        ended = lock.is_free(reader.path)
        if reader.changed() or not complete:
            step = reader.read(telling.row)
            complete = step.complete
            if from_now:
                telling.quietly(step.rows, step.horizon, complete=complete)
                from_now = not complete
            else:
                _print(telling.rows(step.rows, step.horizon, complete=complete))
        if complete and (ended or telling.incident.closed):
            _print(telling.end())
            return
        if complete or not step.rows:
            pause.wait(LOOK_S)


def _print(lines: "Iterable[Line]") -> None:
    for line in lines:
        # At once: whoever reads it waits for it.
        print(line.model_dump_json(), flush=True)
