"""Each alarm of an incident from its first condition to its end, put together from its steps.

Pure. The fold keeps living alarms only; a record needs those that are over too. An alarm *began to
wait* each time it was announced as new; that is what alarm management counts.
"""

from collections.abc import Callable
from dataclasses import dataclass, field
from enum import StrEnum

from monitor.incident.alarms.catalogue import CATALOGUE, Kind, line_word
from monitor.incident.alarms.engine import Key, Step
from monitor.incident.alarms.states import PUT_AWAY, WAITING, Input, State
from monitor.incident.events import Act, PutAside, Reset, TakeBack
from monitor.incident.picture import AlarmView, Priority
from monitor.incident.put_aside import MINUTE_NS

LIVES_MAX = 50_000
"""Alarms kept of one incident; what comes after is counted. A year of the worst day ISA-18.2 calls
manageable has 110,000."""

Tell = Callable[[int], AlarmView | None]
"""Gives the line of a living alarm by its number."""


@dataclass(slots=True)
class Spell:
    """A stretch of time, ns."""

    from_ns: int
    to_ns: int | None = None
    """None: it still went on when the record ended."""

    def length_ns(self, end_ns: int) -> int:
        """How long; ``end_ns``: of the record."""
        return (end_ns if self.to_ns is None else self.to_ns) - self.from_ns

    def until(self, end_ns: int) -> tuple[int, int]:
        """From and to; what went on ends with the record."""
        return self.from_ns, end_ns if self.to_ns is None else self.to_ns


class Answer(StrEnum):
    """How a wait for the officer ended."""

    TAKEN = "taken"
    PUT_ASIDE = "put aside"
    HELD_BACK = "held back by the rules"
    BY_ITSELF = "went by itself"
    WAITS = "still waits"


@dataclass(slots=True)
class Wait:
    """One time that an alarm waited for the officer."""

    spell: Spell
    priority: Priority
    answer: Answer = Answer.WAITS
    by: str = ""


@dataclass(slots=True)
class Aside:
    """One time that an alarm was put aside."""

    spell: Spell
    minutes: int
    by: str
    reason: str
    ended: str = ""
    """How it came back; empty: it did not."""


@dataclass(slots=True)
class AlarmLife:
    """One alarm, as a record has it."""

    number: int
    key: Key
    priority: Priority
    """The most urgent that it was."""
    word: str = ""
    """As on the alarm line when it was most urgent."""
    subject: str = ""
    crew: str = ""
    location: str = ""
    detail: str = ""
    """The rule in words, when it was raised."""
    wearers: set[int] = field(default_factory=set)
    began: list[tuple[int, Priority]] = field(default_factory=list)
    """Each time it began to wait."""
    conditions: list[Spell] = field(default_factory=list)
    """When its condition held."""
    lines: list[Spell] = field(default_factory=list)
    """When it stood among the alarm lines."""
    waits: list[Wait] = field(default_factory=list)
    asides: list[Aside] = field(default_factory=list)
    held_back: int = 0
    """How often the rules held it back."""
    insisted: int = 0
    """How often it was announced again because nobody took it."""
    reset: tuple[int, str, str] | None = None
    """When, by whom, why a latched one was let go."""
    ended_ns: int | None = None

    @property
    def kind(self) -> Kind:
        """Its row in the catalogue."""
        return self.key.kind

    @property
    def raised_ns(self) -> int:
        """When its condition first began."""
        return self.conditions[0].from_ns if self.conditions else 0

    @property
    def cleared_ns(self) -> int | None:
        """When its condition last ended; None: it holds."""
        return self.conditions[-1].to_ns if self.conditions else None


