"""Invented incidents of many wearers in virtual time, through the real base: who does what inside.

Crews of two or three come in waves, go to their place, work, turn back by their own gauge or when
told, come out, and some go in again with a fresh cylinder. Packs, air and radio are the
simulators'; what is noted and answered is ``crowd_officer``'s. One seed is one incident.
"""

from dataclasses import dataclass, field
from random import Random
from typing import Any

from monitor import procedures
from monitor.desk import Hello
from monitor.incident.events import LinkState, Opened
from monitor.incident.incident import FOLD_VERSION, Incident
from monitor.incident.rows import Row
from monitor.links.chunk import Chunk
from monitor.recorder.beacons import BeaconSender
from monitor.recorder.intake import Intake
from monitor.recorder.recovery import opening
from monitor.recorder.sequencer import Sequencer
from protocol.integrity import Keyring
from simulators.base_radio import BaseRadio
from simulators.fleet import Fleet
from simulators.injects import Inject
from simulators.person import Person
from simulators.scenario import Scenario
from tests.golden.playing import ask, source_of, stamp_at

S = 1_000_000_000
LENGTH_S = 2_700
TICK_NS = S // 2
KEYRING = Keyring({1: bytes(range(32))}, "exercise", 1)
BY = "R. Harrow"
OFFICER, CLERK = 1, 2
FIRST_S, LAST_S = 60, 1_700
"""When the first wave connects, and the last."""
AGAIN_S = 600
"""Rest before a second entry, with a fresh cylinder."""
AGAIN_UNTIL_S = 2_200
FILL_BAR, LOW_BAR = 300.0, 105.0
HALF_BAR = (FILL_BAR + LOW_BAR) / 2
"""Half of the usable air: where crews mean to turn."""
TOLD_SHARE = 0.25
"""Crews that go on until somebody tells them."""
PLACES = (
    ("kiln hall", 15.0, 0, "mixed"), ("drying loft", 25.0, 1, "calm"), ("store", 40.0, 0, "hard"),
    ("clay pit", 30.0, -1, "mixed"), ("offices", 35.0, 2, "calm"),
)  # fmt: skip
WEARERS_A_TROUBLE = 12
"""One thing goes wrong in 45 minutes for so many."""
TROUBLES: tuple[dict[str, Any], ...] = (
    {"does": "still", "for_s": 24}, {"does": "gauge_stuck"}, {"does": "battery_dead"},
    {"does": "reboot"}, {"does": "distress"}, {"does": "still", "for_s": 24},
    {"does": "leak", "l_min": 400}, {"does": "shadow", "for_s": 70},
    {"does": "shadow", "for_s": 70},
)  # fmt: skip
FADE_EACH_S = 300
"""Each wearer inside loses the radio so often, half of the time with the mates."""
FADE_S, FADE_MOST_S = 8.0, 25.0
"""For so long on average, and at most; what is longer is among the troubles."""


@dataclass
class Crew:
    """Two or three who go everywhere together."""

    name: str
    wearers: tuple[int, ...]
    enters_s: float
    turns_bar: float
    """Where they turn on their own; 0: they wait until they are told, or their sets warn."""
    place: str
    state: str = "waiting"
    """waiting, connected, on the way, working, back, out, done."""
    since_s: float = 0.0
    wear: int = 1
    happened: list[str] = field(default_factory=list)
    """What they said or did since the officer's side last looked."""


