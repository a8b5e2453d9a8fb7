"""The instructor's screen in a terminal of its own: one timer reads and draws.

It acts by two ways. What concerns the packs goes as a line into a file that their player reads.
What concerns the incident, standing still and bookmarks, goes to the recorder's desk; there it is
one of the scripts that may act in an exercise, and never takes the board.
"""

import sqlite3
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import tzinfo
from pathlib import Path

from textual.events import Key as KeyEvent

from monitor.board.pages.screen import opening_screen
from monitor.board.session.ports import DeskPort, Source
from monitor.board.terminal.lines_app import LinesApp
from monitor.board.terminal.themes import Colours
from monitor.board.words import wording
from monitor.board.words.marks import GLYPHS, Glyphs, Look
from monitor.clock import Clock
from monitor.desk import NoAnswer, NotTaken, Taken
from monitor.errors import OutbyError
from monitor.incident.events import Act, Note
from monitor.incident.picture import Picture
from monitor.incident.record.events import PauseExercise
from monitor.instructor import BY
from monitor.instructor.keys import InstructorKeys
from monitor.instructor.page import Shown, instructor_page
from monitor.instructor.tail import TruthTail
from monitor.instructor.trouble import Hand, hands
from simulators.instructions import Bookmark, InjectNow, Instruction, Stand, Tick, add
from simulators.scenario import Scenario

TICK_S = 0.1
PICTURE_NS = 500_000_000
TICKS_MAX = 20
"""Of one wearer, shown."""


@dataclass(frozen=True, slots=True)
class InstructorOptions:
    """How this screen looks, and where it writes."""

    wants: Path
    """The file that the packs' player reads."""
    scenario: Scenario | None
    new_id: Callable[[], str]
    colours: Colours = Colours.FULL
    daylight: bool = False
    glyphs: Glyphs = GLYPHS["unicode"]
    zone: tzinfo | None = None


@dataclass(slots=True)
class _State:
    message: str = ""
    made: int = 0
    """Injects by hand so far: each has a name of its own."""
    ticks: dict[int, tuple[str, ...]] = field(default_factory=dict)
    asked: dict[str, Act] = field(default_factory=dict)


class InstructorApp(LinesApp[None]):
    """The screen; words and keys come from the pure modules beside it."""

    def __init__(
        self,
        source: Source,
        truth: TruthTail,
        desk: DeskPort,
        clock: Clock,
        options: InstructorOptions,
    ) -> None:
        """Hold what it stands on; nothing is read yet."""
        super().__init__(options.colours, daylight=options.daylight)
        self._source, self._truth, self._desk = source, truth, desk
        self._clock, self._options = clock, options
        self._picture: Picture | None = None
        self._picture_ns = 0
        self._keys = InstructorKeys()
        self._state = _State()

    def on_mount(self) -> None:
        """Start the one timer."""
        self.begin(TICK_S)

    def tick(self) -> None:
        """Read journal, truth and desk; draw."""
        now_ns = self._clock.boot_ns()
        try:
            self._source.poll()
        except (OSError, sqlite3.Error, OutbyError) as error:
            self._state.message = f"the journal cannot be read: {error}"
        self._truth.poll()
        for answer in self._desk.pump(now_ns):
            if isinstance(answer, Taken):
                self._taken(self._state.asked.pop(answer.id, None))
            elif isinstance(answer, NotTaken):
                self._state.asked.pop(answer.id, None)
                self._state.message = f"NOT TAKEN: {answer.why}"
            elif isinstance(answer, NoAnswer):
                self._state.message = "NO ANSWER from the recorder yet: it may be done or not"
        ready = self._source.horizon >= 0 and not self._source.catching_up
        if ready and (now_ns - self._picture_ns >= PICTURE_NS or self._picture is None):
            self._picture, self._picture_ns = self._source.picture(), now_ns
        self._draw()

    def _draw(self) -> None:
        width, height = self.size
        if width < 1 or height < 1:
            return
        look = Look(width, height, self._options.glyphs, self._options.zone)
        if self._picture is None:
            self._view.show(opening_screen(look, "INSTRUCTOR: reading the journal"))
            return
        keys, state = self._keys, self._state
        shown = Shown(
            keys.chosen, keys.typed, keys.open, state.message, state.ticks, self._desk.connected
        )
        self._view.show(
            instructor_page(self._picture, self._truth.really, self._hands(), look, shown)
        )

    def _hands(self) -> list[Hand]:
        came, nth = self._truth.really.came, self._state.made + 1
        return hands(self._options.scenario, came, self._keys.chosen, nth)

    # ------------------------------------------------------------ keys

    async def action_quit(self) -> None:
        """Leave; the run goes on."""
        self.exit()

    def on_key(self, event: KeyEvent) -> None:
        """Take a key."""
        event.stop()
        event.prevent_default()
        picture = self._picture
        if picture is None:
            if event.key == "q":
                self.exit()
            return
        self._state.message = ""
        numbers = [wearer.wearer for wearer in picture.wearers]
        match self._keys.press(event.key, numbers, self._hands()):
            case "quit":
                self.exit()
            case "theme":
                self.follow_palette(1)
            case "stand":
                self._ask(PauseExercise(id=self._new_id(), by=BY, on=not picture.paused))
            case "bookmark":
                self._mark(picture)
            case str() as words:
                self._state.message = words
            case None:
                pass
            case instruction:
                self._want(instruction, picture)
        self._draw()

    def _new_id(self) -> str:
        return self._options.new_id()

    def _mark(self, picture: Picture) -> None:
        whose = self._keys.chosen
        self._ask(Note(id=self._new_id(), by=BY, text="bookmark", wearer=whose))
        at = wording.day_time(picture.wall_ns, self._options.zone, seconds=True)
        about = f" of wearer {whose}" if whose is not None else ""
        self._want(Bookmark(text=f"{at}{about}"), picture)

    def _ask(self, act: Act) -> None:
        self._state.asked[act.id] = act
        self._state.message = f"ASKED: {act.what.replace('_', ' ')}"
        self._desk.ask(act, self._clock.boot_ns())

    def _taken(self, act: Act | None) -> None:
        """The incident has done it; the packs follow."""
        if isinstance(act, PauseExercise) and self._picture is not None:
            self._want(Stand(still=act.on), self._picture)
        elif act is not None:
            self._state.message = f"TAKEN: {act.what.replace('_', ' ')}"

    def _want(self, instruction: Instruction, picture: Picture) -> None:
        try:
            add(self._options.wants, instruction)
        except OSError as error:
            self._state.message = f"NOT DONE: {error.strerror}"
            return
        if isinstance(instruction, Tick):
            at = wording.day_time(picture.wall_ns, self._options.zone, seconds=True)
            for wearer in instruction.wearers:
                before = self._state.ticks.get(wearer, ())
                ticked = (*before, f"{instruction.told} {at}")[-TICKS_MAX:]
                self._state.ticks[wearer] = ticked
        elif isinstance(instruction, InjectNow):
            self._state.made += 1
        self._state.message = _said(instruction)


def _said(instruction: Instruction) -> str:
    match instruction:
        case InjectNow():
            return f"asked of the packs: {instruction.inject.name}"
        case Stand():
            stands = "everything stands still, the clocks of anybody real too"
            return stands if instruction.still else "everything goes on"
        case Tick():
            return f"ticked: {instruction.told}"
        case Bookmark():
            return f"bookmark {instruction.text}"
    return f"asked of the packs: {instruction.name}, now"
