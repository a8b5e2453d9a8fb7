"""``outby orders``: every order of a journal with every answer and its time."""

import argparse
import csv
import sys
from pathlib import Path

from monitor.cli.journals import gathered_before, journal_at, progress, said_damaged
from monitor.cli.options import (
    WHICH,
    Subparsers,
    add_command,
    add_format,
    add_settings,
    settings_of,
)
from monitor.errors import AlreadyThere, BadFile, BadUsage, Exit
from shared.printable import as_json
from shared.writing import new_file

_DESCRIPTION = """\
Tells every order of a journal: evacuations, orders to come out, roll calls, tests. Who gave it
and on whose order, to whom, each copy that was sent, and for each wearer when the pack received
it, when the wearer acknowledged it by button, answered by voice, started out, and was out: five
facts, each in seconds from the giving of the order; and how long the whole took.

--truth adds from when to when the evacuation tone of each virtual pack was heard, from the file
that "outby packs --truth" wrote.

The journal may be one that is being recorded: then it tells up to now.

--tone writes the evacuation tone itself, as a sound file, for a loudspeaker of your own."""


def add_parser(subparsers: Subparsers) -> None:
    """Add the command."""
    parser = add_command(
        subparsers,
        "orders",
        run=run,
        summary="evacuations, roll calls: who answered when",
        description=_DESCRIPTION,
        exits=(
            Exit.FILE,
            Exit.JOURNAL,
            Exit.CHANGED,
            Exit.ALREADY_THERE,
        ),
        examples=(
            ("outby orders kiln-lane", "every order, to read"),
            ("outby orders kiln-lane --format csv", "one row a wearer and order"),
            ("outby orders kiln-lane --json", "the same for a program"),
            ("outby orders --tone evacuation.wav", "three cycles of the evacuation tone"),
        ),
    )
    parser.add_argument("journal", metavar="JOURNAL", type=Path, nargs="?",
                        help=WHICH)  # fmt: skip
    group = parser.add_argument_group("HOW TO TELL IT")
    add_format(group, ("text", "csv", "json"), "as fields, in ns")
    group.add_argument("--truth", metavar="FILE", type=Path, help="what virtual packs really did")
    group.add_argument("--tone", metavar="WAV", type=Path, help="write the evacuation tone there")
    add_settings(parser)


def run(args: argparse.Namespace) -> int:
    """Tell what was asked. Raises BadUsage, BadJournal, BadFile."""
    from monitor.report import orders_log
    from monitor.report.heading import about, heading
    from monitor.report.reading import read
    from monitor.report.truth import read_truth

    if args.tone is not None:
        return _write_tone(args.tone)
    if args.journal is None:
        raise BadUsage("no journal was named", "outby orders", "name one: outby incidents")
    settings = settings_of(args)
    path = journal_at(args.journal, settings)
    told = read(path, progress(), gathered_before(path, settings))
    logs = orders_log.orders_log(told, read_truth(args.truth, path).tones if args.truth else None)
    if args.format == "json":
        print(as_json(about(told) | {"orders": orders_log.fields(logs)}))
    elif args.format == "csv":
        csv.writer(sys.stdout).writerows(orders_log.rows(logs, told.header.use.upper()))
    else:
        print("\n".join([*heading(told, None), "", *orders_log.text(logs, None)]).rstrip())
    return said_damaged(path, told.left_out)


def _write_tone(path: Path) -> int:
    from monitor.sound.tones import CYCLES_MAX, evacuation
    from monitor.sound.wav import wav

    try:
        with new_file(path) as file:
            file.write(wav(evacuation(CYCLES_MAX)))
    except FileExistsError:
        raise AlreadyThere("there is a file already", str(path), "name another") from None
    except OSError as error:
        raise BadFile(
            f"cannot write the tone: {error.strerror}", str(path), "name another"
        ) from None
    print(f"{path}: {CYCLES_MAX} cycles of the evacuation tone (ISO 8201)")
    return Exit.OK