def crews_of(wearers: int, random: Random) -> list[Crew]:
    """Everybody in crews; the first stands by at the door and never goes in."""
    crews, number = [], 1
    while number <= wearers:
        left = wearers - number + 1
        size = left if left <= 3 else random.choice((2, 2, 3))
        size = 2 if left == 4 else size
        crews.append(tuple(range(number, number + size)))
        number += size
    waves = max(1, len(crews) // 3)
    at = sorted(random.uniform(FIRST_S, LAST_S) for _ in range(waves))
    at[0] = FIRST_S
    found = []
    for count, members in enumerate(crews):
        own = random.random() >= TOLD_SHARE
        found.append(
            Crew(
                f"{('Alpha', 'Bravo', 'Cedar', 'Delta')[count % 4]} {count // 4 + 1}",
                members,
                random.choice(at) + random.uniform(0, 90) if count else float("inf"),
                HALF_BAR + random.gauss(8, 8) if own else 0.0,
                random.choice(PLACES)[0],
            )
        )
    return found


def scenario(crews: list[Crew], random: Random) -> Scenario:
    """The packs of all crews, switched on before they go in, and a radio of a bad building."""
    loss = random.choice((0.02, 0.05, 0.1, 0.15))
    way = {"loss": loss, "bursts": {"begin": 0.01, "end": 0.4}}
    return Scenario.model_validate(
        {
            "title": "crowd", "length_s": LENGTH_S + 1,
            "incident": {"name": "Kiln Lane", "officer": BY},
            "radio": {"up": way, "down": way},
            "places": [
                {"name": "door", "x_m": 0, "y_m": 0},
                *({"name": n, "x_m": x, "y_m": 0, "floor": f, "task": t} for n, x, f, t in PLACES),
            ],
            "packs": [
                {
                    "pack": 100 + wearer, "wearer": wearer, "crew": crew.name, "at": "door",
                    "low_air_bar": LOW_BAR, "fill_bar": FILL_BAR - random.choice((0, 0, 3, 8)),
                    "deeds": [{"at_s": min(max(crew.enters_s - 120, 5), LENGTH_S) + wearer / 16,
                               "does": "switch_on"}],
                }
                for crew in crews
                for wearer in crew.wearers
            ],
        }
    )  # fmt: skip


class Inside:
    """What crews do, second by second, and what befalls them."""

    def __init__(self, crews: list[Crew], fleet: Fleet, random: Random) -> None:
        self.crews, self._fleet, self._random = crews, fleet, random
        count = sum(len(crew.wearers) for crew in crews) // WEARERS_A_TROUBLE
        self._troubles = sorted(
            ((random.uniform(300, LENGTH_S - 300), random.choice(TROUBLES)) for _ in range(count)),
            key=lambda pair: pair[0],
        )
        self._ends: list[tuple[float, int, str]] = []

    def person(self, wearer: int) -> Person:
        return self._fleet.unit_of(wearer).person

    def do(self, wearers: tuple[int, ...], **deed: Any) -> None:
        """Let it befall them now."""
        for wearer in wearers:
            inject = Inject.model_validate(
                {"name": "crowd", "at_s": 0, "wearers": (wearer,), "deed": deed}
            )
            assert not self._fleet.befall(inject)

    def live(self, t_s: float) -> None:
        for crew in self.crews:
            _STATES[crew.state](self, crew, t_s)
        if self._troubles and self._troubles[0][0] <= t_s:
            self._go_wrong(t_s, self._troubles.pop(0)[1])
        for end in [end for end in self._ends if end[0] <= t_s]:
            self._ends.remove(end)
            self.do((end[1],), does=end[2])
        inside = [crew for crew in self.crews if crew.state in {"on the way", "working", "back"}]
        for crew in inside:
            if self._random.random() < len(crew.wearers) / FADE_EACH_S:
                who = crew.wearers if self._random.random() < 0.5 else crew.wearers[:1]
                span = min(self._random.expovariate(1 / FADE_S), FADE_MOST_S)
                self.do(who, does="shadow", for_s=max(span, 1.0))

    def _go_wrong(self, t_s: float, deed: dict[str, Any]) -> None:
        working = [crew for crew in self.crews if crew.state == "working"]
        if not working:
            return
        crew = self._random.choice(working)
        who = self._random.choice(crew.wearers)
        self.do(crew.wearers if deed["does"] == "shadow" else (who,), **deed)
        if deed["does"] == "distress":
            self._ends.append((t_s + 60, who, "distress_off"))
        if deed["does"] in {"distress", "leak"}:
            self.leave(crew)

    def leave(self, crew: Crew) -> None:
        """They start back and say so."""
        if crew.state in {"on the way", "working"}:
            self.do(crew.wearers, does="leave")
            crew.state = "back"
            crew.happened.append("start_back")

    def lowest_bar(self, crew: Crew) -> float:
        return min(self.person(wearer).gauge_bar for wearer in crew.wearers)

    def move(self, crew: Crew, state: str, t_s: float, said: str = "") -> None:
        crew.state, crew.since_s = state, t_s
        if said:
            crew.happened.append(said)


def _waiting(inside: Inside, crew: Crew, t_s: float) -> None:
    if t_s >= crew.enters_s:
        inside.do(crew.wearers, does="breathe", work="walk")
        inside.move(crew, "connected", t_s, "connect")


def _connected(inside: Inside, crew: Crew, t_s: float) -> None:
    if t_s >= crew.since_s + 20:
        inside.do(crew.wearers, does="go", to=crew.place)
        inside.move(crew, "on the way", t_s, "enter")


def _on_the_way(inside: Inside, crew: Crew, t_s: float) -> None:
    if all(inside.person(wearer).place == crew.place for wearer in crew.wearers):
        inside.move(crew, "working", t_s, "reach_objective")
    _mind_gauges(inside, crew)


def _working(inside: Inside, crew: Crew, _t_s: float) -> None:
    _mind_gauges(inside, crew)


def _mind_gauges(inside: Inside, crew: Crew) -> None:
    lowest = inside.lowest_bar(crew)
    if lowest <= max(crew.turns_bar, LOW_BAR):
        inside.leave(crew)


def _back(inside: Inside, crew: Crew, t_s: float) -> None:
    if all(inside.person(wearer).out for wearer in crew.wearers):
        inside.move(crew, "out", t_s, "come_out")


def _out(inside: Inside, crew: Crew, t_s: float) -> None:
    if any(inside.person(wearer).on_air for wearer in crew.wearers):
        return
    if not crew.happened or crew.happened[-1] != "off_air":
        inside.move(crew, "done", t_s, "off_air")


def _done(inside: Inside, crew: Crew, t_s: float) -> None:
    if crew.wear > 1 or not crew.since_s + AGAIN_S <= t_s <= AGAIN_UNTIL_S:
        return
    crew.wear = 2
    crew.enters_s = t_s + 150
    inside.do(crew.wearers, does="new_cylinder", fill_bar=FILL_BAR)
    inside.do(crew.wearers, does="switch_on")
    inside.move(crew, "waiting", t_s, "fresh")


_STATES = {
    "waiting": _waiting,
    "connected": _connected,
    "on the way": _on_the_way,
    "working": _working,
    "back": _back,
    "out": _out,
    "done": _done,
}


class Crowd:
    """One incident from its opening to its end; afterwards its rows, as a journal has them."""

    def __init__(self, wearers: int, seed: int, procedure: str = "plain") -> None:
        self.random = Random(f"crowd {wearers} {seed}")
        crews = crews_of(wearers, self.random)
        self._fleet = Fleet(scenario(crews, self.random), seed, KEYRING)
        self.inside = Inside(crews, self._fleet, self.random)
        self.rows: list[Row] = []
        self.horizon = 0
        self._radio = BaseRadio()
        beacons = BeaconSender(7, 1, KEYRING, Random(seed))
        opened = Opened(
            incident="0" * 32, name="Kiln Lane", officer=BY, use="exercise",
            procedure=procedures.load(procedure), keyed=True, base=7,
            wall_ns=stamp_at(0).wall_ns, software="bench", fold=FOLD_VERSION,
        )  # fmt: skip
        start = opening(opened, (), stamp_at(0))
        self.base = Sequencer(start, Intake(KEYRING, beacons), beacons, stamp_at(0))
        self.base.link_state(LinkState(link=1, name="udp", up=True), stamp_at(0), wire=False)
        self.base.hello(OFFICER, Hello(board="officer-board", by=BY), stamp_at(0))
        self.base.hello(CLERK, Hello(board="clerk", by=BY, want="script"), stamp_at(0))

    @property
    def incident(self) -> Incident:
        return self.base.incident

    def ask(self, seat: int, act: Any) -> None:
        """An act, at the desk, now."""
        ask(self.base, seat, act, self._fleet.now_ns)

    def step(self) -> float:
        """Live on by one tick, which is one commit; gives the time, s."""
        t_ns = self._fleet.now_ns + TICK_NS
        stamp = stamp_at(t_ns)
        frames = self._radio.frames(self._fleet.step(t_ns), t_ns)
        self.base.heard([Chunk(1, stamp, source_of(1), frame) for frame in frames], stamp)
        if t_ns % S == 0:
            self.base.board_beat(OFFICER, stamp)
            self.inside.live(t_ns / S)
        return t_ns / S

    def commit(self) -> None:
        """What the recorder does of a tick once everybody has had their say."""
        batch = self.base.next_batch(stamp_at(self._fleet.now_ns))
        assert batch is not None, "nobody closes this incident"
        self.rows += batch.rows
        self.horizon = batch.horizon
        self.base.committed(batch.number)
        self.base.take_sounds()
        for send in batch.sends:
            self._fleet.hear(send.frame)
