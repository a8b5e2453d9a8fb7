"""What the officer's keys mean: a state machine without clock or screen. Pure.

``press`` takes a key and the instant it was pressed, and answers with at most one effect. Time is
the boot clock in ns, handed in. The rules that protect against a wrong key live here: an alarm is
taken only if it was on the screen for half a second, a held key counts once, a chosen wearer
is forgotten after five seconds, nothing leaves without asking. An order takes two keys far apart:
one opens it, the other sends what has been read meanwhile, and every key that has nothing to do
with it closes it unsent.
"""

from dataclasses import dataclass

from monitor.board.acts import drafts, undo
from monitor.board.acts.effects import (
    Command,
    Effect,
    Move,
    Reading,
    Say,
    ScreenCommand,
    Step,
)
from monitor.board.acts.questions import (
    NOTES,
    Mode,
)
from monitor.board.keys.alarm_hands import AlarmHands
from monitor.board.keys.order_hands import IN_ORDER, NOT_SENT, QUESTION_NS
from monitor.board.keys.sheet_hands import QUITS, VIEW_ONLY
from monitor.board.keys.table import BY_NAME, Key
from monitor.board.sheets.common import act, far_under, why_no_reading
from monitor.board.words.choosing import (
    crew_of,
    crew_under_air,
    may_become,
    names,
    unread,
    wearer_of,
)
from monitor.incident import units
from monitor.incident.picture import Picture
from monitor.incident.record.state import UndoView
from monitor.incident.units import PressureUnit

DIGIT_HELD_NS = 60_000_000
"""The same digit faster than this is a held key, whose repeats come every 33 ms, or one of a burst
after a stall of the line; fingers are slower. Which of the two it is nobody can tell."""
DOUBT_NS = 500_000_000
"""After such a digit the keys count again once there was none for so long."""
IN_DOUBT = "NOT DONE: a key was held, or keys came in a burst. Nobody is chosen now"
READING_DIGITS: dict[PressureUnit, int] = {"bar": 3, "psi": 4}
"""A reading is complete at so many digits; fewer are ended with Enter."""

_STEPS: dict[str, tuple[Step, str]] = {
    "connect": ("connect", "connect"),
    "enter": ("enter", "enter"),
    "objective": ("objective", "objective reached"),
    "new objective": ("new objective", "sent on"),
    "start back": ("start back", "started back"),
    "out": ("out", "out"),
    "off air": ("off air", "off air"),
}
"""The step that a key notes, and what it is called in a message."""
GAUGE_KEYS = {
    Mode.READING: {"enter key", "rub out", "crew"},
    Mode.START: {"enter key", "rub out"},
}
"""Beside the digits, while a gauge is asked for."""
START_NS = 30_000_000_000
"""So long what a gauge showed at connecting is asked: it has to be called for."""
_PICKS = {"reset": Mode.RESET, "put aside": Mode.ASIDE_WHY, "take back": Mode.TAKE_BACK}
"""The question about an alarm that a key opens."""
FINDS = frozenset({"enter", "backspace", "escape", "up", "down"})
"""Beside letters, what goes on within what letters have found; all else is as ever."""
UNDOUBTED = QUITS | {"escape"}
"""Keys that may follow anything: they choose nobody and note nothing."""
_SCREEN: dict[str, ScreenCommand] = {
    "theme": "theme",
    "sort": "sort",
    "help": "help",
    "record again": "record again",
}


