"""The alarms alive at an incident: conditions in, states and announcements out.

An alarm lives from the moment its condition begins until its state is normal again. Its number is
given once, in order of raising, and is never used twice, so that an act can never take an alarm
other than the one on the screen.
"""

from collections.abc import Collection
from dataclasses import dataclass
from typing import NamedTuple

from monitor.incident.alarms import catalogue
from monitor.incident.alarms.catalogue import Kind
from monitor.incident.alarms.states import LATCHED, PUT_AWAY, WAITING, Input, State, next_state
from monitor.incident.picture import Priority

INSIST_AFTER_NS = 30_000_000_000
"""A danger that waits for so long is announced again, and written large."""
ANNOUNCEMENTS_MAX = 10_000
"""Kept until taken. A reader that never takes them must not grow without end; oldest go first."""
REFUSALS_MAX = 1_000
"""The same for inputs that the state table refuses."""
STEPS_MAX = 100_000
"""The same for steps; only who asks for them and never takes them comes so far."""


_HELD = frozenset({State.SUPPRESSED, State.OUT_OF_SERVICE})


class Key(NamedTuple):
    """What makes two raisings the same alarm. One of the four is set, none for the base."""

    kind: Kind
    wearer: int = 0
    pack: int = 0
    """Only for a pack that belongs to nobody on the board."""
    link: int = 0
    crew: str = ""


@dataclass(frozen=True, slots=True)
class Announcement:
    """Something to be sounded and journalled."""

    number: int
    kind: str
    word: str
    priority: Priority
    t: int
    wearers: tuple[int, ...]
    again: bool
    """Said before, and still not taken."""


class Refusal(NamedTuple):
    """An input that the state table refuses: nothing was changed."""

    number: int
    kind: Kind
    state: State
    what: Input
    t: int


class Step(NamedTuple):
    """One step of an alarm from state to state, or of others into it, for the record."""

    number: int
    key: Key
    priority: Priority
    before: State
    after: State
    what: Input | None
    """None: only whom it is about has changed."""
    t: int
    condition: bool
    """Whether it holds, after the step."""
    by: str
    """Who took it, if this step is an officer's acknowledgement; else empty."""
    wearers: tuple[int, ...]
    joined: tuple[int, ...]
    """Those of them whom no step before has named, of one that lives already."""


class Aside(NamedTuple):
    """An alarm put aside: until when, by whom and why."""

    until_ns: int
    by: str
    reason: str


@dataclass(slots=True)
class Alarm:
    """One living alarm."""

    number: int
    key: Key
    priority: Priority
    state: State
    condition: bool
    raised_ns: int
    """When its condition last began."""
    waiting_ns: int
    """Since when it waits for the officer, or last waited."""
    wearers: Collection[int]
    """Whom it is about; none for the base and for a pack that nobody has."""
    taken_by: str = ""
    known: frozenset[int] = frozenset()
    """Whom it was about when it was last taken and, without a break, ever since."""
    insist_ns: int = 0
    """When it is due to be announced again, if it is a danger and still waits then."""
    insisted: bool = False
    """Has waited so long that it was announced again."""
    aside: Aside | None = None
    """While the officer has put it aside."""
    aside_of: frozenset[int] = frozenset()
    """Whom it was about when that was done, as far as they are on air still with the same pack."""
    over_ns: int | None = None
    """Since when its condition is over, while its off-delay runs; it counts as holding."""
    in_record: frozenset[int] = frozenset()
    """Whom its steps have named, where they are kept."""

    @property
    def waits(self) -> bool:
        """The officer has not taken it yet."""
        return self.state in WAITING

    @property
    def latched(self) -> bool:
        """Its condition has gone, and it stays until reset."""
        return self.state in LATCHED

    @property
    def listed(self) -> bool:
        """Among the alarm lines."""
        return self.state not in PUT_AWAY

    @property
    def may_be_put_aside(self) -> bool:
        """Whether the officer may put it aside for a time; never a danger."""
        allowed = catalogue.CATALOGUE[self.key.kind].may_be_shelved
        return allowed and self.listed and self.priority is not Priority.DANGER

    @property
    def counts(self) -> bool:
        """Colours its wearer's line: the condition holds or is latched."""
        return self.listed and (self.condition or self.latched)


