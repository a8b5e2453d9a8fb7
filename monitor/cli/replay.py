"""``outby replay``: a journal seen again on recorded time, on the board or as sentences."""

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from monitor.cli.instants import instant
from monitor.cli.journals import journal_at, said_damaged
from monitor.cli.options import (
    WHICH,
    Subparsers,
    add_command,
    add_display,
    add_settings,
    settings_of,
)
from monitor.errors import BadFile, BadJournal, BadUsage, Exit

if TYPE_CHECKING:
    from monitor.replay.marks import Mark
    from monitor.replay.pacing import Speed
    from monitor.replay.player import Player
    from monitor.replay.tape import JournalTape
    from monitor.settings import Settings

_DESCRIPTION = """\
Shows the board of a journal again, as it was at any instant: run it, stand still, step, slower,
faster, go to a time, to the next or last alarm, order or note. REPLAY stands on top all the time
and a time line below. It has no desk: nothing can be acted on, and the journal is only read. It
starts standing still; the full stop runs it, h shows every key. Beside the journal it keeps the
state every 10,000 rows (.checkpoints, which may be deleted), so that it opens at once next time.

The journal may be one that is being recorded: then it goes as far as the journal does.

--plain prints what happened as sentences, each with its time of day, to the end."""


def add_parser(subparsers: Subparsers) -> None:
    """Add the command."""
    parser = add_command(
        subparsers,
        "replay",
        run=run,
        summary="the board of a journal again, on recorded time",
        description=_DESCRIPTION,
        exits=(
            Exit.FILE,
            Exit.JOURNAL,
            Exit.CHANGED,
        ),
        examples=(
            ("outby replay kiln-lane", "from the start"),
            ("outby replay kiln-lane --at 14:32:07 --speed 4", "from then, four times as fast"),
            ("outby replay kiln-lane --bookmark 14:32:07 'the second call'", "mark that instant"),
            ("outby replay kiln-lane --plain", "what happened, as sentences"),
        ),
    )
    parser.add_argument("journal", metavar="JOURNAL", type=Path,
                        help=WHICH)  # fmt: skip
    group = parser.add_argument_group("THE REPLAY")
    group.add_argument("--at", metavar="TIME", default="0",
                       help="begin there: HH:MM:SS, or seconds from the start")  # fmt: skip
    group.add_argument("--speed", metavar="X", default="1",
                       help="0.25 to 64, or max for as fast as it goes")  # fmt: skip
    group.add_argument("--bookmark", nargs=2, metavar=("TIME", "WORDS"),
                       help="mark an instant in words, in a file beside the journal, and end; "
                            "PgUp and PgDn go there")  # fmt: skip
    group.add_argument("--plain", action="store_true", help="sentences, to the end")
    add_display(parser)
    add_settings(parser)


def run(args: argparse.Namespace) -> int:
    """Replay. Raises BadUsage, BadJournal, BadFile."""
    from monitor.archive.damage import look_at, look_through
    from monitor.checkpoint.beside import for_replay
    from monitor.cli.terminal import can_draw
    from monitor.replay.pacing import read
    from monitor.replay.player import Player
    from monitor.replay.tape import JournalTape

    settings = settings_of(args)
    try:
        speed = read(args.speed)
    except (ValueError, ZeroDivisionError):
        raise BadUsage("no such speed", args.speed, "say 0.25 to 64, or max") from None
    path = journal_at(args.journal, settings)
    if args.bookmark:
        return _add_bookmark(path, *args.bookmark)
    plain = args.plain or not can_draw()
    whole = look_through(path) if plain else look_at(path)
    with JournalTape(path, whole) as tape:
        beside = settings.checkpoints
        player = Player(tape, for_replay(path, tape.header, beside=beside))
        _begin(player, tape, args.at, path)
        left_out = whole.left_out if whole else ""
        marked = _bookmarks(path, tape, player.end())
        if plain:
            code = _plain(player, tape, left_out, marked)
        else:
            code = _draw(player, tape, settings, speed, left_out, marked)
    return said_damaged(path, left_out) or code


def _begin(player: "Player", tape: "JournalTape", at: str, path: Path) -> None:
    """Tell the player where to begin. A time of day that was never, or twice, is asked back."""
    player.go(0)
    if not player.opened:
        raise BadJournal("no incident was opened in it", str(path), "verify it")
    player.aim(instant(at, "--at", tape.clock(), player.end()))


def _add_bookmark(journal: Path, when: str, said: str) -> int:
    """Add a line to the file beside the journal. Raises BadUsage, BadFile."""
    import os

    from monitor.own_file import open_own
    from monitor.replay.bookmarks import beside, line_of

    try:
        line = line_of(when, said)
    except (ValueError, OverflowError):
        what = "no bookmark"
        raise BadUsage(what, f"{when} {said}", "say HH:MM:SS or seconds, then words") from None
    where = beside(journal)
    try:
        fd = open_own(where, os.O_WRONLY | os.O_CREAT | os.O_APPEND)
        with os.fdopen(fd, "w", encoding="utf-8") as file:
            file.write(line)
    except OSError as error:
        raise BadFile(f"cannot write: {error.strerror}", str(where), "see that folder") from None
    print(f"{where}: {line}", end="")
    return Exit.OK


def _bookmarks(journal: Path, tape: "JournalTape", end_ns: int) -> "tuple[Mark, ...]":
    """Those of the file beside the journal; none where there is no file. Raises BadFile."""
    from monitor.replay.bookmarks import FILE_BYTES_MAX, beside, read
    from shared import reading

    where = beside(journal)
    if not where.exists():
        return ()
    try:
        text = reading.text_of(reading.read_bytes(where, FILE_BYTES_MAX))
    except reading.Unreadable as wrong:
        raise BadFile(f"the bookmarks: {wrong.what}", str(where), wrong.to_do) from None
    return read(text, str(where), tape.clock(), end_ns, None)


def _plain(player: "Player", tape: "JournalTape", left_out: str, marked: "tuple[Mark, ...]") -> int:
    from monitor.replay.telling import tell

    said = [*tape.notes(), *((mark.t, f"Bookmark: {mark.words}") for mark in marked)]
    for line in tell(player, None, tuple(sorted(said, key=lambda one: one[0]))):
        print(line)
    if left_out:
        print(f"DAMAGED from here: not told: {left_out}")
    return Exit.OK


def _draw(
    player: "Player",
    tape: "JournalTape",
    settings: "Settings",
    speed: "Speed",
    left_out: str,
    marked: "tuple[Mark, ...]",
) -> int:
    import os
    import sys

    from rich.console import Console

    from monitor.board.terminal.themes import colours_of
    from monitor.board.words.marks import GLYPHS
    from monitor.cli.terminal import ascii_only
    from monitor.clock import Clock
    from monitor.replay.app import Recorded, ReplayApp, ReplayOptions

    options = ReplayOptions(
        speed,
        colours=colours_of(os.environ, Console(file=sys.__stderr__).color_system),
        daylight=settings.theme == "daylight",
        glyphs=GLYPHS["ascii" if ascii_only() else settings.glyphs],
    )
    app = ReplayApp(
        player, Recorded((*tape.marks(), *marked), tape.clock(), left_out), Clock(), options
    )
    app.run(mouse=settings.mouse)
    return app.return_code or Exit.OK
