"""The board at instants of a recording, as drawings: for the trainee's page."""

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from monitor.board.terminal.themes import Palette
    from monitor.board.words.marks import Line
    from monitor.report.score import Shown
    from monitor.report.screen_picture import Piece

WIDTH, HEIGHT = 100, 30


def boards(journal: Path, shown: Sequence["Shown"]) -> dict[str, str]:
    """By inject, the board when it had to be seen, but for its line of keys. Raises BadJournal."""
    from monitor.archive.damage import look_at
    from monitor.board.keys.hands import Hands
    from monitor.board.lines.header import Desk
    from monitor.board.pages.screen import Shown as Beside
    from monitor.board.pages.screen import screen
    from monitor.board.terminal.themes import DAYLIGHT
    from monitor.board.words.marks import GLYPHS, Look
    from monitor.checkpoint.beside import for_this_process
    from monitor.replay.player import Player
    from monitor.replay.tape import JournalTape
    from monitor.report.screen_picture import screen_picture
    from monitor.report.trainee_page import seen_ns

    found: dict[str, str] = {}
    look = Look(width=WIDTH, height=HEIGHT, glyphs=GLYPHS["unicode"])
    with JournalTape(journal, look_at(journal)) as tape:
        player = Player(tape, for_this_process(tape.header))
        for one in sorted(shown, key=seen_ns):
            player.go(seen_ns(one))
            if not player.opened:
                continue
            picture = player.picture()
            drawn = screen(picture, look, Hands(), Beside(Desk(), caution=False))
            lines = _filled([_inked(line, DAYLIGHT) for line in drawn.lines[:-1]])
            alt = "The board then: " + "; ".join(alarm.word for alarm in picture.alarms)
            found[one.inject.name] = screen_picture(lines, WIDTH, DAYLIGHT.background, alt)
    return found


def _filled(lines: "list[list[Piece]]") -> "list[list[Piece]]":
    """Without the empty ones at the end."""
    while lines and not "".join(text for text, _ in lines[-1]).strip():
        lines.pop()
    return lines


def _inked(line: "Line", palette: "Palette") -> list["Piece"]:
    from monitor.report.screen_picture import Ink

    pieces: list[Piece] = []
    for text, role in line:
        style = palette.styles[role]
        assert style.color is not None, "a palette of exact colours"
        assert style.bgcolor is not None, "a palette of exact colours"
        ink = Ink(
            style.color.name, style.bgcolor.name, bool(style.bold), bool(style.italic),
            bool(style.underline),
        )  # fmt: skip
        pieces.append((text, ink))
    return pieces
