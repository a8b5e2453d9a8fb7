"""How one run of a drill went: what the board showed of each inject, and what was done. Pure.

An inject is shown when the first alarm of its kind, on one of its wearers, stands among the alarm
lines at or after the inject. An expected act runs from there, or from the inject where it hangs on
no alarm, and the first act of that kind within its time meets it. What a
drill's own script did in the officer's place, the officer has not missed.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Literal

from monitor.incident import events
from monitor.incident.events import Act
from monitor.incident.orders.events import EmergencyCrew, GiveOrder
from monitor.incident.picture import Priority
from monitor.report.alarm_lives import AlarmLife, Answer

SECOND_NS = 1_000_000_000
READ_NS = SECOND_NS
"""Taken faster than this an alarm has hardly been read: sign, word and name are four words, and
people read about four a second. Common practice."""
Outcome = Literal["done", "late", "missed", "scripted", "not over", "not asked"]
"""``scripted``: the drill's own script did it. ``not over``: the run ended within its time.
``not asked``: the inject never came, or the board never showed its alarm."""


@dataclass(frozen=True, slots=True)
class Inject:
    """What was done to the wearers, and the alarm by which the board must show it."""

    name: str
    shows: str
    """Kind of alarm; empty: it need not show."""
    wearers: frozenset[int]
    """Of whom; empty: of whoever."""
    within_ns: int


@dataclass(frozen=True, slots=True)
class Expected:
    """One act that the procedure asks for."""

    what: str
    inject: str
    """Its name; empty: it hangs on ``at_ns``."""
    at_ns: int
    alarm: str
    order: str
    wearers: frozenset[int]
    within_ns: int
    needed: bool
    why: str


@dataclass(frozen=True, slots=True)
class Shown:
    """One inject that came."""

    inject: Inject
    at_ns: int
    alarm: int
    """Number of the alarm that showed it; 0: none did."""
    shown_ns: int | None
    taken_ns: int | None
    """Since the alarm stood there, ns."""
    by: str
    over: bool = True
    """The time in which it must be shown was over when the record ended."""
    could_not: str = ""
    """Why it could not happen in this run, as the virtual packs tell it; empty: it did."""

    @property
    def verdict(self) -> str:
        """How the board did, in a word or two."""
        if not self.inject.shows:
            return "need not show"
        if self.shown_ns is None and self.could_not:
            return f"could not happen: {self.could_not}"
        if self.shown_ns is None:
            return "NOT SHOWN" if self.over else "the run ended first"
        return "shown" if self.shown_ns <= self.inject.within_ns else "SHOWN LATE"


@dataclass(frozen=True, slots=True)
class Judged:
    """One expected act, and what came of it."""

    expected: Expected
    outcome: Outcome
    from_ns: int | None
    """When its time began; None: it never did."""
    after_ns: int | None = None
    """When the first such act came, since then."""
    by: str = ""


@dataclass(frozen=True, slots=True)
class Score:
    """All of one run."""

    shown: tuple[Shown, ...]
    judged: tuple[Judged, ...]
    never_came: tuple[str, ...]
    """Injects of the scenario that did not happen in this run."""
    unread: tuple[tuple[int, AlarmLife, int], ...]
    """When an alarm was taken too fast to have been read, which, and after how long, ns."""
    unasked: tuple[tuple[int, Act], ...]
    """Orders and emergency crews that no expected act asks for: to be talked over."""

    def count(self, outcome: Outcome, *, needed: bool = True) -> int:
        """How many acts came out so."""
        return sum(one.outcome == outcome and one.expected.needed is needed for one in self.judged)


def score(
    injects: Sequence[Inject],
    expected: Sequence[Expected],
    came: Iterable[tuple[int, str]],
    lives: Sequence[AlarmLife],
    acts: Sequence[tuple[int, Act]],
    end_ns: int,
    scripted: Sequence[tuple[int, Act]] = (),
    could_not: Mapping[str, str] = MappingProxyType({}),
) -> Score:
    """Judge a run that is recorded up to ``end_ns``.

    ``came``: when which inject came; ``acts``: the officer's, in order of time; ``scripted``:
    those of the drill's own script. ``could_not``: by name of an inject why it could not happen;
    nothing is asked because of one that was not shown either.
    """
    by_name = {one.name: one for one in injects}
    times = {name: t for t, name in came if name in by_name}
    shown = tuple(
        replace(_shown(by_name[name], t, lives, end_ns), could_not=could_not.get(name, ""))
        for name, t in times.items()
    )
    happened = {
        one.inject.name: one.at_ns for one in shown if not one.could_not or one.shown_ns is not None
    }
    alarms = {life.number: life for life in lives}
    judged = tuple(
        _not_over(_spared(_judge(one, happened, lives, alarms, acts), scripted, alarms), end_ns)
        for one in expected
    )
    return Score(
        shown=shown,
        judged=judged,
        never_came=tuple(name for name in by_name if name not in times),
        unread=tuple(too_fast(lives)),
        unasked=tuple((t, act) for t, act in acts if _drastic(act) and not _asked(act, expected)),
    )


# ---------------------------------------------------------------- what the board showed


def _stood_ns(life: AlarmLife, since_ns: int) -> int | None:
    """When this alarm first stood among the lines at or after an instant."""
    for spell in life.lines:
        if spell.to_ns is None or spell.to_ns > since_ns:
            return max(spell.from_ns, since_ns)
    return None


def _first(
    kind: str, wearers: frozenset[int], since_ns: int, lives: Sequence[AlarmLife]
) -> tuple[int, AlarmLife] | None:
    """The first alarm of that kind on one of them, and when it stood there."""
    found = [
        (at_ns, life.number, life)
        for life in lives
        if life.kind == kind
        and _concerns(wearers, life.wearers | {life.key.wearer})
        and (at_ns := _stood_ns(life, since_ns)) is not None
    ]
    if not found:
        return None
    at_ns, _, life = min(found, key=lambda one: one[:2])
    return at_ns, life


def _concerns(wanted: frozenset[int], wearers: Iterable[int]) -> bool:
    return not wanted or not wanted.isdisjoint(wearers)


def _shown(inject: Inject, at_ns: int, lives: Sequence[AlarmLife], end_ns: int) -> Shown:
    found = _first(inject.shows, inject.wearers, at_ns, lives) if inject.shows else None
    if found is None:
        return Shown(inject, at_ns, 0, None, None, "", at_ns + inject.within_ns <= end_ns)
    stood_ns, life = found
    taken = next(
        (
            (wait.spell.to_ns - stood_ns, wait.by)
            for wait in life.waits
            if wait.answer is Answer.TAKEN
            and wait.spell.to_ns is not None
            and wait.spell.to_ns >= stood_ns
        ),
        (None, ""),
    )
    return Shown(inject, at_ns, life.number, stood_ns - at_ns, *taken)


def too_fast(lives: Iterable[AlarmLife]) -> Iterator[tuple[int, AlarmLife, int]]:
    """Give when an alarm was taken too fast to have been read, which, and after how long, ns."""
    for life in lives:
        for wait in life.waits:
            if wait.answer is Answer.TAKEN and wait.spell.to_ns is not None:
                after_ns = wait.spell.to_ns - wait.spell.from_ns
                if after_ns < READ_NS and wait.priority is not Priority.NOTICE:
                    yield wait.spell.to_ns, life, after_ns


# ---------------------------------------------------------------- what was done


def _judge(
    expected: Expected,
    times: dict[str, int],
    lives: Sequence[AlarmLife],
    alarms: dict[int, AlarmLife],
    acts: Sequence[tuple[int, Act]],
) -> Judged:
    began = times.get(expected.inject) if expected.inject else expected.at_ns
    if began is not None and expected.alarm:
        found = _first(expected.alarm, expected.wearers, began, lives)
        # An order or a crew may answer an alarm of somebody it does not name.
        began = found[0] if found else None
    if began is None:
        return Judged(expected, "not asked", None)
    for t, act in acts:
        if t >= began and _meets(act, expected, alarms):
            outcome: Outcome = "done" if t - began <= expected.within_ns else "late"
            return Judged(expected, outcome, began, t - began, act.by)
    return Judged(expected, "missed", began)


def _spared(
    one: Judged, scripted: Sequence[tuple[int, Act]], alarms: dict[int, AlarmLife]
) -> Judged:
    """What the script did, once its time had begun, was not there to be done any more."""
    began = one.from_ns
    if one.outcome != "missed" or began is None:
        return one
    for t, act in scripted:
        if t >= began and _meets(act, one.expected, alarms):
            return replace(one, outcome="scripted", after_ns=t - began, by=act.by)
    return one


def _not_over(one: Judged, end_ns: int) -> Judged:
    """What was not done by the end of the record is missed only if its time was over."""
    over_ns = None if one.from_ns is None else one.from_ns + one.expected.within_ns
    if one.outcome == "missed" and over_ns is not None and over_ns > end_ns:
        return replace(one, outcome="not over")
    return one


def _meets(act: Act, expected: Expected, alarms: dict[int, AlarmLife]) -> bool:
    if act.what != expected.what:
        return False
    if isinstance(act, events.Acknowledge | events.Reset):
        named = act.alarms if isinstance(act, events.Acknowledge) else (act.alarm,)
        return any(
            life.kind == expected.alarm
            and _concerns(expected.wearers, life.wearers | {life.key.wearer})
            for number in named
            if (life := alarms.get(number)) is not None
        )
    if isinstance(act, GiveOrder):
        right = act.order == expected.order
        return right and (act.everybody or _concerns(expected.wearers, act.wearers))
    if isinstance(act, EmergencyCrew):
        return act.state != "stood down"
    wearers: tuple[int, ...] = getattr(act, "wearers", ())
    return _concerns(expected.wearers, wearers)


def _drastic(act: Act) -> bool:
    """Whether it moves people: such an act is never unimportant."""
    if isinstance(act, GiveOrder):
        return act.order in {"evacuate", "come out"}
    return isinstance(act, EmergencyCrew) and act.state == "committed"


def _asked(act: Act, expected: Iterable[Expected]) -> bool:
    order = act.order if isinstance(act, GiveOrder) else ""
    return any(one.what == act.what and one.order == order for one in expected)