class AlarmLives:
    """All alarms of one incident, by number."""

    def __init__(self) -> None:
        self.by_number: dict[int, AlarmLife] = {}
        self.left_out = 0
        """Alarms beyond ``LIVES_MAX``."""

    def in_order(self) -> list[AlarmLife]:
        """Every alarm, the first to be raised first."""
        return list(self.by_number.values())

    def step(self, step: Step, tell: Tell) -> None:
        """Take one step of the fold."""
        life = self.by_number.get(step.number)
        if life is None:
            if step.before is not State.NORMAL:
                return  # one that was left out
            if len(self.by_number) >= LIVES_MAX:
                self.left_out += 1
                return
            life = self.by_number[step.number] = AlarmLife(step.number, step.key, step.priority)
        life.key = step.key
        life.priority = min(life.priority, step.priority)
        life.wearers.update(step.wearers)
        _follow_condition(life, step)
        _follow_state(life, step)
        # Who joins a line that waits already makes nobody's alarm of it.
        if step.after is State.UNACKNOWLEDGED and step.what is not None:
            life.began.append((step.t, step.priority))
        if not life.subject or step.what is Input.WORSEN:
            _word(life, tell(step.number))

    def announced_again(self, number: int) -> None:
        """Note that an alarm which nobody took was announced again."""
        if life := self.by_number.get(number):
            life.insisted += 1

    def act(self, t: int, act: Act) -> None:
        """Take what an officer did, after the steps that came of it."""
        if not isinstance(act, PutAside | TakeBack | Reset):
            return
        life = self.by_number.get(act.alarm)
        if life is None:
            return
        if isinstance(act, PutAside):
            life.asides.append(Aside(Spell(t), act.minutes, act.by, act.reason))
        elif isinstance(act, Reset):
            life.reset = (t, act.by, act.reason)
        elif life.asides:
            life.asides[-1].ended = f"taken back by {act.by}"


def _follow_condition(life: AlarmLife, step: Step) -> None:
    holds = bool(life.conditions) and life.conditions[-1].to_ns is None
    if step.condition and not holds:
        life.conditions.append(Spell(step.t))
    elif not step.condition and holds:
        life.conditions[-1].to_ns = step.t


def _follow_state(life: AlarmLife, step: Step) -> None:
    listed = step.after not in PUT_AWAY and step.after is not State.NORMAL
    was_listed = bool(life.lines) and life.lines[-1].to_ns is None
    if listed and not was_listed:
        life.lines.append(Spell(step.t))
    elif was_listed and not listed:
        life.lines[-1].to_ns = step.t
    waits = bool(life.waits) and life.waits[-1].answer is Answer.WAITS
    if step.after in WAITING and not waits:
        life.waits.append(Wait(Spell(step.t), step.priority))
    elif waits:
        _follow_wait(life.waits[-1], step)
    if step.before is State.SHELVED and life.asides and step.after is not State.SHELVED:
        _end_aside(life.asides[-1], step)
    life.held_back += step.what is Input.SUPPRESS
    if step.after is State.NORMAL:
        life.ended_ns = step.t


def _follow_wait(wait: Wait, step: Step) -> None:
    wait.priority = min(wait.priority, step.priority)
    if step.after in WAITING:
        return
    wait.spell.to_ns = step.t
    wait.by = step.by
    wait.answer = Answer.TAKEN if step.by else _ANSWERS.get(step.what, Answer.BY_ITSELF)


def _end_aside(aside: Aside, step: Step) -> None:
    """Say how it came back; ``act`` knows better where the officer took it back."""
    aside.spell.to_ns = step.t
    if step.what is Input.UNSHELVE:
        over = step.t >= aside.spell.from_ns + aside.minutes * MINUTE_NS
        aside.ended = "its time was over" if over else "its wearer went off air or changed packs"
    elif step.what is Input.WORSEN:
        aside.ended = "it became more urgent"
    else:
        aside.ended = Answer.HELD_BACK


_ANSWERS: dict[Input | None, Answer] = {
    Input.SHELVE: Answer.PUT_ASIDE,
    Input.SUPPRESS: Answer.HELD_BACK,
}


def _word(life: AlarmLife, view: AlarmView | None) -> None:
    """Take the words of the alarm line; one that is over already has those of the catalogue."""
    if view is None:
        life.subject = life.subject or _subject(life.key)
        life.detail = life.detail or CATALOGUE[life.key.kind].raised
        life.word = line_word(life.key.kind, life.priority)
        return
    life.word, life.subject, life.crew = view.word, view.subject, view.crew
    life.location, life.detail = view.location, view.detail


def _subject(key: Key) -> str:
    if key.wearer:
        return str(key.wearer)
    if key.pack:
        return f"pack {key.pack}"
    return key.crew or (f"link {key.link}" if key.link else "base")
