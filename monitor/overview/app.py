"""The overview in the terminal: one timer reads all doors and draws. There is no desk to act on."""

from dataclasses import dataclass
from datetime import tzinfo

from textual.events import Key as KeyEvent

from monitor.board.acts.effects import Command, Say
from monitor.board.keys.hands import Hands
from monitor.board.terminal.lines_app import LinesApp
from monitor.board.terminal.themes import Colours
from monitor.board.words.marks import GLYPHS, Glyphs, Look
from monitor.clock import Clock
from monitor.overview.doors import Door
from monitor.overview.keys import BY_NAME, LOOKS
from monitor.overview.overview import Overview, overview_of
from monitor.overview.screen import Looked, Seen, door_screen, overview_screen
from monitor.overview.watching import Doors

TICK_S = 0.1
DRAW_NS = 1_000_000_000
"""Between two pictures when nothing happens."""
LOOK_NS = 2_000_000_000
"""Between two looks for doors that are new."""
BLINK_NS = 500_000_000
TYPED_NS = 5_000_000_000
"""A door's number is waited for so long."""


@dataclass(frozen=True, slots=True)
class OverviewOptions:
    """How this screen looks, and of what operation."""

    operation: str = ""
    colours: Colours = Colours.FULL
    daylight: bool = False
    glyphs: Glyphs = GLYPHS["unicode"]
    zone: tzinfo | None = None
    blink: bool = True


class OverviewApp(LinesApp[None]):
    """The screen; all words come from the pure modules beside it."""

    def __init__(self, doors: Doors, clock: Clock, options: OverviewOptions) -> None:
        """Hold what it stands on; nothing is read yet."""
        super().__init__(options.colours, daylight=options.daylight)
        self._doors = doors
        self._clock = clock
        self._options = options
        self._overview = Overview(options.operation, (), (), clock.wall_ns())
        self._hands = Hands(holds=False)
        self._opened: int | None = None
        self._by_time = False
        self._typed, self._typed_ns = "", 0
        self._message = ""
        self._top = 0
        self._drawn_ns = self._looked_ns = clock.boot_ns() - LOOK_NS

    def on_mount(self) -> None:
        """Start the one timer."""
        self.begin(TICK_S)

    def tick(self) -> None:
        """Read, and draw if there is reason to."""
        now_ns = self._clock.boot_ns()
        if now_ns - self._looked_ns >= LOOK_NS:
            self._looked_ns = now_ns
            self._doors.look()
        self._doors.poll()
        if self._typed and now_ns - self._typed_ns > TYPED_NS:
            self._typed = ""
        self._hands.expire(now_ns)
        blinks = self._options.blink and now_ns // BLINK_NS != self._drawn_ns // BLINK_NS
        due = now_ns - self._drawn_ns >= DRAW_NS
        if due or blinks or self._doors.urgent():
            self._make()
            self._draw()

    def _make(self) -> None:
        doors = self._doors.doors()
        self._overview = overview_of(self._options.operation, doors, self._clock.wall_ns())
        door = self._door()
        if door is not None:
            self._hands.refresh(door.shown)

    def _door(self) -> Door | None:
        return next((d for d in self._overview.doors if d.number == self._opened), None)

    def _draw(self) -> None:
        self._drawn_ns = self._clock.boot_ns()
        width, height = self.size
        if width < 1 or height < 1:
            return
        lit = not self._options.blink or self._drawn_ns // BLINK_NS % 2 == 0
        look = Look(width, height, self._options.glyphs, self._options.zone, blink_on=lit)
        door = self._door()
        if door is None:
            seen = Seen(self._typed, self._message, self._top)
            self._view.show(overview_screen(self._overview, look, seen))
            return
        watched = self._doors.watched(door.number)
        wearer = self._hands.watched
        detail = watched.air_detail(wearer) if watched is not None and wearer is not None else None
        looked = Looked(self._by_time, self._message, detail)
        lines, more = door_screen(self._overview, door, look, self._hands, looked)
        self._hands.more = more
        self._view.show(lines)

    # ------------------------------------------------------------ keys

    async def action_quit(self) -> None:
        """Leave; nothing ends by it."""
        self.exit()

    def on_key(self, event: KeyEvent) -> None:
        """Take a key of the table; any other does nothing."""
        event.stop()
        event.prevent_default()
        key = BY_NAME.get(event.key)
        if key is None:
            return
        self._message = ""
        door = self._door()
        if key.does == "quit":
            self.exit()
        elif key.does == "theme":
            self.follow_palette(1)
        elif door is None:
            self._at_all(key.does, event.key)
        elif key.does in LOOKS:
            self._at_door(event.key, door)
        self._draw()

    def _at_all(self, does: str, name: str) -> None:
        match does:
            case "digit":
                self._typed = (self._typed + name)[-2:]
                self._typed_ns = self._clock.boot_ns()
                self._open_if_clear()
            case "open" if self._typed:
                self._open(int(self._typed))
            case "rub out":
                self._typed = self._typed[:-1]
            case "leave":
                self._typed, self._top = "", 0
            case "on":
                self._top += max(1, self.size.height // 2)
            case "back":
                self._top = max(0, self._top - max(1, self.size.height // 2))

    def _open_if_clear(self) -> None:
        """Open at once where no other door's number goes on from what was typed."""
        numbers = [str(door.number) for door in self._overview.doors]
        if [one for one in numbers if one.startswith(self._typed)] == [self._typed]:
            self._open(int(self._typed))

    def _open(self, number: int) -> None:
        self._typed = ""
        if any(door.number == number for door in self._overview.doors):
            self._opened = number
            self._hands = Hands(holds=False)
        else:
            self._message = f"there is no door {number}"

    def _at_door(self, name: str, door: Door) -> None:
        hands = self._hands
        if name == "escape" and hands.watched is None and not hands.chosen and not hands.typed:
            self._opened = None
            return
        match hands.press(name, self._clock.boot_ns(), door.shown):
            case Say(words=words):
                self._message = words
            case Command(does="sort"):
                self._by_time = not self._by_time
