"""``outby overview``: the command post's board, all doors of one operation in one picture."""

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from monitor.cli.journals import journal_at
from monitor.cli.options import (
    Subparsers,
    add_command,
    add_display,
    add_settings,
    settings_of,
)
from monitor.errors import BadUsage, Exit

if TYPE_CHECKING:
    from monitor.overview.watching import Doors
    from monitor.settings import Settings

READ_S = 30.0
"""At most so long is read before a plain picture is printed."""
LOOK_S = 0.02
WIDTH, HEIGHT = 120, 200
"""Of the plain picture."""

_DESCRIPTION = """\
Shows all doors of an operation in one picture, for whoever is in command: on top the alarms of all
doors by urgency, each with its door; below a line a door, and the crews of all doors. Nobody acts
from here. A door's number opens that door's board, to look at; Esc comes back.

It reads the replicas that "outby mirror" keeps, and doors that come later by themselves, or the
journals that are named. Beside each door stands how old its picture is, by the clocks of both
machines. One that is older than ten seconds is DOOR NOT HEARD, a danger while anybody is under air
there: its last picture stays, marked as old, with its estimates falling. One of which something
came that does not fit is NOT TO BE TRUSTED. Totals say what of them is old.

Somebody under air on two boards, or moved from one and come to no other, is said.

--once prints the picture as it is now, and ends."""


def add_parser(subparsers: Subparsers) -> None:
    """Add the command."""
    parser = add_command(
        subparsers,
        "overview",
        run=run,
        summary="the command post's board: all doors in one picture",
        description=_DESCRIPTION,
        examples=(
            ("outby overview", "of all replicas of this machine"),
            ('outby overview --operation "Kiln works"', "of one operation"),
            ("outby overview kiln-a kiln-b --once", "two journals, printed"),
        ),
        exits=(Exit.FILE, Exit.JOURNAL, Exit.NOT_ANSWERED),
    )
    parser.add_argument("journals", metavar="JOURNAL", type=Path, nargs="*",
                        help="journals of doors, instead of replicas")  # fmt: skip
    group = parser.add_argument_group("WHAT IS SHOWN")
    group.add_argument("--operation", metavar="NAME", help="of one operation; else of all")
    group.add_argument("--replicas", metavar="FOLDER", type=Path,
                       help="where replicas are; beside the incidents if not said")  # fmt: skip
    group.add_argument("--once", action="store_true", help="print it as it is now, and end")
    add_display(parser)
    add_settings(parser)


def run(args: argparse.Namespace) -> int:
    """Show it until it is left. Raises BadUsage, BadJournal."""
    from monitor.cli.terminal import can_draw
    from monitor.clock import Clock
    from monitor.mirror.replica import folder_of, of_operation
    from monitor.overview.watching import Doors
    from monitor.relay.subjects import word

    settings = settings_of(args)
    folder = None
    if not args.journals:
        folder = args.replicas or folder_of(settings.incidents_path)
        if settings.operation:
            folder = of_operation(folder, word(settings.operation))
        if not folder.is_dir():
            what, to_do = "there are no replicas", "start outby mirror, or name journals"
            raise BadUsage(what, str(folder), to_do)
    named = [journal_at(one, settings) for one in args.journals]
    doors = Doors(Clock(), named, folder)
    try:
        return _printed(doors, settings) if args.once or not can_draw() else _draw(doors, settings)
    finally:
        doors.close()


def _printed(doors: "Doors", settings: "Settings") -> int:
    from threading import Event

    from monitor.board.words.marks import GLYPHS, Look
    from monitor.cli.terminal import ascii_only
    from monitor.clock import Clock
    from monitor.overview.overview import overview_of
    from monitor.overview.screen import Seen, overview_screen

    pause = Event()
    for _ in range(round(READ_S / LOOK_S)):
        doors.poll()
        if doors.complete:
            break
        pause.wait(LOOK_S)
    overview = overview_of(settings.operation, doors.doors(), Clock().wall_ns())
    look = Look(WIDTH, HEIGHT, GLYPHS["ascii" if ascii_only() else settings.glyphs])
    lines = ["".join(text for text, _ in line).rstrip() for line in
             overview_screen(overview, look, Seen())]  # fmt: skip
    print("\n".join(line for line in lines[:-2] if line))
    return Exit.OK


def _draw(doors: "Doors", settings: "Settings") -> int:
    import os
    import sys

    from rich.console import Console

    from monitor.board.terminal.themes import colours_of
    from monitor.board.words.marks import GLYPHS
    from monitor.cli.terminal import ascii_only
    from monitor.clock import Clock
    from monitor.overview.app import OverviewApp, OverviewOptions

    options = OverviewOptions(
        settings.operation,
        colours=colours_of(os.environ, Console(file=sys.__stderr__).color_system),
        daylight=settings.theme == "daylight",
        glyphs=GLYPHS["ascii" if ascii_only() else settings.glyphs],
    )
    app = OverviewApp(doors, Clock(), options)
    app.run(mouse=settings.mouse)
    return app.return_code or Exit.OK
