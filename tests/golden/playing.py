"""A whole scenario in virtual time through the real base: packs, radio, sequencer, desk.

Only time is made up. The same scenario and seed give the same rows.
"""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from random import Random

from monitor import roster
from monitor.cli.drill_script import Script
from monitor.clock import Stamp
from monitor.desk import Ask, Hello, NotTaken
from monitor.incident.events import Acknowledge, Act, LinkState, Opened
from monitor.incident.incident import FOLD_VERSION, Incident
from monitor.incident.procedure import Procedure
from monitor.links.chunk import Chunk
from monitor.recorder.batch import Batch
from monitor.recorder.beacons import BeaconSender
from monitor.recorder.intake import Intake
from monitor.recorder.recovery import opening
from monitor.recorder.sequencer import Sequencer
from protocol.integrity import Keyring
from simulators.base_radio import BaseRadio
from simulators.fleet import Fleet
from simulators.scenario import Scenario

S = 1_000_000_000
TICK_NS = 50_000_000
BOOT_NS = 1_000 * S
WALL_NS = 1_700_000_000 * S
KEY = bytes(range(32))
"""Of the exercise; anybody may know it, the journal proves nothing of it."""
OFFICER, SCRIPT = 1, 2
TAKES_AFTER_NS = 12 * S
"""How long this officer needs to take an alarm."""
INCIDENT = "601d" * 8


def stamp_at(t_ns: int) -> Stamp:
    """Both clocks at a time of the run."""
    return Stamp(BOOT_NS + t_ns, WALL_NS + t_ns)


def source_of(link: int) -> tuple[str, int]:
    """Where the frames of a link come from: a documentation address (RFC 5737)."""
    return "192.0.2.7", 41899 + link


@dataclass
class Officer:
    """Takes the alarm that has waited longest, once it has waited long enough."""

    sequencer: Sequencer
    taken: int = 0

    def look(self, t_ns: int) -> None:
        """Take at most one alarm."""
        waiting = [a for a in self.sequencer.incident.picture().alarms if not a.acknowledged]
        for alarm in sorted(waiting, key=lambda a: a.number):
            if alarm.raised_for_ns >= TAKES_AFTER_NS:
                self.taken += 1
                act = Acknowledge(
                    id=f"officer-{self.taken:04}",
                    by="R. Harrow",
                    seen_ns=self.sequencer.horizon,
                    alarms=(alarm.number,),
                )
                ask(self.sequencer, OFFICER, act, t_ns)
                return


def ask(sequencer: Sequencer, seat: int, act: Act, t_ns: int) -> None:
    """Ask for an act at the desk."""
    stamp = stamp_at(t_ns)
    sequencer.asked(seat, Ask(act=act, asked_boot_ns=stamp.boot_ns), stamp)


class Play:
    """A base that has just opened the scenario's incident, with its packs and its officer.

    Each base radio of the scenario has a link of its own, from 1.
    """

    def __init__(self, scenario: Scenario, seed: int, rules: Procedure, people: str | Path) -> None:
        """``people``: name or path of the roster."""
        keyring = Keyring({1: KEY}, "exercise", 1)
        about = scenario.incident
        self.scenario = scenario
        self.opened = Opened(
            incident=INCIDENT, name=about.name, place=about.place, entry_point=about.entry_point,
            stage=about.stage, officer=about.officer, use="exercise",
            procedure=rules, keyed=True, base=7, wall_ns=WALL_NS,
            software="golden", fold=FOLD_VERSION,
        )  # fmt: skip
        beacons = BeaconSender(7, 1, keyring, Random(seed))
        acts = roster.load(str(people)).acts(about.officer, INCIDENT)
        start = opening(self.opened, acts, stamp_at(0))
        self.sequencer = Sequencer(start, Intake(keyring, beacons), beacons, stamp_at(0))
        self.fleet = Fleet(scenario, seed, keyring, truth=True)
        self.officer = Officer(self.sequencer)
        self.not_taken: list[str] = []
        """Acts of the script that the base did not take, with why."""
        self._script = Script(scenario.acts, self.fleet, "script")
        self._radios = {
            link: BaseRadio(link, self.fleet.plugged) for link in range(1, self.fleet.bases + 1)
        }
        for link in self._radios:
            name = f"udp {source_of(link)[1]}"
            state = LinkState(link=link, name=name, up=True, detail="golden")
            self.sequencer.link_state(state, stamp_at(0), wire=False)
        hello = Hello(board="golden-board", by=about.officer)
        self.sequencer.hello(OFFICER, hello, stamp_at(0))
        script = Hello(board="script", by="drill script", want="script")
        self.sequencer.hello(SCRIPT, script, stamp_at(0))

    @property
    def incident(self) -> Incident:
        """The base's own fold."""
        return self.sequencer.incident

    def run(
        self,
        commit: Callable[[Batch], object] = lambda _batch: None,
        each_second: Callable[[int], object] = lambda _t_ns: None,
        tick_ns: int = TICK_NS,
    ) -> None:
        """Play to the end. ``each_second`` is told the time, after the officer has looked."""
        for t_ns in range(0, self.fleet.end_ns + tick_ns, tick_ns):
            self._tick(t_ns)
            if t_ns % S == 0:
                self.sequencer.board_beat(OFFICER, stamp_at(t_ns))
                self.officer.look(t_ns)
                each_second(t_ns)
            if stamp_at(t_ns).boot_ns >= self.sequencer.due_boot_ns():
                self._commit(t_ns, commit)

    def _tick(self, t_ns: int) -> None:
        stamp, air = stamp_at(t_ns), self.fleet.step(t_ns)
        chunks = [
            Chunk(link, stamp, source_of(link), frame)
            for link, radio in self._radios.items()
            for frame in radio.frames(air, t_ns)
        ]
        self.sequencer.heard(chunks, stamp)
        while act := self._script.next(t_ns):
            ask(self.sequencer, SCRIPT, act, t_ns)
            self._script.done(act.id)

    def _commit(self, t_ns: int, commit: Callable[[Batch], object]) -> None:
        """One beat, as the recorder does it."""
        self.sequencer.take_sounds()
        batch = self.sequencer.next_batch(stamp_at(t_ns))
        assert isinstance(batch, Batch), "nobody closes this incident"
        commit(batch)
        self.sequencer.committed(batch.number)
        for answer in batch.at_once:
            if isinstance(answer.message, NotTaken) and answer.to == SCRIPT:
                self.not_taken.append(f"{t_ns // S} s: {answer.message.why}")
        for send in batch.sends:
            self.fleet.hear(send.frame, send.link)
