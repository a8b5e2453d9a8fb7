"""``outby handover``: the page for the next officer and for the paper board."""

import argparse
from pathlib import Path

from monitor.cli.journals import digest_line, journal_at
from monitor.cli.options import Subparsers, add_command, add_settings, settings_of
from monitor.cli.pages import add_page, check_page, give_page

_DESCRIPTION = """\
Tells on one page how an incident stands: who is under air, with the last reading and when it was
made, turn-back, when the low-air warning is expected at the earliest, last place; what falls due
within ten minutes; alarms that stand or are put aside; orders and who has not answered; emergency
crews; who is reached by voice only; who is out; links, disk and sound; the digest of the journal.
What the program does not record has lines to write on, and so have both names.

It is what goes to the next officer, and the sheet that keeps the paper board true: print it anew
at each entry. --html writes a file to print; it writes over nothing, and only its owner can read
it: names, whereabouts and health of people are in it.

The journal may be one that is being recorded; making the page delays nothing there."""


def add_parser(subparsers: Subparsers) -> None:
    """Add the command."""
    parser = add_command(
        subparsers,
        "handover",
        run=run,
        summary="the page for the next officer and the paper board",
        description=_DESCRIPTION,
        examples=(
            ("outby handover kiln-lane", "how it stands, to read"),
            ("outby handover kiln-lane --width 132", "in lines of a wide printer"),
            ("outby handover kiln-lane --html handover.html", "as a page to print"),
        ),
    )
    parser.add_argument("journal", metavar="JOURNAL", type=Path,
                        help="a path, or the name of one in the incidents folder")  # fmt: skip
    add_page(parser)
    add_settings(parser)


def run(args: argparse.Namespace) -> int:
    """Tell it. Raises BadUsage, BadJournal, BadFile."""
    from monitor.board.handover import handover
    from monitor.follower import Follower

    check_page(args)
    settings = settings_of(args)
    path = journal_at(args.journal, settings)
    digest = digest_line(path)
    with Follower(path, checkpoints=settings.checkpoints) as follower:
        while follower.poll() and follower.catching_up:
            pass
        incident = follower.incident
        page = handover(incident.picture(), incident.air_detail, digest, None)
    return give_page(
        args, page, "names, whereabouts and health of people are in it; hand it on with care"
    )
