"""Print one table of figures. Never fails on time: a slow machine is not a fault.

Run by ``make bench``. Each figure is the median of several runs and stands beside a peer that was
measured in turn with it; ratios travel between machines, figures do not.
"""

from tests.benchmarks import bench_fold, bench_journal, bench_protocol
from tests.benchmarks.measuring import Figure, machine, say, table

GROUPS = (bench_protocol, bench_journal, bench_fold)


def main() -> None:
    """Measure everything, then print."""
    measured: list[Figure] = []
    for group in GROUPS:
        measured.extend(group.figures())
    say(f"{machine()}\n\n{table(measured)}")


if __name__ == "__main__":
    main()
