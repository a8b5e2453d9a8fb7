"""The acts of a scenario, asked at the recorder's desk at their time, in the name "drill script".

It acts beside the person at the board and never takes the board away. An act that nobody answers
is asked again under the same id, which the desk takes once; so neither a recorder that starts
late nor one that is started again loses an act.
"""

from collections import deque
from collections.abc import Callable, Iterable

from monitor.desk import ANSWER_NS_MAX, Taken
from monitor.desk_client import Connect, DeskClient
from monitor.incident import events
from monitor.incident.events import Act
from simulators.scenario import ActPlan

BY = "drill script"
SECOND_NS = 1_000_000_000
ALONE_NS = 15 * SECOND_NS
"""A recorder that died is started again well within this; after it nobody is there."""


def act_of(plan: ActPlan, act_id: str) -> Act:
    """Give the act that an entry of a scenario stands for."""
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
        case "come_out":
            return events.ComeOut(id=act_id, by=BY, wearers=wearers)
        case "off_air":
            return events.OffAir(id=act_id, by=BY, wearers=wearers)
        case "spoken_reading":
            assert plan.pressure_bar is not None, "the scenario is checked for it"
            return events.SpokenReading(
                id=act_id,
                by=BY,
                wearers=wearers,
                pressure_bar=plan.pressure_bar,
                location=plan.location,
            )
        case "note":
            return events.Note(id=act_id, by=BY, text=plan.text)


class DrillScript:
    """Asks each act once its time has come, one after the other; ``poll`` does the work."""

    def __init__(
        self,
        acts: Iterable[ActPlan],
        connect: Connect,
        *,
        run: str,
        boot_ns: Callable[[], int],
        say: Callable[[str], None],
    ) -> None:
        """``run`` makes the acts' ids this run's own; ``say`` is told of acts not taken."""
        self.taken = 0
        self.not_taken = 0
        in_order = sorted(acts, key=lambda plan: plan.at_s)
        self._waiting = deque(
            (round(plan.at_s * SECOND_NS), act_of(plan, f"{run}-{number:04}"))
            for number, plan in enumerate(in_order)
        )
        self._desk = DeskClient(connect, board=f"script-{run}", by=BY, want="script")
        self._boot_ns = boot_ns
        self._say = say
        self._asked_ns: int | None = None
        self._seated_ns = boot_ns()

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
            if isinstance(answer, Taken):
                self._done()
            elif answer.say == "not taken":
                self._refused(answer.why, now_ns)
        # In order, one at a time: who has not connected cannot enter.
        if (
            self._asked_ns is None
            and self._waiting
            and self._waiting[0][0] <= run_ns
            and self._desk.connected
        ):
            self._asked_ns = now_ns
            self._desk.ask(self._waiting[0][1], now_ns)
        self._seated(now_ns)
        return now_ns - self._seated_ns <= ALONE_NS

    def close(self) -> None:
        """Leave the desk."""
        self._desk.close()

    def _seated(self, now_ns: int) -> None:
        if self._desk.connected:
            self._seated_ns = now_ns

    def _done(self) -> None:
        self.taken += 1
        self._waiting.popleft()
        self._asked_ns = None

    def _refused(self, why: str, now_ns: int) -> None:
        asked_ns, self._asked_ns = self._asked_ns, None
        if asked_ns is not None and now_ns - asked_ns >= ANSWER_NS_MAX:
            return  # nobody was there to answer: ask again
        self.not_taken += 1
        act = self._waiting.popleft()[1]
        self._say(f"not taken: {act.what}: {why}")
