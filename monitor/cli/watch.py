"""``outby watch``: the board, and the recorder beside it if none is there."""

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from monitor.cli.journals import journal_to_go_on, say_closed
from monitor.cli.options import (
    Subparsers,
    add_command,
    add_display,
    add_opening,
    add_settings,
    add_sound,
    missing_opening,
    require_opening,
    said_of,
    settings_of,
)
from monitor.cli.terminal import ascii_only, can_draw
from monitor.errors import BadJournal, BadUsage, Exit, NotAnswered, OutbyError

if TYPE_CHECKING:
    from monitor.board.keys.sheet_hands import Aids
    from monitor.board.session.ports import Reviver
    from monitor.board.session.recorder_process import RecorderProcess
    from monitor.board.session.source import JournalSource
    from monitor.cli.interrupted import Choice
    from monitor.clock import Clock
    from monitor.desk_client import DeskClient
    from monitor.follower import Follower
    from monitor.settings import Settings

JOURNAL_WAIT_S = 0.02
JOURNAL_WAITS_MAX = 500
"""Ten seconds for a recorder to make its journal."""
STEP_S = 0.1
"""A plain board looks ten times a second."""

_DESCRIPTION = """\
Shows the board of an incident: alarm lines on top, everybody by crew below. The recorder is a
process of its own; it is started if none is alive for that journal, and started again if it
dies. Leaving the board asks whether recording goes on.

JOURNAL names the incident. Without it, the one that is being recorded is shown. If there is
none and one was interrupted, by a loss of power or the end of its recorder, it is named, and
one key goes on with it. Else, or if a name is said, a new one is opened. If name, officer, use
(exercise or real) and procedure are said, nothing is asked. Else all of it is asked for, with
what was said standing there, and the procedure and roster used last on offer; where nobody can
be asked it is an error.

A second board on the same incident is view only until it takes the board.

The plain board adds one line for each event and reads typed commands ("help" lists them). It is
chosen by itself where the terminal cannot draw."""


def add_parser(subparsers: Subparsers) -> None:
    """Add the command."""
    parser = add_command(
        subparsers,
        "watch",
        run=run,
        summary="the board; opens an incident or shows the one recorded",
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
                'outby watch --name "Kiln Lane" --officer "R. Harrow" --exercise --procedure plain',
                "open an incident, record it, show the board",
            ),
            ("outby watch", "show the board of the incident that is being recorded"),
            ("outby watch kiln-lane.journal --view", "look on, without ever acting"),
        ),
    )
    parser.add_argument("journal", nargs="?", metavar="JOURNAL", type=Path,
                        help='the incident to show, by its name, "last" or a path; or the path '
                             "of one to make")  # fmt: skip
    group = parser.add_argument_group("THE BOARD")
    group.add_argument("--view", action="store_true",
                       help="look on only; start no recorder")  # fmt: skip
    group.add_argument("--plain", action="store_true",
                       help="lines that are only added, typed commands")  # fmt: skip
    parser.set_defaults(remember=True)
    add_opening(parser)
    add_display(parser)
    add_sound(parser)
    add_settings(parser)


def run(args: argparse.Namespace) -> int:
    """Show the board until it is left."""
    from monitor.board.session.recorder_process import RecorderProcess, to_go_on, to_open
    from monitor.cli.interrupted import Choice
    from monitor.cli.opening import asked, remember
    from monitor.cli.record import new_path
    from monitor.cli.waiting import answered
    from monitor.clock import Clock
    from monitor.journal import lock

    settings = settings_of(args)
    said = args.journal
    place = str(said or settings.incidents_path)
    path = answered(
        lambda: journal_to_go_on(said, settings) if said else _find(settings, args), place
    )
    if not said and not answered(path.exists, place):
        choice = _interrupted(settings, args)
        if choice is Choice.LEAVE:
            print("nothing was opened")
            return Exit.OK
        path = choice if isinstance(choice, Path) else path
    opens = not args.view and answered(lambda: not path.exists() and lock.is_free(path), place)
    checked = args.clock_checked
    if opens:
        answers = asked(
            settings, clock_checked=checked, draws=can_draw() and not args.plain, typed=_at_keys()
        )
        if answers is None:
            print("nothing was opened")
            return Exit.OK
        settings, checked = answers
        path = said or new_path(settings, Clock().wall_ns())
    again = to_go_on(path, settings, () if opens else said_of(args))
    told = again
    if opens:
        told = to_open(path, settings, clock_checked=checked, simulated=args.simulated)
    recorder = RecorderProcess(told, lambda: lock.is_free(path))
    if not args.view:
        _record_if_need_be(path, settings, recorder)
    follower = _follow(path, recorder, checkpoints=settings.checkpoints)
    # Whoever dies from now on leaves a journal that tells the rest.
    recorder.told = again
    if opens and args.remember:
        remember(settings)
    if args.plain or not can_draw():
        return _plain(follower, settings, recorder, view=args.view)
    return _draw(follower, settings, recorder, view=args.view)


