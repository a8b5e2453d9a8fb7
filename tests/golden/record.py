"""Records the golden journal: a whole scenario in virtual time through the real base.

    python -m tests.golden.record

The scenario's packs, the sequencer and the journal's writer are the real ones; only time is made
up. The same code gives the same rows. What is expected of the journal stands beside this file and
is written by it too: see README.md here before you commit either.
"""

from dataclasses import dataclass
from pathlib import Path
from random import Random

import shared
from monitor import procedures, roster
from monitor.cli.drill_script import Script
from monitor.clock import Stamp
from monitor.desk import Ask, Hello
from monitor.incident.events import Acknowledge, Act, LinkState, Opened
from monitor.incident.incident import FOLD_VERSION
from monitor.incident.procedure import Procedure
from monitor.journal.schema import Header
from monitor.journal.writer import JournalWriter
from monitor.links.chunk import Chunk
from monitor.recorder.batch import Batch
from monitor.recorder.beacons import BeaconSender
from monitor.recorder.intake import Intake
from monitor.recorder.recovery import opening
from monitor.recorder.sequencer import Sequencer
from protocol.integrity import Keyring
from simulators import scenario_file
from simulators.base_radio import BaseRadio
from simulators.fleet import Fleet
from simulators.scenario import Scenario
from tests.golden.expected import EXPECTED, told

S = 1_000_000_000
TICK_NS = 50_000_000
BOOT_NS = 1_000 * S
WALL_NS = 1_700_000_000 * S
SEED = 1
KEY = bytes(range(32))
"""Of the exercise; anybody may know it, the journal proves nothing of it."""
OFFICER, SCRIPT, LINK = 1, 2, 1
SOURCE = ("192.0.2.7", 41900)
"""A documentation address (RFC 5737)."""
TAKES_AFTER_NS = 12 * S
"""How long this officer needs to take an alarm."""
INCIDENT = "601d" * 8
SCENARIO = "kiln-lane"


def stamp_at(t_ns: int) -> Stamp:
    """Both clocks at a time of the run."""
    return Stamp(BOOT_NS + t_ns, WALL_NS + t_ns)


@dataclass
class Officer:
    """Takes the alarm that has waited longest, once it has waited long enough."""

    sequencer: Sequencer
    taken: int = 0

    def look(self, t_ns: int) -> None:
        """Take at most one alarm."""
        incident = self.sequencer.incident
        waiting = [a for a in incident.picture().alarms if not a.acknowledged]
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


def base(scenario: Scenario, keyring: Keyring, rules: Procedure) -> tuple[Sequencer, Opened]:
    """A base that has just opened the scenario's incident."""
    about = scenario.incident
    opened = Opened(
        incident=INCIDENT, name=about.name, place=about.place, entry_point=about.entry_point,
        stage=about.stage, officer=about.officer, use="exercise",
        procedure=rules, keyed=True, base=7, wall_ns=WALL_NS,
        software="golden", fold=FOLD_VERSION,
    )  # fmt: skip
    beacons = BeaconSender(7, 1, keyring, Random(SEED))
    acts = roster.load(about.roster).acts(about.officer, INCIDENT)
    start = opening(opened, acts, stamp_at(0))
    sequencer = Sequencer(start, Intake(keyring, beacons), beacons, stamp_at(0))
    link = LinkState(link=LINK, name="udp 41900", up=True, detail="golden")
    sequencer.link_state(link, stamp_at(0), wire=False)
    hello = Hello(board="golden-board", by=about.officer)
    sequencer.hello(OFFICER, hello, stamp_at(0))
    sequencer.hello(SCRIPT, Hello(board="script", by="drill script", want="script"), stamp_at(0))
    return sequencer, opened


def record(path: Path, rules: Procedure | None = None) -> None:
    """Play the scenario into a new journal at ``path``.

    ``rules``: those of an earlier recording; None: the scenario's own, as they are now.
    """
    scenario = scenario_file.load(SCENARIO)
    keyring = Keyring({1: KEY}, "exercise", 1)
    rules = rules or procedures.load(scenario.incident.procedure)
    sequencer, opened = base(scenario, keyring, rules)
    header = Header(
        fold=opened.fold, software=opened.software, incident=opened.incident, use=opened.use,
        opened_wall_ns=opened.wall_ns, simulated=f"{SCENARIO} seed {SEED}",
    )  # fmt: skip
    writer = JournalWriter.create(path, header)
    writer.begin_session("golden", BOOT_NS, WALL_NS, opened.software)
    fleet, radio = Fleet(scenario, SEED, keyring), BaseRadio()
    officer = Officer(sequencer)
    script = Script(scenario.acts, fleet, "script")
    for t_ns in range(0, fleet.end_ns + TICK_NS, TICK_NS):
        stamp = stamp_at(t_ns)
        frames = radio.frames(fleet.step(t_ns), t_ns)
        sequencer.heard([Chunk(LINK, stamp, SOURCE, frame) for frame in frames], stamp)
        while act := script.next(t_ns):
            ask(sequencer, SCRIPT, act, t_ns)
            script.done(act.id)
        if t_ns % S == 0:
            sequencer.board_beat(OFFICER, stamp)
            officer.look(t_ns)
        if stamp.boot_ns >= sequencer.due_boot_ns():
            commit(sequencer, writer, fleet, stamp)
    writer.close(final=True)


def commit(sequencer: Sequencer, writer: JournalWriter, fleet: Fleet, stamp: Stamp) -> None:
    """One beat, as the recorder does it."""
    sequencer.take_sounds()
    batch = sequencer.next_batch(stamp)
    assert isinstance(batch, Batch), "nobody closes this incident"
    writer.commit(batch.rows, batch.horizon, batch.stamp)
    sequencer.committed(batch)
    for send in batch.sends:
        fleet.hear(send.frame)


def main() -> None:
    """Record anew, and write down what it shows."""
    path = shared.path("journals", f"{SCENARIO}.journal")
    path.unlink(missing_ok=True)
    record(path)
    EXPECTED.write_text(told(path), encoding="utf-8")


if __name__ == "__main__":
    main()
