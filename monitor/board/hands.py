"""What the officer's keys mean: a state machine without clock or screen. Pure.

``press`` takes a key and the instant it was pressed, and answers with at most one effect. Time is
the boot clock in ns, handed in. The rules that protect against a wrong key live here: an alarm is
taken only if it was on the screen for half a second, a held key counts once, a chosen wearer
is forgotten after five seconds, nothing leaves without asking. An order takes two keys far apart:
one opens it, the other sends what has been read meanwhile, and every key that has nothing to do
with it closes it unsent.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field

from monitor.board import drafts, wording
from monitor.board.alarm_lines import waiting
from monitor.board.choosing import crew_of, crew_under_air, may_become, names, wearer_of
from monitor.board.effects import (
    Command,
    Effect,
    Move,
    PutAsideAlarm,
    Reading,
    ResetAlarm,
    Say,
    ScreenCommand,
    SilenceSound,
    Step,
    TakeAlarms,
    TakeBackAlarm,
)
from monitor.board.keys import BY_NAME, Key
from monitor.board.order_hands import IN_ORDER, NOT_SENT, QUESTION_NS
from monitor.board.questions import (
    ABOUT,
    ANSWERS,
    ASIDE_MINUTES,
    ASIDE_REASONS,
    NONE,
    NOTES,
    RESET_REASONS,
    SURE,
    About,
    Mode,
    called,
    why_no_reset,
)
from monitor.board.sheet_hands import QUITS, VIEW_ONLY, SheetHands
from monitor.board.sheets import act, why_no_reading
from monitor.incident import units
from monitor.incident.events import SILENCE_S
from monitor.incident.picture import AlarmView, Picture, Priority
from monitor.incident.units import PressureUnit

READ_NS_MIN = 500_000_000
"""An alarm must have stood this long on the screen before it can be taken."""
HELD_NS = 800_000_000
"""Space again within this time is a held key: keyboards start to repeat after up to 660 ms."""
DIGIT_HELD_NS = 60_000_000
"""The same digit faster than this is a held key, whose repeats come every 33 ms, or one of a burst
after a stall of the line; fingers are slower. Which of the two it is nobody can tell."""
DOUBT_NS = 500_000_000
"""After such a digit the keys count again once there was none for so long."""
IN_DOUBT = "NOT DONE: a key was held, or keys came in a burst. Nobody is chosen: choose again"
READING_DIGITS: dict[PressureUnit, int] = {"bar": 3, "psi": 4}
"""A reading is complete at so many digits; fewer are ended with Enter."""
ALARMS_IN_ACT_MAX = 50
"""As many as one act may name."""

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
_PICKS = {"reset": Mode.RESET, "put aside": Mode.ASIDE_WHY, "take back": Mode.TAKE_BACK}
"""The question about an alarm that a key opens."""
GONE = "nothing done: it has gone"
UNDOUBTED = QUITS | {"escape"}
"""Keys that may follow anything: they choose nobody and note nothing."""
_SCREEN: dict[str, ScreenCommand] = {
    "theme": "theme",
    "sort": "sort",
    "help": "help",
    "record again": "record again",
}


@dataclass(slots=True)
class Hands(SheetHands):
    """The keyboard's state, and since when each alarm can be read on the screen."""

    seen: dict[int, int] = field(default_factory=dict)
    """Alarm number to the instant it came on the screen."""
    top: tuple[int, int] | None = None
    """The alarm that Space takes, and since when it has been that."""
    watched: int | None = None
    """The wearer whose own screen is open."""
    listed: int | None = None
    """The order whose own screen is open; ``page`` counts for it too."""
    more: bool = False
    """What is looked at has a page after this one."""
    _one: int = 0
    """The wearer chosen last, before the whole crew was."""
    _shown_as: dict[int, tuple[Priority, bool]] = field(default_factory=dict)
    """How urgent each alarm was when last drawn, and whether it had been taken."""
    _last_space_ns: int = -HELD_NS
    _last_silence_ns: int = -HELD_NS
    _last_digit: tuple[str, int] = ("", 0)
    _doubt_ns: int = -DOUBT_NS
    """When the last key came of those that are not to be believed."""

    # ------------------------------------------------------------ what the screen shows

    def drawn(
        self,
        shown: Iterable[int],
        top: int | None,
        now_ns: int,
        alarms: Iterable[AlarmView] = (),
        *,
        more: bool = False,
    ) -> None:
        """Take note of which alarms are on the screen, and which is the top one.

        ``more``: a wearer's own screen goes on on a further page.
        One of ``alarms`` that has become more urgent, or waits again, has only just come.
        """
        now = {alarm.number: (alarm.priority, alarm.acknowledged) for alarm in alarms}
        for number in [n for n, was in self._shown_as.items() if now.get(n, was) != was]:
            self.seen.pop(number, None)
            if self.top is not None and self.top[0] == number:
                self.top = None
        self._shown_as = now
        self.more = more
        self.seen = {number: self.seen.get(number, now_ns) for number in shown}
        if top is None or top not in self.seen:
            self.top = None
        elif self.top is None or self.top[0] != top:
            self.top = (top, now_ns)

    def hidden(self) -> None:
        """Nothing can be read: the display has stopped."""
        self.seen = {}
        self.top = None

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
        if name not in UNDOUBTED and now_ns - self._doubt_ns < DOUBT_NS:
            self._doubt_ns = now_ns
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
        key = BY_NAME.get(name)
        if self.mode is Mode.ORDER and (key is None or key.does not in IN_ORDER):
            self._back()
            return Say(f"{NOT_SENT}: another key closed the order")
        if key is None:
            return None
        if key.does == "digit":
            return self._digit(name, now_ns, picture)
        if key.does == "leave":
            if self.mode is Mode.BOARD:
                self.watched = self.listed = self.viewed = None
            self._back()
            return None
        if key.does == "quit":
            self._ask(Mode.QUIT, now_ns)
            return None
        if key.does == "step":
            return self._step(1 if name == "down" else -1, now_ns, picture)
        if self.mode is Mode.READING and key.does in {"enter key", "rub out", "crew"}:
            return self._reading_key(key, now_ns, picture)
        if key.acts and not self.holds:
            self._back()
            return Say(VIEW_ONLY)
        return self._command(key, name, now_ns, picture)

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
                return Command(_SCREEN[key.does])
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
                return None
            case "evacuate" | "send" | "orders" | "whose":
                return self._order_key(key.does, name, now_ns, picture)
        return self._with_chosen(key, now_ns, picture)

    # ------------------------------------------------------------ alarms

    def _take(self, now_ns: int, picture: Picture) -> Effect | None:
        held = now_ns - self._last_space_ns < HELD_NS
        self._last_space_ns = now_ns
        if held:
            return Say("not taken: Space was held or pressed twice")
        alarm = waiting(picture.alarms, self.named)
        if alarm is None:
            return Say("no alarm waits")
        since_ns = self.top[1] if self.top and self.top[0] == alarm.number else None
        by_number = not set(self.named).isdisjoint(alarm.wearers)
        if by_number:
            # Whoever names a wearer has read the line of that wearer.
            since_ns = self.seen.get(alarm.number)
        if since_ns is None or now_ns - since_ns < READ_NS_MIN:
            return Say("not taken: this alarm has only just come; read it, then Space")
        if by_number:
            self._back()
        return TakeAlarms((alarm.number,), called(alarm))

    @property
    def named(self) -> tuple[int, ...]:
        """The wearers chosen whose alarm comes first to Space: none while a question is open."""
        return self.chosen if self.mode is Mode.BOARD else ()

    def _take_cautions(self, now_ns: int, picture: Picture) -> Effect:
        waits = [a for a in picture.alarms if a.priority is Priority.CAUTION and not a.acknowledged]
        ready = [a.number for a in waits if now_ns - self.seen.get(a.number, now_ns) >= READ_NS_MIN]
        if not waits:
            return Say("no caution waits")
        if not ready:
            return Say("not taken: these cautions have only just come; read them, then a")
        numbers = tuple(ready[:ALARMS_IN_ACT_MAX])
        return TakeAlarms(numbers, wording.counted(len(numbers), "caution"))

    def _silence(self, now_ns: int) -> Effect | None:
        held = now_ns - self._last_silence_ns < HELD_NS
        self._last_silence_ns = now_ns
        return None if held else SilenceSound(SILENCE_S, f"sound silenced for {SILENCE_S} s")

    def _pick(self, mode: Mode, now_ns: int, picture: Picture) -> Effect | None:
        """Ask about an alarm: one of the chosen wearer first, the next with the same key again."""
        found = ABOUT[mode](picture)
        if not found:
            return Say(NONE[mode])
        numbers = [alarm.number for alarm in found]
        after: list[int] = []
        if self.mode is mode and self._about in numbers:
            after = numbers[numbers.index(self._about) + 1 :]
        theirs = [a.number for a in found if not set(a.wearers).isdisjoint(self.chosen)]
        self._about = (after or theirs or numbers)[0]
        self._ask(mode, now_ns)
        return None

    def asked_about(self, picture: Picture) -> About | None:
        """The alarm that the open question is about; None if it has gone meanwhile."""
        return next((a for a in ABOUT[self.mode](picture) if a.number == self._about), None)

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
            case Mode.READING:
                return self._reading_digit(digit, now_ns, picture)
            case Mode.NOTE:
                return self._note(int(digit), picture)
            case Mode.MORE:
                return self._more_digit(digit, now_ns, picture)
            case Mode.QUIT:
                return self._leave(digit)
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
        self.typed += digit
        self.until_ns = now_ns + QUESTION_NS
        if len(self.typed) >= READING_DIGITS[self.unit(picture)]:
            self._read_ns = now_ns
            return self._reading_done(picture)
        return None

    def _reading_key(self, key: Key, now_ns: int, picture: Picture) -> Effect | None:
        self.until_ns = now_ns + QUESTION_NS
        match key.does:
            case "rub out":
                self.typed = self.typed[:-1]
            case "crew":
                self.chosen = (self._one,) if len(self.chosen) > 1 else self._crew(picture)
            case _ if self.typed:
                return self._reading_done(picture)
        return None

    def unit(self, picture: Picture) -> PressureUnit:
        """What the gauge of the wearer chosen last reads in."""
        wearer = wearer_of(picture, self._one)
        return "psi" if wearer is not None and wearer.unit == "psi" else "bar"

    def _crew(self, picture: Picture) -> tuple[int, ...]:
        """Those of the crew of the wearer chosen last whose gauges count."""
        one = wearer_of(picture, self._one)
        return crew_under_air(picture, one) if one is not None else self.chosen

    def _reading_done(self, picture: Picture) -> Effect:
        unit = self.unit(picture)
        bar = units.bar_from(int(self.typed), unit)
        wearers, words = self.chosen, f"{self.typed} {unit}"
        self._back()
        why = why_no_reading(picture, wearers, bar)
        if why:
            return Say(f"not taken: {words} is {why}")
        lowest = len(wearers) > 1
        what = "lowest" if lowest else "reading"
        return Reading(wearers, bar, f"{what} {words}, {names(picture, wearers)}", lowest)

    def _answer(self, digit: str, now_ns: int, picture: Picture) -> Effect | None:
        """Take the answer to a question about an alarm."""
        mode, alarm, place = self.mode, self.asked_about(picture), int(digit) - 1
        if mode is Mode.RESET_SURE:
            return Say("Enter resets it, Esc leaves it")
        self._back()
        if alarm is None or not 0 <= place < ANSWERS[mode]:
            return Say("nothing done")
        match mode:
            case Mode.ASIDE_WHY:
                self.why = ASIDE_REASONS[place]
                self._ask(Mode.ASIDE_FOR, now_ns)
                return None
            case Mode.ASIDE_FOR:
                minutes = ASIDE_MINUTES[place]
                words = f"put aside for {minutes} min: {called(alarm)}"
                return PutAsideAlarm(alarm.number, minutes, self.why, words)
            case Mode.TAKE_BACK:
                return TakeBackAlarm(alarm.number, f"back again: {called(alarm)}")
        self.why = RESET_REASONS[place]
        why_not = why_no_reset(picture, alarm.wearers, self.why)
        if why_not:
            return Say(why_not)
        self._ask(Mode.RESET_SURE, now_ns)
        return None

    def _enter(self, now_ns: int, picture: Picture) -> Effect | None:
        """Open the table; or do what stands there in words, with the reason that was picked."""
        if self.mode not in SURE:
            self._open_more(now_ns)
            return None
        if self.mode is Mode.CLOSE_SURE:
            order = self.asked_to_close(picture)
            self._back()
            return drafts.closed(order, self.why) if order else Say(GONE)
        alarm = self.asked_about(picture)
        self._back()
        if alarm is not None:
            why_not = why_no_reset(picture, alarm.wearers, self.why)
            words = f"reset {called(alarm)}: {self.why}"
            return Say(why_not) if why_not else ResetAlarm(alarm.number, self.why, words)
        return Say(GONE)

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
        return Move(step, wearers, f"{words}: {names(picture, wearers)}")


def _supply(picture: Picture, wearers: tuple[int, ...]) -> tuple[Step, str]:
    """Back to the own cylinder if all of them are on another supply, else on to that."""
    if all(w.augmented for w in picture.wearers if w.wearer in wearers):
        return "own supply", "on the own cylinder"
    return "other supply", "on another supply"
