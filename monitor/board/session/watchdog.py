"""Whether the display is alive: it is while the journal's horizon moves. Pure.

A quiet recorder still moves the horizon four times a second. If it stands for a second, the
recorder is dead, stopped or starved, or this screen cannot read: whatever the cause, what is
on the screen is old and the screen says so over everything.
"""

from dataclasses import dataclass
from textwrap import wrap

from monitor.board.session.revive import FAILED, HANGS
from monitor.board.words import wording
from monitor.board.words.marks import Line, Look, Role, clean, fit
from monitor.incident.picture import Picture

STOPPED_NS = 1_000_000_000
"""Four of the recorder's idle beats."""

FIRST_WORDS = "DISPLAY STOPPED"
SECOND_WORDS = "VALUES OLD"
THIRD_WORDS = "USE VOICE AND PAPER"


@dataclass(slots=True)
class Watchdog:
    """Since when the horizon has stood; times are the boot clock, ns."""

    since_ns: int
    horizon: int = -1

    def saw(self, horizon: int, now_ns: int) -> None:
        """Take note of the horizon as read just now."""
        if horizon != self.horizon:
            self.horizon = horizon
            self.since_ns = now_ns

    def stands_ns(self, now_ns: int) -> int:
        """For how long the horizon has stood."""
        return now_ns - self.since_ns

    def stopped(self, now_ns: int) -> bool:
        """Tell whether what is shown must be called old."""
        return self.stands_ns(now_ns) >= STOPPED_NS


NOT_ON_DISK = (
    "NOT ON DISK: neither the journal's disk nor a second place takes rows. The recorder goes on:"
    " it hears, sounds and sends orders"
)


ELSEWHERE = "on another disk: outby watch FOLDER/NAME.journal"
"""What is left to do where the journal's disk keeps any recorder from it."""


def cause_of(fault: str, looked: str, *, not_on_disk: bool) -> str:
    """Why the display has stopped. ``fault``: why nothing can be read; ``looked``: of the recorder.

    ``not_on_disk``: the recorder says that no file takes its rows, so that it is not to blame.
    """
    if not_on_disk:
        return NOT_ON_DISK
    said = f"{fault}; {looked}" if fault else looked
    dead = looked == HANGS or (bool(fault) and looked.startswith(FAILED))
    return f"{said}; {ELSEWHERE}" if dead else said


CAUSE_LINES_MAX = 4


def banner(picture: Picture | None, look: Look, stands_ns: int, cause: str) -> list[Line]:
    """Give the block that lies over the middle of the screen."""
    last = "nothing has been read yet"
    if picture is not None:
        shown = wording.day_time(picture.wall_ns, look.zone, seconds=True)
        last = f"last values {shown}, {wording.age(stands_ns)} ago"
    causes = wrap(clean(cause), max(1, look.width))[:CAUSE_LINES_MAX]
    words = ["", FIRST_WORDS, SECOND_WORDS, THIRD_WORDS, "", last, *causes, ""]
    lines: list[Line] = []
    for text in words:
        fitted = fit(text, min(len(text), look.width), look.glyphs) if text else ""
        lines.append(((fitted.center(look.width), Role.DANGER),))
    return lines


LIVE_LINES = 2
"""At the bottom: what the keys do stays readable."""


def laid_over(lines: list[Line], block: list[Line]) -> list[Line]:
    """Grey everything but the key lines, and put the block over the middle."""
    values = lines[:-LIVE_LINES]
    old: list[Line] = [tuple((text, Role.OLD) for text, _ in line) for line in values]
    top = max(0, (len(old) - len(block)) // 2)
    over = [*old[:top], *block, *old[top + len(block) :]]
    return [*over, *lines[-LIVE_LINES:]][: len(lines)]
