"""``outby handover``: the page for the next officer and for the paper board."""

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from monitor.cli.journals import digest_line, followed, journal_at
from monitor.cli.options import WHICH, Subparsers, add_command, add_settings, settings_of
from monitor.cli.pages import add_page, check_page, give_page
from monitor.errors import BadUsage, Exit

if TYPE_CHECKING:
    from monitor.follower import Follower
    from monitor.report.html import Page

CAUTION = "names, whereabouts and health of people are in it; hand it on with care"
LOOK_S = 1.0
RENEWS = frozenset(
    {
        *("connect", "enter", "come_out", "off_air", "move_board", "set_crew"),
        *("give_order", "close_order", "emergency_crew", "hand_over", "set_stage", "close"),
    }
)
"""Acts that change who is in, who can help, or whose board it is."""

_DESCRIPTION = """\
Tells on one page how an incident stands: who is under air, with the last reading and when it was
made, turn-back, when the low-air warning is expected at the earliest, last place; what falls due
within ten minutes; alarms that stand or are put aside; orders and who has not answered; emergency
crews; who is reached by voice only; who is out; links, disk and sound; the digest of the journal.
What the program does not record has lines to write on, and so have both names.

It is what goes to the next officer, and the sheet that keeps the paper board true: print it anew
at each entry. --output writes a file to print; it writes over nothing, and only its owner can read
it: names, whereabouts and health of people are in it. With --renew that file is made anew at each
entry, and at whatever else changes who is in, until the incident is closed or recording stops.

The journal may be one that is being recorded; making the page delays nothing there."""


def add_parser(subparsers: Subparsers) -> None:
    """Add the command."""
    parser = add_command(
        subparsers,
        "handover",
        run=run,
        summary="the page for the next officer and the paper board",
        description=_DESCRIPTION,
        exits=(
            Exit.FILE,
            Exit.JOURNAL,
            Exit.ALREADY_THERE,
        ),
        examples=(
            ("outby handover kiln-lane", "how it stands, to read"),
            ("outby handover kiln-lane --width 132", "in lines of a wide printer"),
            ("outby handover kiln-lane -o handover.html", "as a page to print"),
            ("outby handover kiln-lane -o door.html --renew", "the same, anew at each entry"),
        ),
    )
    parser.add_argument("journal", metavar="JOURNAL", type=Path,
                        help=WHICH)  # fmt: skip
    group = add_page(parser)
    group.add_argument("--renew", action="store_true",
                       help="make that file anew at each entry, while recording lasts")  # fmt: skip
    add_settings(parser)


def run(args: argparse.Namespace) -> int:
    """Tell it. Raises BadUsage, BadJournal, BadFile."""
    check_page(args)
    if args.renew and args.output is None:
        raise BadUsage("only a file can be made anew", "--renew", "say --output FILE too")
    settings = settings_of(args)
    path = journal_at(args.journal, settings)
    with followed(path, settings) as follower:
        code = give_page(args, _page(follower), CAUTION)
        if args.renew:
            _renew(args.output, follower)
    return code


def _page(follower: "Follower") -> "Page":
    from monitor.board.pages.handover import handover

    digest = digest_line(follower.path)
    while follower.poll() and follower.catching_up:
        pass
    incident = follower.incident
    return handover(incident.picture(), incident.air_detail, digest, None)


def _renew(where: Path, follower: "Follower") -> None:
    """Make the file anew whenever who is in has changed. Ctrl+C ends it. Raises BadFile."""
    from threading import Event

    from monitor.journal import lock
    from monitor.report import file, html

    pause, told = Event(), _newest(follower)
    try:
        while not (follower.incident.closed or lock.is_free(follower.path)):
            pause.wait(LOOK_S)
            page = _page(follower)
            if _newest(follower) != told:
                told = _newest(follower)
                file.renew(where, html.page(page))
    except KeyboardInterrupt:
        return


def _newest(follower: "Follower") -> str:
    """Id of the newest act that a new page is made for; empty: none yet."""
    acts = (act for _, act in follower.incident.log() if act.what in RENEWS)
    return next((act.id for act in acts), "")
