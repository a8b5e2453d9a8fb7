import socket
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

import pytest

from monitor import desk
from monitor.cli.drill_script import ALONE_NS, BY, STOPPED_NS, DrillScript, Script, act_of
from monitor.desk import Ask, Hello, NotTaken, Role, Stopping, Taken
from monitor.desk_client import unix_connect
from simulators.scenario import ActPlan

S = 1_000_000_000


class Desk:
    """A recorder's desk that answers as it is told."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.heard: list[Hello | Ask] = []
        self._listening = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
        self._listening.bind(str(path))
        self._listening.listen()
        self._listening.settimeout(1.0)
        self._board: socket.socket | None = None
        self._held = b""

    def answer(self, reply: Callable[[Ask], desk.DownMessage | None]) -> None:
        """Take in what has come, and answer each act with ``reply``."""
        if self._board is None:
            self._board, _ = self._listening.accept()
            self._board.settimeout(0.05)
            self._board.send(desk.line(Role(holder=False, by="R. Harrow")))
        try:
            self._held += self._board.recv(65_536)
        except TimeoutError:
            return
        *lines, self._held = self._held.split(b"\n")
        for line in lines:
            message = desk.read_up(line)
            assert isinstance(message, Hello | Ask)
            self.heard.append(message)
            if isinstance(message, Ask) and (said := reply(message)) is not None:
                self._board.send(desk.line(said))

    def say(self, message: desk.DownMessage) -> None:
        assert self._board is not None
        self._board.send(desk.line(message))

    @property
    def asked(self) -> list[Ask]:
        return [message for message in self.heard if isinstance(message, Ask)]

    def hang_up(self) -> None:
        if self._board is not None:
            self._board.close()
            self._board = None

    def close(self) -> None:
        self.hang_up()
        self._listening.close()
        self.path.unlink()


class Nobody:
    """Inside of which everything is so, and every gauge shows 187 bar."""

    def is_so(self, act: ActPlan) -> bool:
        return bool(act)

    def gauge_bar(self, wearers: Sequence[int]) -> int:
        return 187 if wearers else 0


class Time:
    def __init__(self) -> None:
        self.ns = 100 * S

    def __call__(self) -> int:
        return self.ns


MakeScript = Callable[[Time, list[str]], DrillScript]


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "desk"


@pytest.fixture
def at_desk(path: Path) -> Iterator[Desk]:
    found = Desk(path)
    yield found
    found.close()


ACTS = (
    ActPlan(at_s=20, what="enter", wearers=(1, 2), location="kiln hall", task="search"),
    ActPlan(at_s=10, what="connect", wearers=(1, 2)),
)


@pytest.fixture
def script(path: Path) -> Iterator[MakeScript]:
    made: list[DrillScript] = []

    def make(time: Time, said: list[str]) -> DrillScript:
        made.append(
            DrillScript(
                ACTS, Nobody(), unix_connect(path), run="trial", boot_ns=time, say=said.append
            )
        )
        return made[-1]

    yield make
    for one in made:
        one.close()


def taken(ask: Ask) -> Taken:
    return Taken(id=ask.act.id)


def test_acts_are_asked_in_order_at_their_time(script: MakeScript, at_desk: Desk) -> None:
    time, said = Time(), list[str]()
    one = script(time, said)
    for run_ns in (0, 10 * S - 1):
        one.poll(run_ns)
        at_desk.answer(taken)
    assert at_desk.heard == [Hello(board="script-trial", by=BY, want="script")]
    for _ in range(3):
        one.poll(10 * S)
        at_desk.answer(taken)
    assert [ask.act.what for ask in at_desk.asked] == ["connect"]
    for _ in range(3):
        one.poll(20 * S)
        at_desk.answer(taken)
    assert [ask.act.what for ask in at_desk.asked] == ["connect", "enter"]
    assert {ask.act.by for ask in at_desk.asked} == {BY}
    assert (one.taken, one.not_taken, said) == (2, 0, [])
    one.close()


def test_an_act_that_is_not_taken_is_told_and_the_next_one_follows(
    script: MakeScript, at_desk: Desk
) -> None:
    time, said = Time(), list[str]()
    one = script(time, said)
    one.poll(0)
    at_desk.answer(taken)
    for _ in range(5):
        one.poll(30 * S)
        at_desk.answer(lambda ask: NotTaken(id=ask.act.id, why="no such wearer"))
    assert said == ["not taken: connect: no such wearer", "not taken: enter: no such wearer"]
    assert (one.taken, one.not_taken) == (0, 2)


def test_a_recorder_that_comes_late_loses_no_act(script: MakeScript, path: Path) -> None:
    time, said = Time(), list[str]()
    one = script(time, said)
    for _ in range(40):
        assert not one.seated()
        one.poll(30 * S)
        time.ns += S
    desk_found = Desk(path)
    for _ in range(6):
        one.poll(30 * S)
        desk_found.answer(taken)
        time.ns += S
    assert [ask.act.what for ask in desk_found.asked] == ["connect", "enter"]
    assert (one.taken, one.not_taken) == (2, 0)
    desk_found.close()


def test_an_act_that_nobody_answered_is_asked_again_under_its_id(
    script: MakeScript, at_desk: Desk
) -> None:
    time, said = Time(), list[str]()
    one = script(time, said)
    one.poll(0)
    at_desk.answer(taken)
    one.poll(10 * S)  # hears its role, asks
    one.poll(10 * S)
    at_desk.answer(lambda _: None)
    at_desk.hang_up()
    for _ in range(12):
        time.ns += S
        one.poll(10 * S)
    at_desk.answer(taken)
    one.poll(10 * S)
    at_desk.answer(taken)
    one.poll(10 * S)
    assert len(at_desk.asked) >= 2
    assert {ask.act.id for ask in at_desk.asked} == {"trial-0000"}
    assert (one.taken, one.not_taken, said) == (1, 0, [])


@pytest.mark.parametrize(
    "plan",
    [
        ActPlan(at_s=1, what="connect", wearers=(1,), pressure_bar=280),
        ActPlan(at_s=1, what="enter", wearers=(1,), location="loft", task="search"),
        ActPlan(at_s=1, what="locate", wearers=(1,), location="loft"),
        ActPlan(at_s=1, what="come_out", wearers=(1,)),
        ActPlan(at_s=1, what="off_air", wearers=(1,)),
        ActPlan(at_s=1, what="spoken_reading", wearers=(1,), pressure_bar=180, location="loft"),
        ActPlan(at_s=1, what="reach_objective", wearers=(1,), pressure_bar=240),
        ActPlan(at_s=1, what="start_back", wearers=(1,)),
        ActPlan(at_s=1, what="emergency_crew", crew="Alpha 4", state="committed"),
        ActPlan(at_s=1, what="note", text="door 2 is jammed"),
    ],
)
def test_every_act_of_a_scenario_is_an_act_of_the_desk(plan: ActPlan) -> None:
    said = act_of(plan, "trial-0001", Nobody()).model_dump()
    assert said["what"] == plan.what
    for field in ("wearers", "location", "task", "pressure_bar", "crew", "text"):
        if getattr(plan, field):
            assert said[field] == getattr(plan, field)


def test_it_says_when_nobody_is_at_the_desk_any_more(script: MakeScript, at_desk: Desk) -> None:
    time = Time()
    one = script(time, [])
    assert one.poll(0)
    at_desk.answer(taken)
    assert one.seated()
    at_desk.close()
    time.ns += ALONE_NS
    assert one.poll(0)
    time.ns += 1
    assert not one.poll(0)
    at_desk.path.touch()


def test_after_a_stop_in_good_order_it_does_not_wait_for_a_restart(
    script: MakeScript, at_desk: Desk
) -> None:
    """Packs that went on for 15 s would still be there once the board has ended."""
    time = Time()
    one = script(time, [])
    assert one.poll(0)
    at_desk.answer(taken)
    assert one.seated()
    at_desk.say(Stopping())
    assert one.poll(0)
    at_desk.close()
    time.ns += STOPPED_NS
    assert one.poll(0)
    time.ns += 1
    assert not one.poll(0)
    at_desk.path.touch()


def test_a_gauge_that_the_scenario_leaves_open_is_read_from_those_inside() -> None:
    plan = ActPlan(at_s=1, what="spoken_reading", wearers=(1, 2))
    said = act_of(plan, "trial-0001", Nobody()).model_dump()
    assert (said["pressure_bar"], said["lowest"]) == (187, True)
    alone = ActPlan(at_s=1, what="spoken_reading", wearers=(1,))
    assert act_of(alone, "trial-0002", Nobody()).model_dump()["lowest"] is False


class Late(Nobody):
    """Nothing is so until it is."""

    def __init__(self) -> None:
        self.so: set[int] = set()

    def is_so(self, act: ActPlan) -> bool:
        return self.so >= set(act.wearers)


def test_an_act_that_waits_holds_back_later_ones_of_the_same_wearers_alone() -> None:
    acts = (
        ActPlan(at_s=1, what="come_out", wearers=(1, 2), waits=True),
        ActPlan(at_s=2, what="off_air", wearers=(2,)),
        ActPlan(at_s=3, what="locate", wearers=(3,), location="loft"),
        ActPlan(at_s=9, what="note", text="door 2 is jammed"),
    )
    inside = Late()
    script = Script(acts, inside, "trial")

    def asked(run_ns: int) -> list[str]:
        found: list[str] = []
        while act := script.next(run_ns):
            found.append(act.what)
            script.done(act.id)
        return found

    assert asked(1 * S) == []
    assert asked(3 * S - 1) == []
    assert asked(3 * S) == ["locate"]
    inside.so = {1, 2}
    assert asked(4 * S) == ["come_out", "off_air"]
    assert asked(9 * S) == ["note"]
