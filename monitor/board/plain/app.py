"""The board as lines that are only added: for screen readers, pipes, terminals that cannot draw.

What is said and what is typed is in ``words`` and ``commands``; here they stand on a
source and a desk, one step at a time. The owner calls ``step`` often and hands in typed lines.
"""

import sqlite3
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import tzinfo

from monitor.board.acts.effects import Asking, Move, TakeAlarms, act_of
from monitor.board.keys.alarm_hands import READ_NS_MIN
from monitor.board.keys.sheet_hands import Aids
from monitor.board.lines.alarm_lines import waiting
from monitor.board.plain.commands import (
    TYPED_MAX,
    Leave,
    LookAt,
    RecordAgain,
    command,
    start_question,
)
from monitor.board.plain.sheets import CANCEL, is_command, open_sheet, opening_lines, question
from monitor.board.plain.words import all_of_wearer, first_sentences, sentences
from monitor.board.session.answers import Answers
from monitor.board.session.bell import Bell
from monitor.board.session.messages import (
    HELD_WORDS,
    MAY_BE_DONE,
    NO_ANSWER,
    NOT_DONE,
    not_taken_words,
    taken_words,
)
from monitor.board.session.ports import DeskPort, Reviver, Source
from monitor.board.session.revive import ENDED
from monitor.board.session.watchdog import (
    FIRST_WORDS,
    SECOND_WORDS,
    THIRD_WORDS,
    Watchdog,
    cause_of,
)
from monitor.board.sheets.forms import Filling
from monitor.board.words import wording
from monitor.board.words.marks import clean
from monitor.clock import Clock
from monitor.desk import Held, NoAnswer, NotTaken, Stopping, Taken
from monitor.desk_client import TOO_MANY, Answer
from monitor.errors import OutbyError
from monitor.incident.picture import Picture, WearerView

STOPPED_AGAIN_NS = 10_000_000_000
"""The warning that the display has stopped is said again this often."""
STOP_NS_MAX = 3_000_000_000
"""How long the recorder has to say that it stops."""
PICTURE_NS = 1_000_000_000
ASKED_MAX = 128
POLLS_MAX = 10
"""Polls in one step while catching up: a step stays under a second."""


