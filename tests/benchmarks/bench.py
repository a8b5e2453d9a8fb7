"""Print one table of figures. Never fails on time: a slow machine is not a fault.

Run by ``make bench``. Each figure is the median of several runs and stands beside a peer that was
measured in turn with it; ratios travel between machines, figures do not. The second table is of
the whole program as it runs, beside what it must reach and what it aims at.
"""

from tests.benchmarks import bench_fold, bench_journal, bench_live, bench_protocol, bench_serial
from tests.benchmarks.measuring import Figure, goals_table, machine, say, table

GROUPS = (bench_protocol, bench_journal, bench_fold)


def main() -> None:
    """Measure everything, then print."""
    measured: list[Figure] = []
    for group in GROUPS:
        measured.extend(group.figures())
    say(f"{machine()}\n\n{table(measured)}\n")
    say(goals_table([*bench_serial.goals(), *bench_live.goals()]))


if __name__ == "__main__":
    main()
