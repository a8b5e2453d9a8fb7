"""Who keeps the board of an invented incident: an officer who answers, a clerk who notes.

The officer takes one alarm at a time, from the top, and calls; what crews answer is noted a little
later. The clerk notes what is seen and heard at the door, one thing in three seconds. Of two kinds:
one notes all of it, one forgets to note people out until somebody asks. An officer may pass over
reminders, and call only for what sounds.
"""

import heapq
from collections.abc import Callable
from itertools import count
from random import Random
from typing import Any

from monitor.incident import events
from monitor.incident.picture import AlarmView, Picture, Priority
from tests.benchmarks.crowd import BY, CLERK, OFFICER, Crew, Crowd

LOOK_S = 2.0
TAKES_S = 3.0
"""For seeing, reading and taking one alarm."""
CALL_S = 6.0
"""For a call, beside it; the answer comes while the next is read."""
ANSWER_S = (8.0, 25.0)
NOTE_S = 3.0
VOICE_SHARE = 0.95
"""Calls that are answered."""
AT_DOOR = frozenset({"out", "done"})
TURN = frozenset({"turn_soon", "turn_back", "low_air", "loss_of_pressure", "battery_flat"})
"""What is answered by a crew that starts back."""
GAUGE = frozenset(
    {"no_signal", "no_word", "gauge", "overdue", "crew_silent", "several_silent", "gauge_due",
     "thirds", "not_proven", "held_back"}
)  # fmt: skip
"""What is answered by a gauge reading."""
REMINDERS = frozenset({"turn_back", "turn_soon", "thirds", "gauge_due", "back_due"})


class Keepers:
    """Officer and clerk of one incident."""

    def __init__(self, crowd: Crowd, *, forgets: bool, ignores: bool = False) -> None:
        self._crowd, self._random = crowd, Random(f"keepers {crowd.random.random()}")
        self._forgets, self._ignores = forgets, ignores
        self._ids = count(1)
        self._busy_s = 0.0
        self._noting_s = 0.0
        self._notes: list[tuple[Crew, str]] = []
        self._later: list[tuple[float, int, Callable[[], None]]] = []
        self._reminded: dict[tuple[str, str], float] = {}
        self._crew_of = {w: crew for crew in crowd.inside.crews for w in crew.wearers}
        for crew in crowd.inside.crews:
            self._check_in(crew)

    def _act(self, act: type[Any], **fields: object) -> None:
        seat = OFFICER if act in {events.Acknowledge, events.Reset} else CLERK
        made = act.model_validate({"id": f"act-{next(self._ids):06}", "by": BY, **fields})
        self._crowd.ask(seat, made)

    def _check_in(self, crew: Crew) -> None:
        for member, wearer in enumerate(crew.wearers):
            name = f"{crew.name}-{member + 1}"
            self._act(
                events.ListWearer, wearer=wearer, name=name, call_sign=name, crew=crew.name,
                leader=member == 0,
            )  # fmt: skip
            self._join(wearer, 1)

    def _join(self, wearer: int, wear: int) -> None:
        self._act(
            events.JoinPack, wearer=wearer, pack=100 + wearer, water_volume_l=6.8, rated_bar=300,
            cylinder_id=f"{wearer}-{wear}",
        )  # fmt: skip

    def live(self, t_s: float) -> Picture | None:
        """Do what is to be done by now; the picture, if they looked."""
        for crew in self._crowd.inside.crews:
            self._notes += [(crew, what) for what in crew.happened if self._minds(what)]
            crew.happened.clear()
        if self._notes and t_s >= self._noting_s:
            self._noting_s = t_s + NOTE_S
            self._note(*self._notes.pop(0))
        while self._later and self._later[0][0] <= t_s:
            heapq.heappop(self._later)[2]()
        if t_s % LOOK_S or t_s < self._busy_s:
            return None
        picture = self._crowd.incident.picture()
        self._look(picture, t_s)
        return picture

    def _minds(self, what: str) -> bool:
        return not (self._forgets and what in {"come_out", "off_air"})

    def _note(self, crew: Crew, what: str) -> None:
        wearers = crew.wearers
        match what:
            case "connect":
                self._act(events.Connect, wearers=wearers)
            case "enter":
                self._act(events.Enter, wearers=wearers, location=crew.place)
            case "reach_objective":
                self._act(events.ReachObjective, wearers=wearers)
            case "start_back":
                self._act(events.StartBack, wearers=wearers)
            case "come_out":
                self._act(events.ComeOut, wearers=wearers)
            case "off_air":
                self._act(events.OffAir, wearers=wearers)
            case _:
                for wearer in wearers:
                    self._join(wearer, crew.wear)

    # ------------------------------------------------------------ alarms

    def _look(self, picture: Picture, t_s: float) -> None:
        for alarm in picture.alarms:
            if not alarm.acknowledged:
                self._busy_s = t_s + TAKES_S
                self._act(events.Acknowledge, alarms=(alarm.number,))
                self._answer(alarm, t_s)
                return
        for alarm in picture.alarms:
            if alarm.latched and alarm.state == "latched, acknowledged":
                self._busy_s = t_s + TAKES_S
                self._act(events.Reset, alarm=alarm.number, reason="seen to")
                return
        for alarm in () if self._ignores else picture.alarms:
            if alarm.priority is Priority.NOTICE and alarm.kind in REMINDERS:
                due = [
                    crew
                    for crew in self._crews(alarm)
                    if t_s - self._reminded.get((alarm.kind, crew.name), -1e9) >= 120
                ]
                if due:
                    self._reminded[alarm.kind, due[0].name] = t_s
                    self._call(alarm.kind, due[0], t_s)
                    return

    def _crews(self, alarm: AlarmView) -> list[Crew]:
        return list({id(c): c for c in map(self._crew_of.get, alarm.wearers) if c}.values())

    def _answer(self, alarm: AlarmView, t_s: float) -> None:
        """Call whoever it is about."""
        for crew in self._crews(alarm):
            self._call(alarm.kind, crew, t_s)

    def _call(self, kind: str, crew: Crew, t_s: float) -> None:
        self._busy_s += CALL_S if self._busy_s > t_s else 0.0
        self._busy_s = max(self._busy_s, t_s + CALL_S)
        if self._random.random() > VOICE_SHARE:
            return
        at_s = self._busy_s + self._random.uniform(*ANSWER_S)
        heapq.heappush(self._later, (at_s, next(self._ids), lambda: self._answered(kind, crew)))

    def _answered(self, kind: str, crew: Crew) -> None:
        inside = self._crowd.inside
        if crew.state in AT_DOOR:
            # They stand here: note it, for all of them.
            for what in ("come_out", "off_air")[: 2 if crew.state == "done" else 1]:
                self._notes.append((crew, what))
        elif kind in TURN:
            inside.leave(crew)
            self._notes.append((crew, "start_back"))
        elif kind in GAUGE:
            bar = int(inside.lowest_bar(crew))
            self._act(events.SpokenReading, wearers=crew.wearers, pressure_bar=bar, lowest=True)
        elif kind == "motion_alarm":
            inside.do(crew.wearers, does="reset_motion")
