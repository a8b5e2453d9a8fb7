"""``outby status``: what is recorded here, how well, since when."""

import argparse
from pathlib import Path

from monitor.cli.options import Subparsers, add_command, add_format, add_settings, settings_of
from monitor.errors import Exit, NotAnswered
from shared.printable import as_json

_DESCRIPTION = """\
Tells of each incident that is being recorded on this machine whether it is recorded well: since
when and by which process, how old the newest commit is, links, disk, sound, how many packs are
heard, how many are under air, what waits for the officer. It looks into the journal, and asks
nobody.

It ends with 0 where something is recorded and all is well, with 7 where nothing is, or something
is not well: a probe needs no more than that. --metrics tells the same in the text format that
common collectors read (OpenMetrics). No names of people are in any of it."""


def add_parser(subparsers: Subparsers) -> None:
    """Add the command."""
    parser = add_command(
        subparsers,
        "status",
        run=run,
        summary="what is recorded here, how well, since when",
        description=_DESCRIPTION,
        examples=(
            ("outby status", "of all that is recorded here"),
            ("outby status kiln-lane --json", "of one, as fields"),
            ("outby status --metrics", "as figures for a collector"),
        ),
        exits=(Exit.FILE, Exit.JOURNAL, Exit.NOT_ANSWERED),
    )
    parser.add_argument("journal", metavar="JOURNAL", type=Path, nargs="?",
                        help="one of them; all if not said")  # fmt: skip
    group = parser.add_argument_group("HOW TO TELL IT")
    add_format(group, ("text", "json", "metrics"), "one list")
    group.add_argument("--metrics", dest="format", action="store_const", const="metrics",
                       help="the same as --format metrics: for a collector")  # fmt: skip
    add_settings(parser)


def run(args: argparse.Namespace) -> int:
    """Tell it. Raises BadUsage, BadJournal, NotAnswered."""
    from monitor.cli.recorded import recorded_here, status_of, the_one
    from monitor.feed import status
    from monitor.journal.answering import answering

    settings = settings_of(args)
    for place in answering([settings.incidents_path])[1]:
        # Whoever collects figures is not kept waiting.
        to_do = "see to it; a recorder that runs goes on"
        raise NotAnswered("the disk does not answer", str(place), to_do)
    one = args.journal
    paths = [the_one(one, settings)] if one is not None else recorded_here(settings)
    found = [status_of(path, settings) for path in paths]
    if args.format == "json":
        print(as_json([each.model_dump() for each in found]))
    elif args.format == "metrics":
        print(status.metrics(found))
    elif found:
        print("\n".join(map(status.text, found)))
    else:
        raise NotAnswered("nothing is recorded here", str(settings.incidents_path))
    well = bool(found) and not any(each.faults for each in found)
    return Exit.OK if well else Exit.NOT_ANSWERED