@dataclass(slots=True)
class PlainBoard:
    """Says what is new and answers what is typed. ``out`` prints one line."""

    source: Source
    desk: DeskPort
    reviver: Reviver
    clock: Clock
    new_id: Callable[[], str]
    out: Callable[[str], None]
    zone: tzinfo | None = None
    aids: Aids = field(default_factory=Aids)
    left: Leave | None = None
    """Set once the board is left."""
    _picture: Picture | None = None
    _filling: Filling[Asking] | None = None
    """The sheet that is open: lines are answers."""
    _picture_ns: int = 0
    _watchdog: Watchdog | None = None
    _stopped_ns: int | None = None
    _heard_by: tuple[str, ...] = ()
    """Links that were up when the display stopped."""
    _stop_asked_ns: int | None = None
    _said_ns: dict[int, int] = field(default_factory=dict)
    _asked: dict[str, str] = field(default_factory=dict)
    _doubtful: dict[str, str] = field(default_factory=dict)
    """What was said of some of them before the last word came, as in ``messages``."""
    _holds: bool | None = None
    _full: int = 0
    _beats: int = 0
    _bell: Bell = field(default_factory=Bell)
    _answers: Answers = field(default_factory=Answers)

    @property
    def closed(self) -> bool:
        """Whether the incident has ended."""
        return self._picture is not None and self._picture.closed

    def step(self) -> None:
        """Read what there is and say it."""
        now_ns = self.clock.boot_ns()
        answers = self.desk.pump(now_ns)
        fault, news = self._read()
        answers = self._answers.ready(answers, self.source, now_ns)
        for answer in answers:
            self._answered(answer)
        if self._watchdog is None:
            self._watchdog = Watchdog(now_ns)
        self._watchdog.saw(self.source.horizon, now_ns)
        due = now_ns - self._picture_ns >= PICTURE_NS
        ready = self.source.horizon >= 0 and not self.source.catching_up
        if ready and (due or self._picture is None or news or answers):
            self._follow(now_ns)
            if due:
                self._picture_ns = now_ns
                self._beats += 1
                self.desk.beat(self._beats)
        if self._picture is not None:
            # Only after the first words, which are the caution.
            self._say_role()
        self._say_stopped(now_ns, fault)
        if self._stop_asked_ns is not None and now_ns - self._stop_asked_ns >= STOP_NS_MAX:
            self._stop_asked_ns = None
            self.out("NOT STOPPED: the recorder did not answer.")

    def typed(self, line: str) -> None:
        """Do what one typed line asks for."""
        if self._picture is None:
            self.out("Nothing has been read yet.")
            return
        if self._in_sheet(line, self._picture):
            return
        found = command(line, self._picture)
        if isinstance(found, list):
            for sentence in found:
                self.out(sentence)
        elif isinstance(found, LookAt):
            self._say_all(found.wearer, self._picture)
        elif isinstance(found, Leave):
            self._leave(found)
        elif isinstance(found, RecordAgain):
            self._record_again()
        else:
            self._ask(found, self._picture)
            if isinstance(found, Move) and found.step == "connect":
                for sentence in start_question(self._picture, found.wearers):
                    self.out(sentence)

    def _in_sheet(self, line: str, picture: Picture) -> bool:
        """Take the line as the answer to a sheet, or open one with it; False: it is neither."""
        words = line[:TYPED_MAX].split()
        first = words[0].casefold() if words else ""
        filling = self._filling
        if filling is None:
            opened = open_sheet(words, picture, self.aids, lambda: self._picture or picture)
            if opened is None:
                return False
            if isinstance(opened, Filling) and self._holds is False:
                opened = ["VIEW ONLY: nothing done."]
            if isinstance(opened, Filling):
                self._filling = opened
                opened = opening_lines(opened)
            for sentence in opened:
                self.out(sentence)
            return True
        if is_command(words):
            return False
        if first == CANCEL and not words[1:]:
            self._filling = None
            self.out("Nothing done.")
            return True
        made = filling.fill(line[:TYPED_MAX])
        if made is None:
            self.out(question(filling))
            return True
        self._filling = None
        self._ask(made.what, picture)
        return True

    def _read(self) -> tuple[str, bool]:
        try:
            for _ in range(POLLS_MAX):
                self.source.poll()
                if not self.source.catching_up:
                    break
        except (OSError, sqlite3.Error, OutbyError) as error:
            return f"the journal cannot be read: {error}", False
        return "", self.source.urgent()

    def _follow(self, now_ns: int) -> None:
        new = self.source.picture()
        old, self._picture = self._picture, new
        said = first_sentences(new) if old is None else sentences(old, new)
        rings = self._bell.rings(new, now_ns)
        if rings and not said and (waits := waiting(new.alarms)) is not None:
            said = [f"Not taken: {waits.word}, {clean(waits.subject)}."]
        time = wording.day_time(new.wall_ns, self.zone, seconds=True)
        for place, sentence in enumerate(said):
            bell = "\a" if rings and place == 0 else ""
            self.out(f"{bell}{time} {sentence}")
        self._said_ns = {a.number: self._said_ns.get(a.number, now_ns) for a in new.alarms}

    def _ask(self, effect: Asking, picture: Picture) -> None:
        now_ns = self.clock.boot_ns()
        if self._holds is False:
            self.out("VIEW ONLY: nothing done.")
            return
        if isinstance(effect, TakeAlarms):
            said_ns = self._said_ns.get(effect.alarms[0], now_ns)
            if now_ns - said_ns < READ_NS_MIN:
                self.out("Not taken: this alarm has only just come.")
                return
        act_id = self.new_id()
        while len(self._asked) >= ASKED_MAX:
            oldest = next(iter(self._asked))
            del self._asked[oldest]
            self._doubtful.pop(oldest, None)
        self._asked[act_id] = effect.subject
        self.out(f"ASKED: {effect.subject}.")
        self.desk.ask(act_of(effect, act_id, self.desk.by, picture.t), now_ns)

    def _say_all(self, wearer: WearerView, picture: Picture) -> None:
        detail = self.source.air_detail(wearer.wearer)
        for sentence in all_of_wearer(wearer, detail, picture, self.zone):
            self.out(sentence)

    def _record_again(self) -> None:
        if self.closed:
            self.out("Nothing started: the incident is closed.")
        elif self._stopped_ns is None:
            self.out("Recording goes on already.")
        else:
            self.reviver.again()
            self._stopped_ns = -STOPPED_AGAIN_NS  # what comes of it is said at once

    def _leave(self, leave: Leave) -> None:
        if not leave.stop:
            self.left = leave
            self.out("Recording goes on.")
            return
        self._stop_asked_ns = self.clock.boot_ns()
        self.desk.stop()
        self.out("ASKED: stop recording.")

    def _answered(self, answer: Answer) -> None:
        match answer:
            case Taken():
                words = taken_words(self._doubtful.pop(answer.id, ""))
                self.out(f"{words}: {self._asked.pop(answer.id, 'act')}.")
            case Held():
                said = self._doubtful[answer.id] = "sent" if answer.sent else "held"
                self.out(f"{HELD_WORDS[said]}: {self._asked.get(answer.id, 'act')}.")
            case NoAnswer():
                self._doubtful[answer.id] = "unanswered"
                self.out(f"{NO_ANSWER}: {self._asked.get(answer.id, 'act')}: {MAY_BE_DONE}.")
            case NotTaken():
                before = self._doubtful.pop(answer.id, "")
                words = not_taken_words(before) if before or answer.why == TOO_MANY else NOT_DONE
                act = self._asked.pop(answer.id, "act")
                self.out(f"{words}: {act}: {answer.why.rstrip('.')}.")
            case Stopping() if self._stop_asked_ns is None:
                self.reviver.ended()
            case Stopping():
                self.left = Leave(stop=True)
                self.out("Recording has stopped.")

    def _say_role(self) -> None:
        role = self.desk.role
        if self.desk.full != self._full:
            self._full = self.desk.full
            if self._full:
                self.out(
                    f"VIEW ONLY: NO SEAT for this board, {self._full} are open already. Close one."
                )
                self._holds = False
        if role is None or role.holder is self._holds:
            return
        self._holds = role.holder
        whose = f"{role.by} has the board" if role.by else "nobody has the board"
        self.out("This board may act." if role.holder else f"VIEW ONLY: {whose}.")

    def _lives_again(self) -> str:
        """Only what hears all that it heard before is what it was."""
        before, self._heard_by = self._heard_by, ()
        up = {link.name for link in self.source.picture().links if link.up}
        lost = [name for name in before if name not in up]
        if not lost:
            return "The display lives again."
        links = ", ".join(map(clean, lost))
        return f"\aThe display shows new values, BUT NOTHING IS HEARD BY: {links}."

    def _say_stopped(self, now_ns: int, fault: str) -> None:
        if self._watchdog is None or not self._watchdog.stopped(now_ns) or self.closed:
            if self._stopped_ns is not None:
                self.out(self._lives_again())
                self.reviver.well()
            self._stopped_ns = None
            return
        looked = self.reviver.look(now_ns)
        if looked == ENDED:
            looked += "; type record to start it again"
        cause = cause_of(fault, looked, not_on_disk=self.desk.not_on_disk)
        if self._stopped_ns is None and self._picture is not None:
            self._heard_by = tuple(link.name for link in self._picture.links if link.up)
        if self._stopped_ns is None or now_ns - self._stopped_ns >= STOPPED_AGAIN_NS:
            self._stopped_ns = now_ns
            stands = wording.age(self._watchdog.stands_ns(now_ns))
            words = f"{FIRST_WORDS}, {SECOND_WORDS}, {THIRD_WORDS}"
            self.out(f"\a{words}: nothing new for {stands}; {cause}.")
