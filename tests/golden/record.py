"""Records the golden journal: a whole scenario in virtual time through the real base.

    python -m tests.golden.record

The scenario's packs, the sequencer and the journal's writer are the real ones; only time is made
up. The same code gives the same rows. What is expected of the journal stands beside this file and
is written by it too: see README.md here before you commit either.
"""

from pathlib import Path

import shared
from monitor import procedures
from monitor.incident.procedure import Procedure
from monitor.journal.schema import Header
from monitor.journal.writer import JournalWriter
from simulators import scenario_file
from tests.golden.expected import EXPECTED, told
from tests.golden.playing import BOOT_NS, WALL_NS, Play

SEED = 1
SCENARIO = "kiln-lane"


def record(path: Path, rules: Procedure | None = None) -> None:
    """Play the scenario into a new journal at ``path``.

    ``rules``: those of an earlier recording; None: the scenario's own, as they are now.
    """
    scenario = scenario_file.load(SCENARIO)
    rules = rules or procedures.load(scenario.incident.procedure)
    play = Play(scenario, SEED, rules, scenario.incident.roster)
    opened = play.opened
    header = Header(
        fold=opened.fold, software=opened.software, incident=opened.incident, use=opened.use,
        opened_wall_ns=opened.wall_ns, simulated=f"{SCENARIO} seed {SEED}",
    )  # fmt: skip
    writer = JournalWriter.create(path, header)
    writer.begin_session("golden", BOOT_NS, WALL_NS, opened.software)
    play.run(lambda batch: writer.commit(batch.rows, batch.horizon, batch.stamp))
    writer.close(final=True)


def main() -> None:
    """Record anew, and write down what it shows."""
    path = shared.path("journals", f"{SCENARIO}.journal")
    path.unlink(missing_ok=True)
    record(path)
    EXPECTED.write_text(told(path), encoding="utf-8")


if __name__ == "__main__":
    main()
