"""One wearer with one cylinder: breathing, warming up, working, going in and out. No electronics.

Lives at instants that the unit around it chooses; time never goes back.
"""

from collections.abc import Mapping
from random import Random

from simulators.agenda import seconds
from simulators.cylinder import Cylinder
from simulators.deeds import (
    Breathe,
    Deed,
    Go,
    Leak,
    NewCylinder,
    SetWork,
    Simple,
    Still,
    Surroundings,
    Task,
)
from simulators.movement import FOREVER_NS
from simulators.populations import TASKS, TaskName, Worker
from simulators.scenario import PackPlan, Place
from simulators.wearer import Wearer, Work
from simulators.whereabouts import Point, Whereabouts, pace_s

SECOND_NS = 1_000_000_000
SETTLED_BAR = 1e-6
"""Within which the pressure is found: a cylinder at 200 bar reads 200.0."""


class Person:
    """A wearer and what they breathe from, where they are and what they do."""

    def __init__(
        self, plan: PackPlan, places: Mapping[str, Place], wearer: Wearer, spells: Random
    ) -> None:
        """Be at the door in clean air, with the cylinder filled. ``spells`` is of what they do."""
        self.wearer = wearer
        self.movement = wearer.movement
        self.cylinder = Cylinder(plan.water_volume_l, plan.fill_bar, plan.gas_c)
        start = places[plan.at].point if plan.at else Point(plan.distance_m, 0.0, 0.0)
        self.where = Whereabouts(start)
        self.place = plan.at
        """Where they have arrived; empty on the way."""
        self.on_air = False
        self.out = False
        """Has come back to the door."""
        self._places = places
        self._spells = spells
        self._door = plan.at
        self._going = False
        """On a leg at whose end something begins."""
        self._goal = ""
        self._worker: Worker | None = None
        self._resumes: Work | None = None
        """What they did before they set out, to be gone on with."""
        self._leak_l_min = 0.0
        self._around_c = self._fill_c = plan.gas_c
        self._now_ns = 0

    @property
    def gauge_bar(self) -> float:
        """What the cylinder's own gauge shows; never stuck."""
        return max(self.cylinder.pressure_bar + SETTLED_BAR, 0.0)

    @property
    def leaks(self) -> bool:
        """Whether air is lost beside what is breathed."""
        return self._leak_l_min > 0.0

    @property
    def arrives_ns(self) -> int:
        """When they will arrive somewhere; FOREVER_NS if they are not on the way."""
        return self.where.arrives_ns if self._going else FOREVER_NS

    @property
    def at_door(self) -> bool:
        """Whether they stand where they started."""
        return self.where.way_back_ns(self._now_ns) == 0

    def live(self, now_ns: int) -> None:
        """Breathe, leak and warm up to now."""
        span_ns = now_ns - self._now_ns
        litres = (self._worker or self.wearer).advance(now_ns)
        drawn = litres if self.on_air else 0.0
        drawn += self._leak_l_min * span_ns / (60 * SECOND_NS)
        self.cylinder.live(drawn, self._around_c, span_ns / SECOND_NS)
        self._now_ns = now_ns

    def do(self, deed: Deed, now_ns: int) -> None:
        """Do a deed of body and cylinder; any other is none of theirs."""
        match deed:
            case Breathe():
                self.on_air, self.out = True, False
                self._work(deed.work)
            case SetWork():
                self._work(deed.work)
            case Task():
                self._begin(deed.kind)
            case Still():
                self._lie_still(now_ns, seconds(deed.for_s))
            case Go():
                self._go(deed, now_ns)
            case Surroundings():
                self._around_c = deed.celsius
            case Leak():
                self._leak_l_min = deed.l_min
            case NewCylinder() if not self.on_air:
                # From the shelf at the door, not as cold as the one that was breathed empty.
                self.cylinder = Cylinder(self.cylinder.water_volume_l, deed.fill_bar, self._fill_c)
            case Simple(does="off_air"):
                self.on_air = False
                self._work(Work.REST)
            case Simple(does="collapse"):
                self._lie_still(now_ns, FOREVER_NS)
            case Simple(does="move"):
                self.movement.release(now_ns)
                self.where.go_on(now_ns)
            case _:
                """Of the electronics or the radio."""

    def leave(self, now_ns: int) -> bool:
        """Take the way out, if they can and are not on it or out; gives whether they do now."""
        if not self.on_air or self.out or self.where.homeward or self.movement.held(now_ns):
            return False
        self._work(Work.WAY_OUT)
        self.where.go_back(now_ns)
        self._going, self._goal, self.place = True, self._door, ""
        return True

    def arrive(self) -> None:
        """Begin with what there is to do where they have arrived; at the door, rest."""
        self._going, self.place = False, self._goal
        task = self._places[self.place].task if self.place else None
        if self.where.homeward:
            self.out = True
            self._work(Work.REST)
        elif task is not None:
            self._begin(task)
        elif self._resumes is not None:
            self._work(self._resumes)

    def _work(self, work: Work) -> None:
        self._worker = self._resumes = None
        self.wearer.work = work

    def _begin(self, task: TaskName) -> None:
        self._resumes = None
        self._worker = Worker(TASKS[task], self.wearer, self._spells)

    def _lie_still(self, now_ns: int, for_ns: int) -> None:
        self.movement.hold(now_ns, for_ns)
        self.where.halt(now_ns, self.movement.moves_again_ns(now_ns))

    def _go(self, deed: Go, now_ns: int) -> None:
        start = self.where.at(now_ns)
        if deed.to is None:
            end = Point(deed.distance_m or 0.0, 0.0, 0.0)
        else:
            end = self._places[deed.to].point
            resumes = self.wearer.work if self._worker is None else None
            resumes = self._resumes or resumes
            self._work(Work.CLIMB if end.floor > start.floor else Work.WALK)
            self._resumes = resumes
        over_s = pace_s(start, end) if deed.over_s is None else deed.over_s
        home = deed.to is not None and deed.to == self._door
        self.where.go(now_ns, seconds(over_s), end, homeward=home)
        self._going, self._goal, self.place, self.out = True, deed.to or "", "", False