class Engine:
    """All alarms of one incident. Knows nothing of packs and wearers but their numbers."""

    def __init__(self) -> None:
        self.by_key: dict[Key, Alarm] = {}
        self.by_number: dict[int, Alarm] = {}
        self.waiting: list[int] = []
        """Numbers of alarms that have begun to wait since the owner last looked."""
        self.ending: list[int] = []
        """Numbers of alarms whose off-delay has begun, likewise."""
        self.new_danger_ns = -1
        """When a danger last began to wait."""
        self._last_number = 0
        self._announcements: list[Announcement] = []
        self._refusals: list[Refusal] = []
        self._steps: list[Step] | None = None
        """None: nobody keeps the record of them."""

    # ------------------------------------------------------------ conditions

    def put(
        self,
        key: Key,
        t: int,
        priority: Priority | None = None,
        *,
        condition: bool,
        held: bool = False,
        wearers: Collection[int] | None = None,
        joined: bool = False,
        at_once: bool = False,
    ) -> None:
        """Say whether the condition holds now. Only a change does anything.

        ``priority``: more urgent than the catalogue's; never less urgent while the alarm lives.
        ``held``: suppressed by design for as long as this is said. ``wearers``: all whom it is
        about, if that is not just the key's; kept as it is given and read when asked. ``joined``:
        there are so many more of them that it waits anew, taken or put aside. ``at_once``: a
        condition that is over is so for good, and no off-delay runs.
        """
        alarm = self.by_key.get(key)
        if alarm is None:
            if not condition:
                return
            alarm = self._begin(key, t, priority or catalogue.CATALOGUE[key.kind].priority)
        if wearers is not None:
            alarm.wearers = wearers
            if alarm.known:
                alarm.known &= frozenset(wearers)
        if held and alarm.state not in _HELD:
            self._feed(alarm, Input.SUPPRESS, t)
        holds = condition or (not at_once and self._lingers(alarm, t))
        if condition or not holds:
            alarm.over_ns = None
        self._follow(alarm, t, priority, condition=holds)
        if joined and alarm.state in {State.ACKNOWLEDGED, State.SHELVED}:
            self._feed(alarm, Input.WORSEN, t)
        if not held and alarm.state is State.SUPPRESSED:
            self._feed(alarm, Input.RELEASE, t)
        if self._steps is not None and not alarm.in_record.issuperset(alarm.wearers):
            self._record(alarm, alarm.state, None, t)

    def _lingers(self, alarm: Alarm, t: int) -> bool:
        """Whether a condition that is over counts as holding still: for its off-delay."""
        delay = catalogue.off_delay_ns(alarm.key.kind)
        if not alarm.condition or not delay or alarm.state in _HELD:
            return False
        if alarm.over_ns is None:
            alarm.over_ns = t
            self.ending.append(alarm.number)
        return t <= alarm.over_ns + delay  # at the very end its own deadline tells, as for all

    def ends_at_ns(self, number: int) -> int | None:
        """When the off-delay of this alarm is over; None: none runs."""
        alarm = self.by_number.get(number)
        if alarm is None or alarm.over_ns is None:
            return None
        return alarm.over_ns + catalogue.off_delay_ns(alarm.key.kind)

    def end(self, number: int, t: int) -> None:
        """Its off-delay is over: so is the condition."""
        alarm = self.by_number[number]
        alarm.over_ns = None
        self._follow(alarm, t, None, condition=False)

    def _follow(self, alarm: Alarm, t: int, priority: Priority | None, *, condition: bool) -> None:
        worse = condition and priority is not None and priority < alarm.priority
        if worse and priority is not None:
            alarm.priority = priority
        before = alarm.state
        if condition != alarm.condition:
            alarm.condition = condition
            self._feed(alarm, Input.RAISE if condition else Input.CLEAR, t)
        if worse and alarm.state is before and before not in _HELD:
            self._feed(alarm, Input.WORSEN, t)

    def let_go(self, key: Key, t: int, taken_by: str) -> None:
        """End a suppression by an alarm that told of this one by name, and was taken by somebody.

        It comes back as taken. One that is not suppressed is left as it is.
        """
        alarm = self.by_key.get(key)
        if alarm is not None and alarm.state is State.SUPPRESSED:
            alarm.taken_by, alarm.known = taken_by, frozenset(alarm.wearers)
            self._feed(alarm, Input.RELEASE_TAKEN, t)

    def pulse(self, key: Key, t: int, since_ns: int | None = None) -> None:
        """A condition that is known to have held, but no longer does.

        ``since_ns``: when it began, if word of it comes only now.
        """
        alarm = self.by_key.get(key)
        if alarm is None or not alarm.condition:
            self.put(key, t, condition=True)
            self.put(key, t, condition=False)
            alarm = self.by_key.get(key)
            if alarm is not None and since_ns is not None:
                alarm.raised_ns = min(since_ns, t)

    def began(self, key: Key, t: int) -> None:
        """Its condition has held since ``t``: until now it was told in the line of several."""
        self.by_key[key].raised_ns = t

    def settle(self, key: Key, t: int) -> None:
        """The officer's own act is the answer: one that is over has nothing left to be taken."""
        alarm = self.by_key.get(key)
        if alarm is not None and alarm.state is State.RETURNED:
            self._feed(alarm, Input.ACKNOWLEDGE, t)

    def take_over(self, key: Key, t: int) -> None:
        """Another alarm says the same, and more surely: this one has nothing left to tell."""
        self.put(key, t, condition=False, at_once=True)
        alarm = self.by_key.get(key)
        if alarm is not None and alarm.waits:
            self._feed(alarm, Input.ACKNOWLEDGE, t)
        if alarm is not None and alarm.latched:
            self._feed(alarm, Input.RESET, t)

    def move(self, old: Key, new: Key) -> None:
        """Give an alarm to another subject (a pack has been joined), number and state kept."""
        if old in self.by_key and new not in self.by_key:
            alarm = self.by_key.pop(old)
            alarm.key = new
            alarm.wearers = (new.wearer,)
            self.by_key[new] = alarm

    # ------------------------------------------------------------ the officer

    def acknowledge(self, number: int, by: str, t: int) -> None:
        """Take an alarm that waits. Its condition is not touched."""
        alarm = self.by_number[number]
        alarm.taken_by = by
        alarm.known = frozenset(alarm.wearers)
        self._feed(alarm, Input.ACKNOWLEDGE, t)

    def reset(self, number: int, t: int) -> None:
        """Let go of a latched alarm."""
        self._feed(self.by_number[number], Input.RESET, t)

    def take_back_all(self, wearer: int, t: int) -> None:
        """End the shelving of all alarms of a wearer, and their part in those of several."""
        for alarm in list(self.by_number.values()):
            if alarm.aside is not None and wearer in alarm.aside_of:
                alarm.aside_of -= {wearer}
                if not alarm.aside_of:
                    self.take_back(alarm.number, t)

    def put_aside(self, number: int, aside: Aside, t: int) -> None:
        """Shelve an alarm: no line, no sound until its time is over or it worsens."""
        alarm = self.by_number[number]
        alarm.aside, alarm.aside_of = aside, frozenset(alarm.wearers)
        self._feed(alarm, Input.SHELVE, t)

    def take_back(self, number: int, t: int) -> None:
        """End the shelving of an alarm: it waits if its condition holds, else it is over."""
        self._feed(self.by_number[number], Input.UNSHELVE, t)

    def aside_until_ns(self, number: int) -> int | None:
        """When this alarm comes back by itself; None if it is not put aside."""
        alarm = self.by_number.get(number)
        return None if alarm is None or alarm.aside is None else alarm.aside.until_ns

    # ------------------------------------------------------------ announcements

    def insist_at_ns(self, number: int) -> int | None:
        """When this alarm is due to be announced again; None if it is not.

        Only a danger that is still there insists: one that is over waits in its line, quietly.
        """
        alarm = self.by_number.get(number)
        if alarm is None or not (alarm.waits and alarm.counts):
            return None
        if alarm.priority is not Priority.DANGER:
            return None
        return alarm.insist_ns

    def insist(self, number: int, t: int) -> None:
        """Announce an alarm again that still waits, and write it large."""
        alarm = self.by_number[number]
        alarm.insisted = True
        alarm.insist_ns = t + INSIST_AFTER_NS
        self._announce(alarm, t, again=True)

    def take_announcements(self) -> tuple[Announcement, ...]:
        """What is new since the last call."""
        taken = tuple(self._announcements)
        self._announcements.clear()
        return taken

    def take_refusals(self) -> tuple[Refusal, ...]:
        """What the state table has refused since the last call: for the log."""
        taken = tuple(self._refusals)
        self._refusals.clear()
        return taken

    def keep_steps(self) -> None:
        """From now on keep every step of every alarm until it is taken."""
        self._steps = []
        for alarm in self.by_number.values():
            alarm.in_record = frozenset(alarm.wearers)

    def take_steps(self) -> tuple[Step, ...]:
        """The steps since the last call, if they are kept."""
        if not self._steps:
            return ()
        taken = tuple(self._steps)
        self._steps.clear()
        return taken

    # ------------------------------------------------------------ inside

    def _begin(self, key: Key, t: int, priority: Priority) -> Alarm:
        self._last_number += 1
        alarm = Alarm(
            number=self._last_number,
            key=key,
            priority=priority,
            state=State.NORMAL,
            condition=False,
            raised_ns=t,
            waiting_ns=t,
            wearers=(key.wearer,) if key.wearer else (),
        )
        self.by_key[key] = alarm
        self.by_number[alarm.number] = alarm
        return alarm

    def _feed(self, alarm: Alarm, what: Input, t: int) -> None:
        entry = catalogue.CATALOGUE[alarm.key.kind]
        after = next_state(alarm.state, what, latching=entry.latches, condition=alarm.condition)
        if after is None:
            if len(self._refusals) < REFUSALS_MAX:
                self._refusals.append(Refusal(alarm.number, alarm.key.kind, alarm.state, what, t))
            return
        before, alarm.state = alarm.state, after
        self._record(alarm, before, what, t)
        if after is not State.SHELVED:
            alarm.aside = None
        if what is Input.RAISE:
            alarm.raised_ns = t
        if after is State.UNACKNOWLEDGED:
            self._wait(alarm, t)
        goes_by_itself = after is State.RETURNED and not entry.key_needed
        notice = after is State.UNACKNOWLEDGED and alarm.priority is Priority.NOTICE
        if goes_by_itself or notice:
            self._feed(alarm, Input.ACKNOWLEDGE, t)
        elif after is State.NORMAL:
            del self.by_key[alarm.key]
            del self.by_number[alarm.number]

    def _record(self, alarm: Alarm, before: State, what: Input | None, t: int) -> None:
        if self._steps is not None and len(self._steps) < STEPS_MAX:
            self._steps.append(_step(alarm, before, what, t))
            alarm.in_record |= frozenset(alarm.wearers)

    def _wait(self, alarm: Alarm, t: int) -> None:
        alarm.waiting_ns = t
        alarm.insist_ns = t + INSIST_AFTER_NS
        alarm.insisted = False
        alarm.taken_by = ""
        self.waiting.append(alarm.number)
        if alarm.priority is Priority.DANGER:
            self.new_danger_ns = t
        if alarm.priority is not Priority.NOTICE:
            self._announce(alarm, t, again=False)

    def _announce(self, alarm: Alarm, t: int, *, again: bool) -> None:
        if len(self._announcements) >= ANNOUNCEMENTS_MAX:
            del self._announcements[0]
        self._announcements.append(
            Announcement(
                number=alarm.number,
                kind=alarm.key.kind,
                word=catalogue.line_word(alarm.key.kind, alarm.priority),
                priority=alarm.priority,
                t=t,
                wearers=tuple(sorted(alarm.wearers)),
                again=again,
            )
        )


def _step(alarm: Alarm, before: State, what: Input | None, t: int) -> Step:
    begins = before is State.NORMAL
    joined = () if begins else tuple(sorted(set(alarm.wearers) - alarm.in_record))
    return Step(
        number=alarm.number,
        key=alarm.key,
        priority=alarm.priority,
        before=before,
        after=alarm.state,
        what=what,
        t=t,
        condition=alarm.condition,
        by=alarm.taken_by if what is Input.ACKNOWLEDGE else "",
        wearers=tuple(sorted(alarm.wearers)),
        joined=joined,
    )
