"""``outby instruct``: the instructor's screen of a drill that runs."""

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from monitor.cli.options import Subparsers, add_command, add_display, add_settings, settings_of
from monitor.errors import BadJournal, BadUsage, Exit, NotAnswered

if TYPE_CHECKING:
    from monitor.cli.drill import Files
    from monitor.follower import Follower
    from monitor.settings import Settings
    from simulators.scenario import Scenario

WAIT_S = 0.05
WAITS_MAX = 600
"""Half a minute: the drill opens this screen as it starts its packs, before there is a journal."""

_DESCRIPTION = """\
Shows the instructor of a drill how each wearer really is beside what the board shows, the
lines to speak as the crew when the trainee asks, and what is still to come. Enter and two
digits let something go wrong at once, let an inject of the scenario come sooner, tick what the
trainee has done by voice, or set a bookmark that a replay finds. A full stop lets everything
stand still, the incident's time with it (EXERCISE PAUSED), and go on: never while anybody real
breathes from a set, since what falls due by the clock stands still for them too.

It belongs to a run of "outby drill", on a second terminal of the same machine; it is no board
and never takes one. What is asked for here is written beside the journal
(NAME.instructor.jsonl) and into the truth file, so "outby score" knows it. Leaving it ends
nothing."""


def add_parser(subparsers: Subparsers) -> None:
    """Add the command."""
    parser = add_command(
        subparsers,
        "instruct",
        run=run,
        summary="the instructor's screen of a drill that runs",
        description=_DESCRIPTION,
        exits=(
            Exit.FILE,
            Exit.JOURNAL,
            Exit.NOT_ANSWERED,
        ),
        examples=(
            ("outby instruct", "of the drill that runs now"),
            ("outby instruct kiln-lane.journal", "of this one"),
        ),
    )
    parser.add_argument("journal", nargs="?", metavar="JOURNAL", type=Path,
                        help="of the drill; the one being recorded if not said")  # fmt: skip
    group = parser.add_argument_group("THE RUN")
    group.add_argument("--scenario", metavar="NAME|FILE",
                       help="what is played, if it does not come with the program")  # fmt: skip
    add_display(parser)
    add_settings(parser)


def run(args: argparse.Namespace) -> int:
    """Show it until it is left. Raises BadUsage, BadJournal, BadFile."""
    import os
    import sys
    import uuid

    from rich.console import Console

    from monitor.board.session.source import JournalSource
    from monitor.board.terminal.themes import colours_of
    from monitor.board.words.marks import GLYPHS
    from monitor.cli.drill import Files
    from monitor.cli.journals import journal_at
    from monitor.cli.terminal import ascii_only, can_draw
    from monitor.clock import Clock
    from monitor.desk_client import DeskClient, desk_connect
    from monitor.instructor import BY
    from monitor.instructor.app import InstructorApp, InstructorOptions
    from monitor.instructor.tail import TruthTail

    settings = settings_of(args)
    path = journal_at(args.journal, settings) if args.journal else _recorded(settings)
    files = Files(path)
    if not (files.truth.exists() or files.packs_log.exists()):
        raise BadUsage("no drill has been run into it", str(path), "start one: outby drill")
    if not can_draw():
        raise BadUsage("this terminal cannot draw", to_do="use one that can")
    follower = _begun(files)
    truth = TruthTail(files.truth)
    truth.poll()
    options = InstructorOptions(
        wants=files.instructor,
        scenario=_scenario(args.scenario, truth.really.scenario, truth.really.seed),
        new_id=lambda: uuid.uuid4().hex,
        colours=colours_of(os.environ, Console(file=sys.__stderr__).color_system),
        daylight=settings.theme == "daylight",
        glyphs=GLYPHS["ascii" if ascii_only() else settings.glyphs],
    )
    desk = DeskClient(desk_connect(path), uuid.uuid4().hex[:12], BY, "script")
    with follower:
        app = InstructorApp(JournalSource(follower), truth, desk, Clock(), options)
        app.run(mouse=settings.mouse)
        desk.close()
    return app.return_code or Exit.OK


def _begun(files: "Files") -> "Follower":
    """Follow a drill; of one that has just started, wait for its files.

    Raises BadJournal, NotAnswered.
    """
    from threading import Event

    from monitor.follower import Follower

    for _ in range(WAITS_MAX):
        try:
            if files.truth.exists():
                return Follower(files.journal)
        except BadJournal:
            if not files.packs_log.exists():
                raise
        Event().wait(WAIT_S)
    raise NotAnswered("the drill has not begun", str(files.journal), "see the logs beside it")


def _recorded(settings: "Settings") -> Path:
    """The one drill that runs now. Raises BadUsage."""
    from monitor.cli.drill import Files
    from monitor.journal import lock

    journals = sorted(settings.incidents_path.glob("*.journal"))
    found = [path for path in journals if Files(path).truth.exists() and lock.is_recorded(path)]
    if len(found) == 1:
        return found[0]
    where = ", ".join(path.name for path in found) or str(settings.incidents_path)
    what = "several drills run now" if found else "no drill runs now"
    raise BadUsage(what, where, "say which" if found else "start one: outby drill")


def _scenario(said: str | None, title: str, seed: int) -> "Scenario | None":
    """The one that is named, else the one of that title; None: what is to come is not known.

    What it leaves to chance is as the seed of the run has it.
    """
    from monitor.cli.packs import load_scenario
    from simulators.drawing import drawn
    from simulators.scenario_file import names

    if said is not None:
        return drawn(load_scenario(said), seed)
    found = next((one for one in map(load_scenario, names()) if one.title == title), None)
    return found and drawn(found, seed)
