"""The board as a process of its own: reads the journal, draws, hands acts to the desk.

One timer drives everything. It polls the source 20 times a second, which costs microseconds
when nothing is new; it makes a picture and draws once a second, and at once for an alarm, a key
or an answer. Nothing here counts incident time: ages come with the picture.
"""

import gc
import sqlite3
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import tzinfo
from enum import Enum

from textual.events import Click, Paste, Resize
from textual.events import Key as KeyEvent

from monitor.board.acts.effects import Asking, Command, Effect, Say, act_of
from monitor.board.acts.questions import Mode
from monitor.board.keys.hands import Hands
from monitor.board.keys.mouse import keys_at
from monitor.board.keys.order_hands import LAPSED
from monitor.board.keys.sheet_hands import Aids
from monitor.board.lines.alarm_lines import NO_ALARMS
from monitor.board.lines.header import Desk
from monitor.board.pages.screen import Drawn, Shown, opening_screen, screen
from monitor.board.session.answers import Answers
from monitor.board.session.bell import Bell
from monitor.board.session.messages import Messages
from monitor.board.session.ports import DeskPort, Reviver, Source
from monitor.board.session.revive import ENDED
from monitor.board.session.watchdog import Watchdog, banner, cause_of, laid_over
from monitor.board.terminal.lines_app import LinesApp
from monitor.board.terminal.themes import Colours
from monitor.board.words.marks import GLYPHS, Glyphs, Line, Look
from monitor.clock import Clock
from monitor.desk import Held, NoAnswer, NotTaken, Stopping, Taken
from monitor.desk_client import Answer
from monitor.errors import OutbyError
from monitor.incident.air.detail import AirDetail
from monitor.incident.incident import FOLD_VERSION
from monitor.incident.picture import Picture

POLL_S = 0.05
PICTURE_NS = 1_000_000_000
"""Between two pictures when nothing happens."""
BLINK_NS = 500_000_000
"""Half of the 1 Hz blink of a new alarm's sign."""
STOP_NS_MAX = 3_000_000_000
"""How long the recorder has to say that it stops."""


BEHIND = "reading what was missed"
ENDED_KEY = f"{ENDED}: w starts it again"


class Left(Enum):
    """How the board was left."""

    RECORDING = "recording goes on"
    STOPPED = "recording has stopped"
    OTHER_FOLD = "the recorder's software is of another version"
    """Its rules differ from ours: this board would show another incident than it records."""


@dataclass(frozen=True, slots=True)
class BoardOptions:
    """How this board looks, and whose it is."""

    new_id: Callable[[], str]
    """Gives a fresh id for an act."""
    colours: Colours = Colours.FULL
    daylight: bool = False
    glyphs: Glyphs = GLYPHS["unicode"]
    zone: tzinfo | None = None
    blink: bool = True
    view_only: bool = False
    aids: Aids = field(default_factory=Aids)
    """What sheets are made from."""
    away: bool = False
    """Shown on another machine than the recorder's: what is played there is not heard here."""


