"""Taking back a step that was noted by mistake: out for in, the wrong wearer, sent on. Pure.

The record only grows: the step stays in it, and so does that it was taken back. The fold then
stands as if it had not been noted. Only steps go that change nothing but what the officer notes of
a wear: before each of them what it may change is kept, and taking it back puts just that back. What
was announced or sent meanwhile stays announced and sent, and an order that closed stays closed.

Only whoever noted it takes it back, within ``UNDO_NS``, and only while nothing was noted after it
that stands on it: one step after the other, the last first.
"""

from dataclasses import dataclass, field

from monitor.incident import events
from monitor.incident.air.shown import SECOND_NS
from monitor.incident.air.turn_back import Way
from monitor.incident.orders.book import Emergency
from monitor.incident.picture import Phase
from monitor.incident.record.events import Undo
from monitor.incident.record.state import UndoView
from monitor.incident.situation import Situation
from monitor.incident.wearer import Wear, Wearer

UNDO_NS = 300 * SECOND_NS
STEPS_MAX = 64
"""Steps kept; of older ones nobody remembers what they changed."""
UNDOABLE = (
    events.Enter,
    events.ReachObjective,
    events.NewObjective,
    events.StartBack,
    events.ComeOut,
)
"""Steps that can be taken back. What begins or ends a wear, or feeds a gauge, cannot."""


@dataclass(frozen=True, slots=True)
class Before:
    """What a step may change of one wearer, as it was before."""

    wear: Wear
    phase: Phase
    phase_ns: int
    door: str
    location: str
    location_ns: int | None
    told: tuple[str, str, str]
    """Task, brief, communications."""
    entered_ns: int | None
    objective_ns: int | None
    back_ns: int | None
    out_ns: int | None
    way: Way | None
    way_ns: int
    voice_ns: int | None
    emergency: Emergency | None
    last: str
    """Id of the step before of this wearer, which can be taken back next; empty: none."""


@dataclass(slots=True)
class Taken:
    """A step that can still be taken back."""

    by: str
    t: int
    what: str
    before: dict[int, Before] = field(default_factory=dict)
    """By wearer; who was taken back is no more among them."""
    ways: dict[int, Way | None] = field(default_factory=dict)
    """The way right after the step: another one now stands on it."""


def keep_before(s: Situation, act: events.Act) -> None:
    """Keep what this act is about to change, if it is a step that can be taken back."""
    if not isinstance(act, UNDOABLE):
        return
    while len(s.record.steps) >= STEPS_MAX:
        del s.record.steps[next(iter(s.record.steps))]
    taken = Taken(act.by, s.now, act.what)
    for number in act.wearers:
        taken.before[number] = _before(s, s.wearers[number])
    s.record.steps[act.id] = taken


def note_after(s: Situation, act: events.Act, wearers: tuple[int, ...]) -> None:
    """Take note of which act was the last that something may stand on."""
    if isinstance(act, UNDOABLE):
        for number in act.wearers:
            s.record.last_step[number] = act.id
            s.record.steps[act.id].ways[number] = _wear(s.wearers[number]).way
    elif isinstance(act, _STANDS_ON_IT):
        for number in wearers:
            s.record.last_step.pop(number, None)


_STANDS_ON_IT = (events.Connect, events.OffAir, events.JoinPack, events.SetCrew)
"""Acts after which a step before them is no more to be taken back."""


def _wear(wearer: Wearer) -> Wear:
    assert wearer.wear is not None, "a step is refused where nobody has connected"
    return wearer.wear


def _before(s: Situation, wearer: Wearer) -> Before:
    wear = _wear(wearer)
    return Before(
        wear, wearer.phase, wearer.phase_ns, wearer.door, wearer.location, wearer.location_ns,
        (wearer.task, wearer.brief, wearer.communications),
        wear.entered_ns, wear.objective_ns, wear.back_ns, wear.out_ns, wear.way, wear.way_ns,
        wear.voice_ns, s.orders.emergency.get(wearer.crew),
        s.record.last_step.get(wearer.number, ""),
    )  # fmt: skip


def why_not_undo(s: Situation, act: Undo, t: int) -> str | None:
    """Why this step is not to be taken back; None if it can be."""
    taken = s.record.steps.get(act.of)
    if taken is None:
        return "There is no such step, or it is too old to be taken back."
    if taken.by != act.by:
        return f"{taken.by} noted that: only they take it back."
    if t - taken.t > UNDO_NS:
        return "It was noted more than 5 min ago: correct the record."
    for number in act.wearers:
        wearer = s.wearers[number]
        if number not in taken.before:
            return f"{wearer.label}: that step is not theirs."
        if s.record.last_step.get(number) != act.of:
            return f"{wearer.label}: something was noted after it."
        if _wear(wearer).way != taken.ways[number]:
            return f"{wearer.label}: the start was put right after it: note the step in full."
    return None


def undo(s: Situation, act: Undo) -> None:
    """Put back what stood before the step."""
    taken = s.record.steps[act.of]
    for number in act.wearers:
        before, wearer = taken.before.pop(number), s.wearers[number]
        _put_back(wearer, before)
        if before.last:
            s.record.last_step[number] = before.last
        else:
            del s.record.last_step[number]
        if before.emergency is not None:
            s.orders.emergency.setdefault(wearer.crew, before.emergency)
        _orders(s, taken, wearer)


def _put_back(wearer: Wearer, before: Before) -> None:
    wear = before.wear
    wearer.step_to(before.phase)
    wearer.phase_ns, wearer.door = before.phase_ns, before.door
    wearer.location, wearer.location_ns = before.location, before.location_ns
    wearer.task, wearer.brief, wearer.communications = before.told
    if before.entered_ns is None and wear.breathing is not None:
        wear.breathing.not_entered()
    wear.entered_ns, wear.objective_ns = before.entered_ns, before.objective_ns
    wear.back_ns, wear.out_ns = before.back_ns, before.out_ns
    wear.way, wear.way_ns, wear.voice_ns = before.way, before.way_ns, before.voice_ns


def _orders(s: Situation, taken: Taken, wearer: Wearer) -> None:
    """Who is not out after all is asked again by orders that stand; who never went in is not."""
    for order in s.orders.open():
        line = order.lines.get(wearer.number)
        if line is None or line.wear is not wearer.wear:
            continue
        if taken.what == "come_out":
            line.out_ns = None
        elif taken.what == "enter" and line.late:
            if line.since_ns >= taken.t:
                del order.lines[wearer.number]
            else:
                line.late = False


def undo_view(s: Situation) -> UndoView | None:
    """The newest step that can be taken back; None: there is none."""
    for of, taken in reversed(s.record.steps.items()):
        if s.now - taken.t > UNDO_NS:
            break
        wearers = tuple(n for n in taken.before if s.record.last_step.get(n) == of)
        if wearers:
            return UndoView(of, taken.by, taken.what, wearers, s.now - taken.t)
    return None
