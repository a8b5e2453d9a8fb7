"""The acts of a scenario, asked at the recorder's desk at their time, in the name "drill script".

It acts beside the person at the board and never takes the board away. An act that nobody answers
is asked again under the same id, which the desk takes once; so neither a recorder that starts
late nor one that is started again loses an act.

An act that waits for what it tells of holds back later ones about the same wearers, and no others.
"""

from collections.abc import Callable, Iterable, Sequence
from typing import Protocol

from monitor.desk import ANSWER_NS_MAX, Stopping, Taken
from monitor.desk_client import Connect, DeskClient
from monitor.incident import events
from monitor.incident.events import Act
from monitor.incident.orders.events import EmergencyCrew
from simulators.scenario import ActPlan

BY = "drill script"
SECOND_NS = 1_000_000_000
ALONE_NS = 15 * SECOND_NS
"""A recorder that died is started again well within this; after it nobody is there."""
STOPPED_NS = 3 * SECOND_NS
"""One that was stopped in good order comes back only if somebody asks for it at once."""


class Inside(Protocol):
    """What the officer at the door sees and hears of those inside."""

    def is_so(self, act: ActPlan) -> bool:
        """Whether what an act tells of has come true."""

    def gauge_bar(self, wearers: Sequence[int]) -> int:
        """The lowest of their gauges, as they read it out."""


def act_of(plan: ActPlan, act_id: str, inside: Inside) -> Act:
    """Give the act that an entry of a scenario stands for, now."""
    wearers = plan.wearers
    match plan.what:
        case "connect":
            return events.Connect(id=act_id, by=BY, wearers=wearers, pressure_bar=plan.pressure_bar)
        case "enter":
            return events.Enter(
                id=act_id, by=BY, wearers=wearers, location=plan.location, task=plan.task
            )
        case "locate":
            return events.Locate(id=act_id, by=BY, wearers=wearers, location=plan.location)
        case "reach_objective":
            return events.ReachObjective(
                id=act_id, by=BY, wearers=wearers, pressure_bar=plan.pressure_bar
            )
        case "start_back":
            return events.StartBack(id=act_id, by=BY, wearers=wearers)
        case "come_out":
            return events.ComeOut(id=act_id, by=BY, wearers=wearers)
        case "off_air":
            return events.OffAir(id=act_id, by=BY, wearers=wearers)
        case "spoken_reading":
            told_bar = plan.pressure_bar
            return events.SpokenReading(
                id=act_id,
                by=BY,
                wearers=wearers,
                pressure_bar=inside.gauge_bar(wearers) if told_bar is None else told_bar,
                location=plan.location,
                lowest=told_bar is None and len(wearers) > 1,
            )
        case "emergency_crew":
            return EmergencyCrew(id=act_id, by=BY, crew=plan.crew, state=plan.state)
        case "note":
            return events.Note(id=act_id, by=BY, text=plan.text)


class Script:
    """The acts that are still to be asked, in the order of their times. Pure."""

    def __init__(self, acts: Iterable[ActPlan], inside: Inside, run: str) -> None:
        """``run`` makes the acts' ids this run's own."""
        self._inside = inside
        self._waiting = [
            (f"{run}-{number:04}", plan)
            for number, plan in enumerate(sorted(acts, key=lambda plan: plan.at_s))
        ]

    def next(self, run_ns: int) -> Act | None:
        """Give the first that is due and need not wait."""
        held: set[int] = set()
        for act_id, plan in self._waiting:
            if plan.at_s * SECOND_NS > run_ns:
                break
            ready = held.isdisjoint(plan.wearers)
            if ready and (not plan.waits or self._inside.is_so(plan)):
                return act_of(plan, act_id, self._inside)
            held.update(plan.wearers)
        return None

    def done(self, act_id: str) -> None:
        """Take one off: it was taken, or never will be."""
        self._waiting = [waiting for waiting in self._waiting if waiting[0] != act_id]


class DrillScript:
    """Asks each act once its time has come, one after the other; ``poll`` does the work."""

    def __init__(
        self,
        acts: Iterable[ActPlan],
        inside: Inside,
        connect: Connect,
        *,
        run: str,
        boot_ns: Callable[[], int],
        say: Callable[[str], None],
    ) -> None:
        """``run`` makes the acts' ids this run's own; ``say`` is told of acts not taken."""
        self.taken = 0
        self.not_taken = 0
        self._script = Script(acts, inside, run)
        self._desk = DeskClient(connect, board=f"script-{run}", by=BY, want="script")
        self._boot_ns = boot_ns
        self._say = say
        self._asked: Act | None = None
        self._asked_ns = 0
        self._seated_ns = boot_ns()
        self._was_seated = False
        self._alone_ns = ALONE_NS
        """So long without a desk, and none will come back."""

    def seated(self) -> bool:
        """Whether the desk is there and knows this script; tries to reach it if not."""
        now_ns = self._boot_ns()
        self._desk.pump(now_ns)
        self._seated(now_ns)
        return self._desk.connected

    def poll(self, run_ns: int) -> bool:
        """Ask what is due and take in what was answered; never waits.

        False once the desk has been gone for so long that no recorder will come back.
        """
        now_ns = self._boot_ns()
        for answer in self._desk.pump(now_ns):
            if isinstance(answer, Stopping):
                self._alone_ns = STOPPED_NS
            elif isinstance(answer, Taken):
                self._done()
            elif answer.say == "not taken":
                self._refused(answer.why, now_ns)
        # In order, one at a time: who has not connected cannot enter.
        if self._asked is None and self._desk.connected:
            self._ask(self._script.next(run_ns), now_ns)
        self._seated(now_ns)
        return now_ns - self._seated_ns <= self._alone_ns

    def close(self) -> None:
        """Leave the desk."""
        self._desk.close()

    def _seated(self, now_ns: int) -> None:
        if self._desk.connected:
            if not self._was_seated:
                self._alone_ns = ALONE_NS
            self._seated_ns = now_ns
        self._was_seated = self._desk.connected

    def _ask(self, act: Act | None, now_ns: int) -> None:
        if act is not None:
            self._asked, self._asked_ns = act, now_ns
            self._desk.ask(act, now_ns)

    def _done(self) -> None:
        self.taken += 1
        if self._asked is not None:
            self._script.done(self._asked.id)
        self._asked = None

    def _refused(self, why: str, now_ns: int) -> None:
        act, self._asked = self._asked, None
        if act is None or now_ns - self._asked_ns >= ANSWER_NS_MAX:
            return  # it had become too old on the way: ask again
        self.not_taken += 1
        self._script.done(act.id)
        self._say(f"not taken: {act.what}: {why}")
