"""Wears: each stay on air of each wearer as one row, from the acts and the board. Pure.

Times are those that the officer gave, where one was given for later entry; pressures are what
governed on the board when it was logged. The rest is taken from the board as it last was in the
wear, so a change of crew or place shows its latest state.
"""

from collections.abc import Callable, Mapping
from copy import deepcopy
from dataclasses import dataclass, field

from monitor.incident.events import (
    Act,
    ComeOut,
    Connect,
    Enter,
    JoinPack,
    NewObjective,
    OffAir,
    ReachObjective,
    StartBack,
)
from monitor.incident.picture import AirView, Picture, WearerView
from monitor.incident.record.events import Assign, ChangeCylinder, Undo
from monitor.incident.record.undoing import STEPS_MAX, UNDOABLE

STEPS = ("connected", "entered", "objective", "back", "out", "off_air")
"""As in the table of wearers."""
_STEP_OF: dict[type, str] = {
    Connect: "connected",
    Enter: "entered",
    ReachObjective: "objective",
    StartBack: "back",
    ComeOut: "out",
    OffAir: "off_air",
}
WEARING = (Connect, Enter, ReachObjective, NewObjective, StartBack, ComeOut, OffAir, Assign)

Row = tuple[object, ...]


@dataclass(slots=True)
class _Wear:
    times_ns: dict[str, int] = field(default_factory=dict)
    """By step: incident time."""
    clocks: dict[str, int] = field(default_factory=dict)
    """By step: wall clock, ns."""
    pressures_bar: dict[str, float | None] = field(default_factory=dict)
    task: str = ""
    brief: str = ""
    communications: str = ""
    air: AirView | None = None
    """As it was just before it ended: afterwards nothing is reckoned any more."""


class Wears:
    """The wears that go on, and those that have just ended. Its size is that of the board."""

    def __init__(self, use: str, heard_volume_l: Mapping[int, float]) -> None:
        """``heard_volume_l``: by pack, as it told; the check-in's word comes first."""
        self.use = use
        """EXERCISE or REAL, in every row from now on."""
        self._heard_volume_l = heard_volume_l
        self._now: dict[int, _Wear] = {}
        self._over: list[Row] = []
        self._ever: set[int] = set()
        self._steps: dict[str, dict[int, _Wear]] = {}
        """By id of a step that can be taken back: each wear as it stood before."""
        self._volume_l: dict[int, float | None] = {}
        """By wearer, as the check-in told."""

    def before(self, act: Act, board: Callable[[], Picture]) -> None:
        """Look at what an act is about to end. ``board`` gives the picture right before it."""
        if isinstance(act, UNDOABLE):
            if len(self._steps) >= STEPS_MAX:
                del self._steps[next(iter(self._steps))]
            live = [(n, wear) for n in act.wearers if (wear := self._now.get(n))]
            self._steps[act.id] = {n: deepcopy(wear) for n, wear in live}
        if isinstance(act, OffAir):
            for view in board().wearers:
                if view.wearer in act.wearers and view.wearer in self._now:
                    self._now[view.wearer].air = view.air

    def act(self, t: int, wall_offset_ns: int, act: Act, board: Callable[[], Picture]) -> None:
        """Take an act after it has been folded. ``board`` gives the picture right after it."""
        if isinstance(act, JoinPack):
            self._volume_l[act.wearer] = act.water_volume_l
        elif isinstance(act, ChangeCylinder):
            # Without a size it is as before.
            self._volume_l[act.wearer] = act.water_volume_l or self._volume_l.get(act.wearer)
        elif isinstance(act, Undo):
            self._now |= {n: w for n, w in self._steps.get(act.of, {}).items() if n in act.wearers}
        elif isinstance(act, WEARING):
            wearers = set(act.wearers)
            for view in board().wearers:
                if view.wearer in wearers:
                    self._step(t, wall_offset_ns, act, view)

    def _step(self, t: int, wall_offset_ns: int, act: Act, view: WearerView) -> None:
        number = view.wearer
        if isinstance(act, Connect):
            self._end(view, t)
            self._now[number] = _Wear()
            self._ever.add(number)
        wear = self._now.get(number)
        if wear is None:
            return
        # Going off air forgets what was told, for the next wear.
        wear.task = view.task or wear.task
        wear.brief = view.brief or wear.brief
        wear.communications = view.communications or wear.communications
        name = _STEP_OF.get(type(act))
        if name is None:
            return
        at_ns = getattr(act, "at_ns", None)
        wear.times_ns[name] = t if at_ns is None else at_ns
        wear.clocks[name] = wear.times_ns[name] + wall_offset_ns
        wear.pressures_bar[name] = view.air.pressure_bar
        if isinstance(act, OffAir):
            self._end(view, t)

    def _end(self, view: WearerView, t: int) -> None:
        wear = self._now.pop(view.wearer, None)
        if wear is not None:
            self._over.append(self._row(view, wear, t))

    def ended(self) -> list[Row]:
        """Rows of the wears that have ended since this was last asked."""
        rows, self._over = self._over, []
        return rows

    def going_on(self, picture: Picture) -> list[Row]:
        """Rows of the wears that go on at the end of the record, and of who was never on air."""
        rows = []
        for view in picture.wearers:
            wear = self._now.get(view.wearer)
            if wear is not None:
                rows.append(self._row(view, wear, picture.t))
            elif view.wearer not in self._ever:
                rows.append(self._row(view, _Wear(), picture.t))
        return rows

    def _row(self, view: WearerView, wear: _Wear, end_ns: int) -> Row:
        air, times = wear.air or view.air, wear.times_ns
        volume_l = self._volume_l.get(view.wearer)
        if volume_l is None and view.pack is not None:
            volume_l = self._heard_volume_l.get(view.pack)
        begun = times.get("connected")
        worn_ns = None if begun is None else times.get("off_air", end_ns) - begun
        steps = [
            value
            for step in STEPS
            for value in (wear.clocks.get(step), wear.pressures_bar.get(step))
        ]
        return (
            self.use, view.wearer, view.name, view.call_sign or None, view.crew or None,
            view.leader, view.pack, view.apparatus, air.rated_bar, volume_l,
            air.low_air_bar, air.turn_bar, air.start_bar,
            air.start_from.value if air.start_from else None,
            view.set_id or None, view.cylinder_id or None,
            wear.task or None, wear.brief or None, wear.communications or None,
            view.location or None, view.door or None, *steps, worn_ns, air.rate_mean_l_min,
        )  # fmt: skip
