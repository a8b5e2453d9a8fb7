"""Each alarm from its first condition to its end as one row, from the steps of the fold. Pure."""

from dataclasses import dataclass, field

from monitor.incident.alarms.catalogue import CATALOGUE
from monitor.incident.alarms.engine import Key, Step
from monitor.incident.alarms.states import Input, State
from monitor.incident.events import Act, PutAside, Reset
from monitor.incident.picture import Priority

PRIORITIES = {
    Priority.DANGER: "danger",
    Priority.CAUTION: "caution",
    Priority.NOTICE: "notice",
}
"""In words."""

Row = tuple[object, ...]
_Moment = tuple[int, int]
"""Incident time and wall clock, ns."""
_NEVER = (None, None)


@dataclass(slots=True)
class _Life:
    number: int
    key: Key
    priority: Priority
    raised: _Moment
    state: State = State.NORMAL
    condition: bool = False
    wearers: set[int] = field(default_factory=set)
    times_raised: int = 0
    times_waited: int = 0
    times_put_aside: int = 0
    acknowledged: _Moment | None = None
    acknowledged_by: str = ""
    cleared: _Moment | None = None
    reset: _Moment | None = None
    reset_by: str = ""
    reason: str = ""
    ended: _Moment | None = None


class Alarms:
    """All alarms that live, and those that have just ended. Its size is that of the living."""

    def __init__(self, use: str) -> None:
        self.use = use
        """EXERCISE or REAL, in every row from now on."""
        self._living: dict[int, _Life] = {}
        self._over: list[_Life] = []

    def step(self, step: Step, wall_offset_ns: int) -> None:
        """Take one step; ``wall_offset_ns``: what the wall clock shows at incident time 0."""
        now = step.t, step.t + wall_offset_ns
        life = self._living.get(step.number)
        if life is None:
            life = _Life(step.number, step.key, step.priority, now)
            self._living[step.number] = life
        life.key = step.key
        life.priority = min(life.priority, step.priority)
        life.wearers.update(step.wearers)
        if step.condition and not life.condition:
            life.times_raised += 1
            life.cleared = None
        elif life.condition and not step.condition:
            life.cleared = now
        life.condition, life.state = step.condition, step.after
        life.times_waited += step.after is State.UNACKNOWLEDGED
        if step.what is Input.ACKNOWLEDGE and step.by and life.acknowledged is None:
            life.acknowledged, life.acknowledged_by = now, step.by
        if step.after is State.NORMAL:
            life.ended = now
            self._over.append(self._living.pop(step.number))

    def act(self, t: int, act: Act, wall_offset_ns: int) -> None:
        """Take what an officer did about one of them, after the steps that came of it."""
        if not isinstance(act, PutAside | Reset):
            return
        just_over = (life for life in self._over if life.number == act.alarm)
        life = self._living.get(act.alarm) or next(just_over, None)
        if life is None:
            return
        life.reason = act.reason
        if isinstance(act, Reset):
            life.reset, life.reset_by = (t, t + wall_offset_ns), act.by
        else:
            life.times_put_aside += 1

    def ended(self) -> list[Row]:
        """Rows of those that have ended since this was last asked."""
        rows = [self._row(life) for life in self._over]
        self._over.clear()
        return rows

    def standing(self) -> list[Row]:
        """Rows of those that still stand, at the end of the record."""
        return [self._row(life) for life in self._living.values()]

    def _row(self, life: _Life) -> Row:
        entry = CATALOGUE[life.key.kind]
        return (
            self.use, life.number, life.key.kind.value, entry.word, PRIORITIES[life.priority],
            " ".join(str(number) for number in sorted(life.wearers)) or None,
            life.key.pack or None, life.key.link or None, life.key.crew or None,
            *life.raised, life.times_raised, life.times_waited,
            *(life.acknowledged or _NEVER), life.acknowledged_by or None,
            *(life.cleared or _NEVER), life.times_put_aside,
            *(life.reset or _NEVER), life.reset_by or None, life.reason or None,
            *(life.ended or _NEVER), life.state.value, entry.to_do,
        )  # fmt: skip