class BoardApp(LinesApp[Left]):
    """The screen. All words and layout come from the pure modules beside it."""

    def __init__(
        self, source: Source, desk: DeskPort, reviver: Reviver, clock: Clock, options: BoardOptions
    ) -> None:
        """Hold what the board stands on; nothing is read yet."""
        super().__init__(options.colours, daylight=options.daylight)
        self._source = source
        self._desk = desk
        self._reviver = reviver
        self._clock = clock
        self._options = options
        self._hands = Hands(holds=not options.view_only, aids=options.aids)
        self._messages = Messages()
        self._answers = Answers()
        self._shown = Shown(Desk())
        self._picture: Picture | None = None
        self._lines: Sequence[Line] = ()
        self._detail: AirDetail | None = None
        self._picture_ns = 0
        self._blink_on = True
        self._dirty = True
        self._stopped = False
        self._cause = ""
        self._fault = ""
        self._frames = 0
        self._bell = Bell()
        self._stop_asked_ns: int | None = None
        self._watchdog = Watchdog(clock.boot_ns())

    # ------------------------------------------------------------ life

    def on_mount(self) -> None:
        """Start the one timer."""
        self.begin(POLL_S)
        gc.collect()
        gc.freeze()

    def on_resize(self, _event: Resize) -> None:
        """Draw, though nothing else is new."""
        self._dirty = True

    # ------------------------------------------------------------ the one timer

    def tick(self) -> None:
        """Listen to the desk, read, draw if there is reason to."""
        now_ns = self._clock.boot_ns()
        answers = self._desk.pump(now_ns)
        news = self._read()
        answers = self._answers.ready(answers, self._source, now_ns)
        for answer in answers:
            self._answered(answer, now_ns)
        role = self._desk.role
        if role is not None and role.fold not in {0, FOLD_VERSION}:
            self.exit(Left.OTHER_FOLD)
        if self._desk.connected:
            # In between, what was last known stands: acts wait for the recorder, or come back
            # as not taken.
            self._hands.holds = self._desk.holds
        ordering = self._hands.mode is Mode.ORDER
        if self._hands.expire(now_ns):
            self._dirty = True
            if ordering:
                self._messages.say(LAPSED, now_ns)
        self._watch_horizon(now_ns, news=news)
        self._watch_stop(now_ns)
        due = now_ns - self._picture_ns >= PICTURE_NS
        news = news and (self._source.urgent() or self._dirty)
        if due or news or answers or self._picture is None:
            self._new_picture(now_ns)
            if due:
                # Also when there is nothing new to draw: somebody is looking.
                self._desk.beat(self._frames)
        blink_on = not self._options.blink or now_ns // BLINK_NS % 2 == 0
        if self._dirty or blink_on != self._blink_on:
            self._blink_on = blink_on
            self._draw(now_ns)

    def _read(self) -> bool:
        """Poll the source; a source that cannot be read stands still, and its horizon with it."""
        try:
            news = self._source.poll()
        except (OSError, sqlite3.Error, OutbyError) as error:
            self._fault = f"the journal cannot be read: {error}"
            return False
        self._fault = ""
        if news and self._source.catching_up:
            # Come back at once, but let a key be heard in between.
            self.call_later(self.tick)
        return news

    def _new_picture(self, now_ns: int) -> None:
        if self._source.horizon < 0 or self._source.catching_up:
            # A picture from the middle of the journal would show old data as if it were live.
            return
        self._picture = self._source.picture()
        self._picture_ns = now_ns
        self._hands.refresh(self._picture)
        self._look_closer()
        self._dirty = True
        self._ring(now_ns)

    def _look_closer(self) -> None:
        """Ask for all of the wearer whose own screen is open."""
        watched = self._hands.watched
        if watched is None or self._source.catching_up:
            self._detail = None
        else:
            self._detail = self._source.air_detail(watched)

    def _watch_horizon(self, now_ns: int, *, news: bool) -> None:
        behind = self._source.catching_up and news
        if not self._source.catching_up:
            self._watchdog.saw(self._source.horizon, now_ns)
        closed = self._picture is not None and self._picture.closed
        opening = self._picture is None and behind
        stopped = self._watchdog.stopped(now_ns) and not closed and not opening
        if self._stopped and not stopped:
            self._reviver.well()
        cause = ""
        if stopped:
            looked = BEHIND if behind else self._reviver.look(now_ns)
            looked = ENDED_KEY if looked == ENDED else looked
            cause = cause_of(self._fault, looked, not_on_disk=self._desk.not_on_disk)
        if (stopped, cause) != (self._stopped, self._cause):
            self._stopped, self._cause = stopped, cause
            self._dirty = True

    def _ring(self, now_ns: int) -> None:
        """Ring for what waits, where the recorder does not sound it."""
        picture = self._picture
        if picture is not None and self._bell.rings(picture, now_ns, stopped=self._stopped):
            self.bell()

    # ------------------------------------------------------------ drawing

    def _look(self) -> Look:
        width, height = self.size
        return Look(width, height, self._options.glyphs, self._options.zone, self._blink_on)

    def _draw(self, now_ns: int) -> None:
        look = self._look()
        if look.width < 1 or look.height < 1:
            return
        drawn = self._laid_out(look, now_ns)
        lines = drawn.lines
        if drawn.order:
            # Also below the banner of a display that has stopped: an order may still go out.
            self._hands.order_drawn(now_ns)
        if self._stopped:
            stands_ns = self._watchdog.stands_ns(now_ns)
            lines = laid_over(lines, banner(self._picture, look, stands_ns, self._cause))
            self._hands.hidden()
        else:
            there = self._picture.alarms if self._picture is not None else ()
            alarms = drawn.alarms
            self._hands.drawn(alarms.shown, alarms.top, now_ns, there, more=drawn.more)
        self._lines = lines
        self._view.show(lines)
        self._frames += 1
        self._dirty = False

    def _laid_out(self, look: Look, now_ns: int) -> Drawn:
        if self._picture is None:
            words = self._fault or "reading the journal"
            return Drawn(opening_screen(look, words), NO_ALARMS, more=False)
        role = self._desk.role
        by = role.by if role else self._picture.holder
        message, message_role = self._messages.line(now_ns)
        shown = Shown(
            Desk(
                self._desk.connected or self._picture.closed,
                self._hands.holds,
                by,
                self._options.away,
                0 if self._picture.closed else self._desk.full,
            ),
            self._shown.by_time,
            self._shown.help_page,
            self._shown.caution,
            message,
            message_role,
            self._detail,
            self._shown.large,
        )
        return screen(self._picture, look, self._hands, shown)

    # ------------------------------------------------------------ keys

    async def action_quit(self) -> None:
        """Ask. Every way out that a terminal library offers ends here."""
        self._press("ctrl+q")

    def action_suspend_process(self) -> None:
        """Ask instead: a suspended board is one that nobody looks at."""
        self._press("ctrl+q")

    def action_help_quit(self) -> None:
        """Ask instead of explaining how to quit."""
        self._press("ctrl+q")

    def on_key(self, event: KeyEvent) -> None:
        """Hand every key to the one state machine."""
        event.stop()
        event.prevent_default()
        self._press(event.key, event.character)

    def on_paste(self, event: Paste) -> None:
        """Take what was pasted as text, never as keys."""
        event.stop()
        event.prevent_default()
        effect = self._hands.paste(event.text) if self._picture is not None else None
        now_ns = self._clock.boot_ns()
        if effect is not None and self._picture is not None:
            self._do(effect, self._picture, now_ns)
        self._draw(now_ns)

    def on_click(self, event: Click) -> None:
        """Press the keys that a click stands for; clicks come only where the mouse is on."""
        if self._picture is None:
            return
        texts = ["".join(text for text, _ in line) for line in self._lines]
        hands = self._hands
        elsewhere = hands.elsewhere or hands.watched is not None or hands.listed is not None
        keys = keys_at(
            texts, event.screen_x, event.screen_y, hands.mode, self._picture, elsewhere=elsewhere
        )
        for name in keys:
            self._press(name, name if len(name) == 1 else None)

    def _press(self, name: str, character: str | None = None) -> None:
        now_ns = self._clock.boot_ns()
        picture = self._picture
        if picture is None:
            if name in {"q", "ctrl+q", "ctrl+c"}:
                self.exit(Left.RECORDING)
            return
        self._set(caution=False)
        if name == "escape" and self._back_from_view():
            self._draw(now_ns)
            return
        watched = self._hands.watched
        sheet = self._hands.filling
        effect = self._hands.press(name, now_ns, picture, character)
        if sheet is None and self._hands.filling is not None:
            self._messages.unsay()
        if self._hands.watched != watched:
            self._look_closer()
        if effect is not None:
            self._do(effect, picture, now_ns)
        self._draw(now_ns)

    def _back_from_view(self) -> bool:
        """Esc closes the help, then large figures, where nothing of the keys' own is open."""
        if not self._hands.at_rest:
            return False
        if self._shown.help_page:
            self._set(help_page=0)
            return True
        if self._shown.large and not self._hands.looks_elsewhere:
            self._set(large=False)
            return True
        return False

    def _set(
        self,
        *,
        caution: bool | None = None,
        by_time: bool | None = None,
        large: bool | None = None,
        help_page: int | None = None,
    ) -> None:
        old = self._shown
        self._shown = Shown(
            old.desk,
            old.by_time if by_time is None else by_time,
            old.help_page if help_page is None else help_page,
            old.caution if caution is None else caution,
            large=old.large if large is None else large,
        )

    def _do(self, effect: Effect, picture: Picture, now_ns: int) -> None:
        match effect:
            case Say():
                self._messages.say(effect.words, now_ns)
            case Command():
                self._command(effect, now_ns)
            case _:
                self._ask(effect, picture, now_ns)

    def _command(self, command: Command, now_ns: int) -> None:
        match command.does:
            case "theme":
                self.follow_palette(1)
            case "sort":
                # The list, least time first, large figures, and the list again.
                by_time, large = self._shown.by_time, self._shown.large
                self._set(by_time=not by_time and not large, large=by_time)
            case "help":
                page = self._shown.help_page
                self._set(help_page=page + 1 if not page or self._hands.more else 0)
            case "leave":
                self.exit(Left.RECORDING)
            case "leave and stop":
                self._desk.stop()
                self._stop_asked_ns = now_ns
                self._messages.say("ASKED: stop recording", now_ns)
            case "record again":
                self._record_again(now_ns)
            case "take board":
                self._desk.take()
                self._messages.say("ASKED: take the board", now_ns)

    def _record_again(self, now_ns: int) -> None:
        if self._stopped:
            self._reviver.again()
        elif self._picture is not None and self._picture.closed:
            self._messages.say("nothing started: the incident is closed", now_ns)
        else:
            self._messages.say("recording goes on already", now_ns)

    def _ask(self, effect: Asking, picture: Picture, now_ns: int) -> None:
        act_id = self._options.new_id()
        self._messages.asked(act_id, effect.subject, now_ns)
        self._hands.asked(act_id)
        self._desk.ask(act_of(effect, act_id, self._desk.by, picture.t), now_ns)

    def _answered(self, answer: Answer, now_ns: int) -> None:
        match answer:
            case Taken():
                self._messages.taken(answer.id, now_ns)
                self._hands.taken(answer.id)
            case Held():
                self._messages.held(answer.id, now_ns, sent=answer.sent)
            case NoAnswer():
                self._messages.no_answer(answer.id, now_ns)
            case NotTaken():
                self._messages.not_taken(answer.id, answer.why, now_ns)
            case Stopping() if self._stop_asked_ns is not None:
                self.exit(Left.STOPPED)
            case Stopping():
                self._reviver.ended()
        self._dirty = True

    def _watch_stop(self, now_ns: int) -> None:
        if self._stop_asked_ns is not None and now_ns - self._stop_asked_ns >= STOP_NS_MAX:
            self._stop_asked_ns = None
            self._messages.say("NOT STOPPED: the recorder did not answer", now_ns)
            self._dirty = True