@dataclass(slots=True)
class Hands(AlarmHands):
    """The keyboard's state."""

    watched: int | None = None
    """The wearer whose own screen is open."""
    listed: int | None = None
    """The order whose own screen is open; ``page`` counts for it too."""
    step_asked: UndoView | None = None
    """The step that ``Mode.UNDO`` asks about."""
    _one: int = 0
    """The wearer chosen last, before the whole crew was."""
    _unread: tuple[int, ...] = ()
    """Whose gauge at connecting is asked, the first of them now."""
    _far: str = ""
    """What was typed of a gauge at connecting that is far under what is believed: asked about."""
    _last_digit: tuple[str, int] = ("", 0)
    _doubt_ns: int = -DOUBT_NS
    """When the last key came of those that are not to be believed."""

    @property
    def at_rest(self) -> bool:
        """No question is open, and nobody is chosen."""
        return self.mode is Mode.BOARD and not self.chosen and not self.typed

    @property
    def looks_elsewhere(self) -> bool:
        """Something else than the list is looked at."""
        return self.watched is not None or self.listed is not None or self.elsewhere

    def expire(self, now_ns: int) -> bool:
        """Forget a choice or question whose time is over; True if there was one."""
        if self.mode is Mode.SHEET or (self.mode is Mode.BOARD and not self.chosen):
            return False
        if now_ns < self.until_ns:
            return False
        self._back()
        return True

    # ------------------------------------------------------------ keys

    def press(
        self, name: str, now_ns: int, picture: Picture, character: str | None = None
    ) -> Effect | None:
        """Take one key. None: nothing to do beyond showing the new state.

        ``character``: what the key writes, if it writes anything.
        """
        self.expire(now_ns)
        if self.mode is Mode.MORE and self._is_held(name, now_ns):
            # Were it let go and no more, letters after it in a burst would be acts.
            self._doubt_ns = now_ns
            return None
        if name not in UNDOUBTED and now_ns - self._doubt_ns < DOUBT_NS:
            self._doubt_ns = now_ns
            self._back()
            return Say(IN_DOUBT)
        return self._press(name, now_ns, picture, character)

    def _press(
        self, name: str, now_ns: int, picture: Picture, character: str | None
    ) -> Effect | None:
        self.after_reading(name)
        if self.mode is Mode.SHEET and name not in QUITS:
            return self._sheet_key(name, character, now_ns, picture)
        if self.filling is not None:
            self._left(self.filling)  # a way out of the terminal keeps what was typed too
        if self.mode is Mode.FIND and (name in FINDS or (len(name) == 1 and name.isalpha())):
            return self._find_key(name, now_ns, picture)
        key = BY_NAME.get(name)
        if self.mode is Mode.ORDER and (key is None or key.does not in IN_ORDER):
            self._back()
            return Say(f"{NOT_SENT}: another key closed the order")
        if key is None:
            return None
        if key.does == "digit":
            return self._digit(name, now_ns, picture)
        if key.does in {"leave", "quit"}:
            self._leaves(key.does, now_ns)
            return None
        if key.does == "step":
            return self._step(1 if name == "down" else -1, now_ns, picture)
        if key.does in GAUGE_KEYS.get(self.mode, ()):
            return self._reading_key(key, now_ns, picture)
        if key.acts and not self.holds:
            self._back()
            return Say(VIEW_ONLY)
        return self._command(key, name, now_ns, picture)

    def _leaves(self, does: str, now_ns: int) -> None:
        """Go back from what is open, or ask whether the board is to be left."""
        if does == "quit":
            self._ask(Mode.QUIT, now_ns)
            return
        if self.mode is Mode.BOARD:
            self.watched = self.listed = self.viewed = None
        self._back()

    def _command(self, key: Key, name: str, now_ns: int, picture: Picture) -> Effect | None:
        match key.does:
            case "take":
                return self._take(now_ns, picture)
            case "take cautions":
                return self._take_cautions(now_ns, picture)
            case "silence":
                return self._silence(now_ns)
            case "reset" | "put aside" | "take back":
                return self._pick(_PICKS[key.does], now_ns, picture)
            case "theme" | "sort" | "help" | "record again":
                return self._of_screen(key.does)
            case "take board":
                return self._take_board(now_ns)
            case "note":
                self._ask(Mode.NOTE, now_ns)
                return None
            case "wearer":
                return self._watch(key, picture)
            case "enter key":
                return self._enter(now_ns, picture)
            case "rub out":
                return self._rub_out(now_ns, picture)
            case "evacuate" | "send" | "orders" | "whose":
                return self._order_key(key.does, name, now_ns, picture)
        return self._with_chosen(key, now_ns, picture)

    def _rub_out(self, now_ns: int, picture: Picture) -> Effect | None:
        """Forget a choice; where there is none, ask whether the last step is to be taken back."""
        if self.mode is not Mode.BOARD:
            return None
        if self.chosen or self.typed:
            self._back()
            return None
        if not self.holds:
            return Say(VIEW_ONLY)
        self.step_asked = picture.undo
        if self.step_asked is None:
            return Say(undo.NOTHING)
        self._ask(Mode.UNDO, now_ns)
        return None

    def _take_back_step(self, digit: str, picture: Picture) -> Effect:
        self._back()
        return undo.undone(self.step_asked, picture) if digit == "1" else Say("nothing done")

    def _of_screen(self, does: str) -> Command:
        if does == "help" and self.mode in {Mode.MORE, Mode.FIND}:
            self._back()  # the keys take the place of the table
        return Command(_SCREEN[does])

    # ------------------------------------------------------------ digits

    def _digit(self, digit: str, now_ns: int, picture: Picture) -> Effect | None:
        last, at_ns = self._last_digit
        self._last_digit = (digit, now_ns)
        if last == digit and now_ns - at_ns < DIGIT_HELD_NS:
            ordered = self.mode is Mode.ORDER
            self._doubt_ns = now_ns
            self._back()
            return Say(f"{NOT_SENT}: " * ordered + IN_DOUBT)
        match self.mode:
            case Mode.BOARD | Mode.ORDER:
                return self._choose(digit, now_ns, picture)
            case Mode.READING | Mode.START:
                return self._reading_digit(digit, now_ns, picture)
            case Mode.NOTE:
                return self._note(int(digit), picture)
            case Mode.MORE | Mode.FIND:
                return self._more_digit(digit, now_ns, picture)
            case Mode.QUIT:
                return self._leave(digit)
            case Mode.UNDO:
                return self._take_back_step(digit, picture)
            case Mode.TAKE_BOARD:
                self._back()
                return Command("take board") if digit == "1" else None
            case Mode.ORDERS | Mode.WHY_OUT | Mode.WHY_CLOSE | Mode.CLOSE_SURE:
                return self._order_digit(int(digit), now_ns, picture)
        return self._answer(digit, now_ns, picture)

    def _choose(self, digit: str, now_ns: int, picture: Picture) -> Effect | None:
        typed = self.typed + digit
        number = int(typed)
        if wearer_of(picture, number) is None or typed.startswith("0"):
            if may_become(picture, typed):
                self.chosen = self._others
                self.typed = typed
                self._stand(now_ns)
                return None
            ordered = self.mode is Mode.ORDER
            self._back()
            # Whole, never its last digit: that would be somebody else.
            nobody = f"no wearer has number {typed}; nobody is chosen"
            return Say(f"{NOT_SENT}: " * ordered + nobody)
        self.typed = typed
        self._chose(number, now_ns)
        return None

    def _chose(self, number: int, now_ns: int) -> None:
        """A wearer is chosen; an open screen of one wearer follows."""
        self.chosen = (*(n for n in self._others if n != number), number)
        self._one = number
        self._stand(now_ns)
        if self.watched not in {None, number}:
            self.watched, self.page = number, 0

    def _reading_digit(self, digit: str, now_ns: int, picture: Picture) -> Effect | None:
        if self._far:
            self.typed = self._far = ""  # another figure after all
        self.typed += digit
        self.until_ns = now_ns + (START_NS if self.mode is Mode.START else QUESTION_NS)
        if len(self.typed) >= READING_DIGITS[self.unit(picture)]:
            self._read_ns = now_ns
            return self._reading_done(now_ns, picture)
        return None

    def _reading_key(self, key: Key, now_ns: int, picture: Picture) -> Effect | None:
        self.until_ns = now_ns + (START_NS if self.mode is Mode.START else QUESTION_NS)
        match key.does:
            case "rub out":
                self.typed, self._far = self.typed[:-1], ""
            case "crew":
                self.chosen = (self._one,) if len(self.chosen) > 1 else self._crew(picture)
            case _ if self.typed:
                return self._reading_done(now_ns, picture)
        return None

    def unit(self, picture: Picture) -> PressureUnit:
        """What the gauge of the wearer chosen last reads in."""
        wearer = wearer_of(picture, self._one)
        return "psi" if wearer is not None and wearer.unit == "psi" else "bar"

    def _crew(self, picture: Picture) -> tuple[int, ...]:
        """Those of the crew of the wearer chosen last whose gauges count."""
        one = wearer_of(picture, self._one)
        return crew_under_air(picture, one) if one is not None else self.chosen

    def _reading_done(self, now_ns: int, picture: Picture) -> Effect:
        unit = self.unit(picture)
        bar = units.bar_from(int(self.typed), unit)
        starts = self._unread if self.mode is Mode.START else ()
        wearers, words = starts[:1] or self.chosen, f"{self.typed} {unit}"
        far = far_under(picture, wearers, bar) if starts and self.typed != self._far else ""
        if far:
            self._far = self.typed
            return Say(f"{far}: Enter if it is so, else type it again")
        self._back()
        why = why_no_reading(picture, wearers, bar)
        self._ask_start(starts if why else starts[1:], now_ns)
        if why:
            return Say(f"not taken: {words} is {why}")
        if starts:
            subject = f"start {words}, {names(picture, wearers)}"
            return act("amend_start", subject, wearers=wearers, pressure_bar=bar)
        lowest = len(wearers) > 1
        what = "lowest" if lowest else "reading"
        return Reading(wearers, bar, f"{what} {words}, {names(picture, wearers)}", lowest)

    def _ask_start(self, wearers: tuple[int, ...], now_ns: int) -> None:
        """Ask what the gauges of these showed at connecting, one after the other."""
        self._far = ""
        if wearers:
            self._ask(Mode.START, now_ns)
            self.until_ns = now_ns + START_NS
            self._unread, self._one = wearers, wearers[0]

    def starts_asked(self) -> tuple[int, ...]:
        """Whose gauge at connecting is asked, the first of them now."""
        return self._unread if self.mode is Mode.START else ()

    def _note(self, digit: int, picture: Picture) -> Effect:
        """Write a pick down, of the wearer chosen last if there is one."""
        whose = (self._one,) if self.chosen else ()
        self._back()
        if not 1 <= digit <= len(NOTES):
            return Say("nothing written down")
        said = NOTES[digit - 1]
        words = f"{names(picture, whose)}, " if whose else ""
        wearer = whose[0] if whose else None
        return act("note", f"note: {words}{said}", text=said, wearer=wearer)

    def _leave(self, digit: str) -> Effect | None:
        self._back()
        if digit == "1":
            return Command("leave")
        if digit == "2" and self.holds:
            return Command("leave and stop")
        return None

    def _take_board(self, now_ns: int) -> Effect | None:
        if self.holds:
            return Say("this screen has the board")
        self._ask(Mode.TAKE_BOARD, now_ns)
        return None

    # ------------------------------------------------------------ wearers

    def _step(self, by: int, now_ns: int, picture: Picture) -> Effect | None:
        numbers = [wearer.wearer for wearer in picture.wearers]
        if not numbers:
            return Say("nobody is on the board")
        from_one = self.chosen[0] if self.chosen else self.watched
        if from_one in numbers:
            place = (numbers.index(from_one) + by) % len(numbers)
        else:
            place = 0 if by > 0 else len(numbers) - 1
        self._back()
        self._chose(numbers[place], now_ns)
        return None

    def _watch(self, key: Key, picture: Picture) -> Effect | None:
        """Open the screen of one wearer, turn its page, or close it after the last.

        Without a wearer it is that of the orders, one after the other.
        """
        if self.viewed is not None and not self.chosen:
            self.viewed, self.page = (self.viewed, self.page + 1) if self.more else (None, 0)
        elif self.watched is None and self.chosen:
            self.watched, self.listed, self.viewed, self.page = self.chosen[0], None, None, 0
        elif self.watched is None and not picture.orders:
            return Say(f"{key.shown}: first the number of a wearer")
        elif self.more:
            self.page += 1
        elif self.watched is not None:
            self.watched = None
        else:
            numbers = [None, *(order.number for order in picture.orders), None]
            place = numbers.index(self.listed) if self.listed in numbers else 0
            self.listed, self.page = numbers[place + 1], 0
        self._back()
        return None

    def _with_chosen(self, key: Key, now_ns: int, picture: Picture) -> Effect | None:
        if not self.chosen:
            self._back()
            return Say(f"{key.shown}: first the number of a wearer")
        if key.does in {"crew", "and"}:
            if key.does == "crew":
                crew = crew_of(picture, self._one)
                self.chosen = (*(n for n in self._others if n not in crew), *crew)
            else:
                self._others = self.chosen
            self.typed = ""
            self._stand(now_ns)
            return None
        if key.does == "by voice":
            answer = drafts.voice_answer(picture, self.chosen)
            self._back()
            return answer
        if key.does == "reading":
            if len(self.chosen) > 1:
                self.chosen = self._crew(picture)
            self._ask(Mode.READING, now_ns)
            return None
        wearers = self.chosen
        self._back()
        step, words = _supply(picture, wearers) if key.does == "supply" else _STEPS[key.does]
        if step == "connect":
            self._ask_start(unread(picture, wearers), now_ns)
        return Move(step, wearers, f"{words}: {names(picture, wearers)}")


def _supply(picture: Picture, wearers: tuple[int, ...]) -> tuple[Step, str]:
    """Back to the own cylinder if all of them are on another supply, else on to that."""
    if all(w.augmented for w in picture.wearers if w.wearer in wearers):
        return "own supply", "on the own cylinder"
    return "other supply", "on another supply"
