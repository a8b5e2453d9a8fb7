"""The keys of alarms: taking, resetting, putting aside, quiet. Pure.

An alarm is taken only if it was on the screen for half a second, so what can be read is kept here.
A reason that takes an alarm off the board stands there in words before it does.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field

from monitor.board.acts import drafts
from monitor.board.acts.effects import (
    Effect,
    PutAsideAlarm,
    ResetAlarm,
    Say,
    SilenceSound,
    TakeAlarms,
    TakeBackAlarm,
)
from monitor.board.acts.questions import (
    ABOUT,
    ANSWERS,
    ASIDE_REASONS,
    NONE,
    RESET_REASONS,
    SURE,
    About,
    Mode,
    called,
    minutes_for,
    why_no_reset,
)
from monitor.board.keys.sheet_hands import SheetHands
from monitor.board.lines.alarm_lines import waiting
from monitor.board.words import wording
from monitor.incident.events import SILENCE_S
from monitor.incident.picture import AlarmView, Picture, Priority

READ_NS_MIN = 500_000_000
"""An alarm must have stood this long on the screen before it can be taken."""
HELD_NS = 800_000_000
"""Space again within this time is a held key: keyboards start to repeat after up to 660 ms."""
ASKED_NS = 3_000_000_000
"""So long the same alarm is not asked for twice: on a slow base the answer to the first is on its
way, and the second would be told as not taken."""
ALARMS_IN_ACT_MAX = 50
"""As many as one act may name."""
GONE = "nothing done: it has gone"


@dataclass(slots=True)
class AlarmHands(SheetHands):
    """Since when each alarm can be read on the screen, and what is asked about one."""

    seen: dict[int, int] = field(default_factory=dict)
    """Alarm number to the instant it came on the screen."""
    top: tuple[int, int] | None = None
    """The alarm that Space takes, and since when it has been that."""
    more: bool = False
    """What is looked at has a page after this one."""
    _shown_as: dict[int, tuple[Priority, bool]] = field(default_factory=dict)
    """How urgent each alarm was when last drawn, and whether it had been taken."""
    _last_space_ns: int = -HELD_NS
    _asked: tuple[int, int] | None = None
    """The alarm that was last asked for by Space, while it waits as it did, and when."""
    _last_silence_ns: int = -HELD_NS

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
            if self._asked is not None and self._asked[0] == number:
                self._asked = None
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
        asked, asked_ns = self._asked or (0, 0)
        if asked == alarm.number and now_ns - asked_ns < ASKED_NS:
            return Say(f"asked for already, its answer is to come: {called(alarm)}")
        self._asked = alarm.number, now_ns
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
                picks = minutes_for(alarm)
                if place >= len(picks):
                    return Say("nothing done")
                minutes = picks[place]
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
            if self.mode is Mode.MORE:
                self._find(now_ns)
            else:
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
