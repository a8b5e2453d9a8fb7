"""A replay in the terminal: one timer moves the player and draws. There is no desk to act on."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import time, tzinfo

from textual.events import Key as KeyEvent

from monitor.archive.wall_clock import WallClock
from monitor.board.acts.effects import Command, Say
from monitor.board.keys.hands import Hands
from monitor.board.pages.screen import opening_screen
from monitor.board.terminal.lines_app import LinesApp
from monitor.board.terminal.themes import Colours
from monitor.board.words.marks import GLYPHS, Glyphs, Look
from monitor.clock import Clock
from monitor.errors import OutbyError
from monitor.incident.picture import Picture
from monitor.replay import marks, times
from monitor.replay.keys import BY_NAME, LOOKS
from monitor.replay.marks import KINDS, Mark, MarkKind
from monitor.replay.pacing import Pacing, Speed
from monitor.replay.player import Player
from monitor.replay.screen import Replayed, replay_screen

TICK_S = 0.05
SECOND_NS = 1_000_000_000


@dataclass(frozen=True, slots=True)
class ReplayOptions:
    """How this screen looks, and how fast it starts."""

    speed: Speed
    colours: Colours = Colours.FULL
    daylight: bool = False
    glyphs: Glyphs = GLYPHS["unicode"]
    zone: tzinfo | None = None


@dataclass(frozen=True, slots=True)
class Recorded:
    """What is known of the whole recording from the start."""

    marks: Sequence[Mark]
    clock: WallClock
    left_out: str = ""
    """What of a damaged journal is not shown, and why."""


class ReplayApp(LinesApp[None]):
    """The screen; all words come from the pure modules beside it."""

    def __init__(
        self, player: Player, found: Recorded, clock: Clock, options: ReplayOptions
    ) -> None:
        """Hold what it stands on; the player has been told where to begin."""
        super().__init__(options.colours, daylight=options.daylight)
        self._player = player
        self._marks = found.marks
        self._wall = found.clock
        self._left_out = found.left_out
        self._clock = clock
        self._options = options
        self._hands = Hands(holds=False)
        self._pacing = Pacing(options.speed)
        self._kind = MarkKind.ALARM
        self._picture: Picture | None = None
        self._jump: str | None = None
        self._message = ""
        self._by_time = False
        self._help = False

    def on_mount(self) -> None:
        """Start the one timer."""
        self.begin(TICK_S)

    def tick(self) -> None:
        """Let recorded time go by, fold towards it, draw."""
        now_ns = self._clock.boot_ns()
        passed = self._pacing.passed_ns(now_ns)
        player = self._player
        moved = False
        try:
            if passed is None:
                player.run_to(player.end())
            elif passed and not player.catching_up:
                player.run_to(player.horizon + passed)
            moved = player.poll()
        except OutbyError as error:
            self._pacing.running = False
            self._message = str(error)
        if player.horizon >= 0 and (not player.catching_up or passed is None):
            if moved or self._picture is None:
                self._picture = player.picture()
            if self._pacing.running and player.closed:
                self._pacing.running = False
                self._message = "the incident is closed: the end of the recording"
        self._hands.expire(now_ns)
        if moved and player.catching_up:
            self.call_later(self.tick)
        self._draw()

    def _draw(self) -> None:
        width, height = self.size
        if width < 1 or height < 1:
            return
        look = Look(width, height, self._options.glyphs, self._options.zone)
        if self._picture is None:
            self._view.show(opening_screen(look, self._message or "REPLAY: reading the journal"))
            return
        watched = self._hands.watched
        at_rest = self._picture.t == self._player.horizon
        detail = self._player.air_detail(watched) if watched is not None and at_rest else None
        said = self._message if self._jump is None else f"TO WHAT TIME, hhmmss: {self._jump}_"
        seeking = self._player.catching_up and not self._pacing.running
        shown = Replayed(
            self._pacing, self._marks, self._player.end(), self._kind, seeking, said,
            self._by_time, self._help, detail, self._left_out,
        )  # fmt: skip
        laid = replay_screen(self._picture, look, self._hands, shown)
        self._hands.more = laid.more
        self._view.show(laid.lines)

    # ------------------------------------------------------------ keys

    async def action_quit(self) -> None:
        """Leave; there is nothing to lose."""
        self.exit()

    def on_key(self, event: KeyEvent) -> None:
        """Take a key of the table; any other does nothing."""
        event.stop()
        event.prevent_default()
        key = BY_NAME.get(event.key)
        if key is None:
            return
        self._message = ""
        if key.does == "quit":
            self.exit()
        elif self._picture is None:
            return
        elif self._jump is not None:
            self._jump_key(key.does, event.key, self._picture)
        elif key.does in LOOKS:
            self._look(event.key, self._picture)
        else:
            self._move(key.does, self._picture)
        self._draw()

    def _look(self, name: str, picture: Picture) -> None:
        match self._hands.press(name, self._clock.boot_ns(), picture):
            case Say(words=words):
                self._message = words
            case Command(does="sort"):
                self._by_time = not self._by_time
            case Command(does="help"):
                self._help = not self._help
            case Command(does="theme"):
                self.follow_palette(1)

    def _move(self, does: str, picture: Picture) -> None:
        match does:
            case "run":
                self._pacing.running = not self._pacing.running
            case "faster" | "slower":
                self._pacing.faster(1 if does == "faster" else -1)
            case "kind":
                self._kind = KINDS[(KINDS.index(self._kind) + 1) % len(KINDS)]
            case "jump":
                self._jump = ""
            case "second on" | "second back":
                self._go(picture.t + (SECOND_NS if does == "second on" else -SECOND_NS))
            case "start" | "end":
                self._go(0 if does == "start" else self._player.end())
            case "next" | "previous":
                self._go_to_mark(marks.after if does == "next" else marks.before, picture)

    def _go_to_mark(self, find: marks.Find, picture: Picture) -> None:
        found = find(self._marks, self._kind, picture.t)
        if found is None:
            self._message = f"no {self._kind} there"
        else:
            self._go(found)

    def _go(self, t: int) -> None:
        """Stand still at that instant."""
        self._pacing.running = False
        self._player.aim(t)

    def _jump_key(self, does: str, name: str, picture: Picture) -> None:
        typed, self._jump = self._jump or "", None
        if does == "digit":
            typed += name
        elif does == "rub out":
            typed = typed[:-1]
        elif does != "jump":
            return
        if len(typed) < times.JUMP_DIGITS:
            self._jump = typed
            return
        try:
            moment = times.said_time(typed)
        except ValueError:
            self._message = f"{typed} is no time of day"
            return
        assert not isinstance(moment, int), "six digits are a time of day"
        self._go_to_moment(moment, picture)

    def _go_to_moment(self, moment: time, picture: Picture) -> None:
        """Go there; one that was shown several times is gone to in turn."""
        end, zone = self._player.end(), self._options.zone
        found = self._wall.instants(moment, end, zone)
        if not found:
            self._message = times.why_never(self._wall, moment, end, zone)
            return
        later = [t for t in found if t > picture.t]
        self._go((later or found)[0])
        if len(found) > 1:
            which = found.index(self._player.target) + 1
            self._message = f"{which} of {len(found)} times that it was so late; : again, the next"