# ---------------------------------------------------------------- which journal


def _find(settings: "Settings", args: argparse.Namespace) -> Path:
    """Give the journal being recorded, or the path of a new one. Raises BadUsage."""
    from monitor.cli.record import new_path
    from monitor.clock import Clock
    from monitor.journal import lock

    folder = settings.incidents_path
    recorded = [path for path in sorted(folder.glob("*.journal")) if lock.is_recorded(path)]
    if args.name is None and len(recorded) == 1:
        return recorded[0]
    if args.name is None and recorded:
        names = ", ".join(path.name for path in recorded)
        raise BadUsage("several incidents are being recorded", names, "say which")
    if args.view:
        raise BadUsage("no incident is being recorded", str(folder), "say which journal to show")
    return new_path(settings, Clock().wall_ns())


def _interrupted(settings: "Settings", args: argparse.Namespace) -> "Path | Choice":
    """Ask whether to go on with one that was interrupted, if there is one. Raises BadUsage."""
    from monitor.cli import interrupted
    from monitor.clock import Clock

    typed = _at_keys()
    if args.name is not None or not (typed or missing_opening(settings)):
        return interrupted.Choice.NEW
    now_ns = Clock().wall_ns()
    found = interrupted.interrupted(settings.incidents_path, now_ns)
    if not found:
        return interrupted.Choice.NEW
    draws = can_draw() and not args.plain
    return interrupted.asked(found, now_ns, draws=draws, typed=typed)


def _record_if_need_be(path: Path, settings: "Settings", recorder: "RecorderProcess") -> None:
    """Start the recorder unless one is alive."""
    from monitor.cli.waiting import answered

    if not answered(recorder.is_free, str(path)):
        return
    if not answered(path.exists, str(path)):
        require_opening(settings)
    recorder.start()


def _follow(path: Path, recorder: "RecorderProcess", *, checkpoints: bool) -> "Follower":
    """Open the journal as soon as there is something in it. Raises what the recorder said."""
    from threading import Event

    from monitor.cli.waiting import answered

    pause = Event()
    for _ in range(JOURNAL_WAITS_MAX):
        code = recorder.exit_code()
        try:
            follower = answered(lambda: _opened(path, checkpoints=checkpoints), str(path))
        except BadJournal:
            if code is None and recorder.started:
                # Not there yet, or half made.
                pause.wait(JOURNAL_WAIT_S)
                continue
            _say_end(recorder, code)
            raise
        if follower is not None:
            if code not in {None, Exit.OK, Exit.BUSY} and not _is_closed(follower):
                _say_end(recorder, code)
            return follower
        # A recorder that ends before its first commit says why; nothing will come any more.
        _say_end(recorder, code)
        pause.wait(JOURNAL_WAIT_S)
    raise NotAnswered("the recorder has not made its journal", str(path), "see the log beside it")


def _opened(path: Path, *, checkpoints: bool) -> "Follower | None":
    """Follow; None while the incident is not opened in the journal yet. Raises BadJournal."""
    from monitor.follower import Follower

    follower = Follower(path, checkpoints=checkpoints)
    follower.poll()
    if follower.horizon >= 0:
        return follower
    follower.close()
    return None


def _is_closed(follower: "Follower") -> bool:
    """Tell whether the incident has ended; no recorder takes it up then, it is only shown."""
    while follower.catching_up:
        follower.poll()
    return follower.incident.closed


def _say_end(recorder: "RecorderProcess", code: int | None) -> None:
    """Raise what the recorder said when it could not start."""
    if code not in {None, Exit.OK}:
        raise _Said(recorder.last_words(), code or Exit.INTERNAL)


class _Said(OutbyError):
    """What the recorder said when it could not start, with its exit code."""

    def __init__(self, words: str, code: int) -> None:
        super().__init__(words or "the recorder could not start")
        self.code = code

    @property
    def exit_code(self) -> Exit:  # type: ignore[override]
        """The recorder's own."""
        return Exit(self.code) if self.code in set(Exit) else Exit.INTERNAL


# ---------------------------------------------------------------- the two boards


def _at_keys() -> bool:
    """Tell whether somebody can be asked."""
    return sys.stdin is not None and sys.stdin.isatty()


def _desk(
    follower: "Follower", settings: "Settings", clock: "Clock", *, view: bool
) -> "DeskClient":
    import uuid

    from monitor.desk_client import DeskClient, desk_connect

    by = settings.officer or follower.picture().officer
    board = uuid.uuid4().hex[:12]
    desk = DeskClient(desk_connect(follower.path), board, by, "view" if view else "act")
    desk.pump(clock.boot_ns())
    return desk


