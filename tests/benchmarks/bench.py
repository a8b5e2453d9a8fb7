"""Print one table of figures. Never fails on time: a slow machine is not a fault.

Run by ``make bench``. Each figure stands beside what it must reach and what it aims at, where that
is laid down, and beside a peer, or the least that it could be here, measured in the same run.
Ratios travel between machines, figures do not.
"""

from tests.benchmarks import (
    bench_air,
    bench_board,
    bench_checkpoints,
    bench_flood,
    bench_fold,
    bench_incidents,
    bench_journal,
    bench_links,
    bench_live,
    bench_orders,
    bench_packs,
    bench_protocol,
    bench_record,
    bench_relay,
    bench_report,
    bench_serial,
)
from tests.benchmarks.measuring import Figure, machine, say, table

GROUPS = (
    bench_protocol,
    bench_journal,
    bench_fold,
    bench_checkpoints,
    bench_record,
    bench_air,
    bench_links,
    bench_orders,
    bench_board,
    bench_report,
    bench_incidents,
    bench_serial,
    bench_packs,
    bench_live,
    bench_flood,
    bench_relay,
)


def main() -> None:
    """Measure everything, then print."""
    measured: list[Figure] = []
    for group in GROUPS:
        measured.extend(group.figures())
    say(f"{machine()}\n\n{table(measured)}")


if __name__ == "__main__":
    main()