def _reviver(recorder: "RecorderProcess", *, view: bool) -> "Reviver":
    from monitor.board.session.lock_look import LockLook
    from monitor.board.session.revive import LookOn, Revive

    if view:
        return LookOn(LockLook(recorder.is_free))
    return Revive(LockLook(recorder.is_free), recorder.start, recorder.last_words)


def _draw(
    follower: "Follower", settings: "Settings", recorder: "RecorderProcess", *, view: bool
) -> int:
    """Be the board on the terminal."""
    import os
    import uuid

    from rich.console import Console

    from monitor.board.session.source import JournalSource
    from monitor.board.terminal.app import BoardApp, BoardOptions, Left
    from monitor.board.terminal.themes import colours_of
    from monitor.board.words.marks import GLYPHS
    from monitor.clock import Clock
    from monitor.live_follower import LiveFollower

    clock = Clock()
    source = JournalSource(LiveFollower(follower, clock))
    desk = _desk(follower, settings, clock, view=view)
    color_system = Console(file=sys.__stderr__).color_system
    options = BoardOptions(
        new_id=lambda: uuid.uuid4().hex,
        colours=colours_of(os.environ, color_system),
        daylight=settings.theme == "daylight",
        glyphs=GLYPHS["ascii" if ascii_only() else settings.glyphs],
        view_only=view,
        away="SSH_CONNECTION" in os.environ,
        aids=_aids(source, settings),
    )
    reviver = _reviver(recorder, view=view)
    app = BoardApp(source, desk, reviver, clock, options)
    left = app.run(mouse=settings.mouse)
    desk.close()
    if left is Left.OTHER_FOLD:
        raise BadJournal(left.value, str(follower.path), "use the same version for both")
    if follower.incident.closed:
        say_closed(follower.path)
    elif left is not None:
        print(f"{left.value}: {follower.path}")
    return app.return_code or Exit.OK


def _aids(source: "JournalSource", settings: "Settings") -> "Aids":
    """What sheets are made from. Raises BadFile where own cylinders cannot be read."""
    from monitor import cylinders
    from monitor.board.keys.sheet_hands import Aids
    from monitor.board.sheets.common import LogEntry
    from monitor.report.event_words import act_words
    from monitor.report.wears import Person

    rack = cylinders.load(settings.cylinders)
    found = {name: rack.find(name) for name in rack.names()}
    sizes = {name: (kind.water_volume_l, kind.rated) for name, kind in found.items() if kind}

    def log() -> list[LogEntry]:
        picture = source.picture()
        people = {
            w.wearer: Person(w.wearer, w.name, w.call_sign, w.crew, w.leader)
            for w in picture.wearers
        }
        unit = picture.pressure_unit
        return [
            LogEntry(act.id, t, act.by, act_words(act, people, unit)) for t, act in source.log()
        ]

    return Aids(None, sizes, log, source.emergency_form)


def _plain(
    follower: "Follower", settings: "Settings", recorder: "RecorderProcess", *, view: bool
) -> int:
    """Be the plain board."""
    import uuid

    from monitor.board.plain.app import PlainBoard
    from monitor.board.session.source import JournalSource
    from monitor.clock import Clock
    from monitor.live_follower import LiveFollower

    clock = Clock()
    desk = _desk(follower, settings, clock, view=view)
    source = JournalSource(LiveFollower(follower, clock))
    board = PlainBoard(
        source,
        desk,
        _reviver(recorder, view=view),
        clock,
        lambda: uuid.uuid4().hex,
        lambda line: print(line, flush=True),
        aids=_aids(source, settings),
    )
    typed = _Typed()
    asked_once = False
    while board.left is None and not (board.closed and not typed.open):
        try:
            board.step()
            for line in typed.lines(STEP_S):
                board.typed(line)
        except KeyboardInterrupt:
            if asked_once:
                board.typed("quit")
            asked_once = True
            print("Type quit to leave, quit stop to stop recording too.", flush=True)
    desk.close()
    if board.closed:
        say_closed(follower.path)
    return Exit.OK


class _Typed:
    """Lines from the keyboard or a pipe, without waiting longer than asked."""

    def __init__(self) -> None:
        self.open = True
        self._rest = b""

    def lines(self, within_s: float) -> list[str]:
        """Give the whole lines that have come, after at most ``within_s``."""
        import os
        import select
        from threading import Event

        if not self.open:
            Event().wait(within_s)
            return []
        if not select.select([0], [], [], within_s)[0]:
            return []
        data = os.read(0, 4_096)
        self.open = bool(data)
        *whole, self._rest = (self._rest + data).split(b"\n")
        self._rest = self._rest[-4_096:]
        return [line.decode(errors="replace") for line in whole]
