"""Orders: ten thousand seeds, and what an evacuation of fifty costs a radio of 50 kbit/s."""

from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from os import cpu_count

from protocol.packets import Kind
from tests.benchmarks.measuring import Figure
from tests.simulation.orders_checks import check, share_of_air
from tests.simulation.orders_world import FIRST_NS, Calm, S, World

SEEDS = 10_000
SLICE = 250
FIFTY = Calm(packs=50, loss=0.3)
FIRST_BURST_S = 5
MINUTE_S = 60


def figures() -> Iterator[Figure]:
    """Run the seeds on every core, then look at the air."""
    # A fresh interpreter each: what the other benches have made is none of theirs.
    with ProcessPoolExecutor(cpu_count(), get_context("spawn")) as pool:
        failed = [seed for part in pool.map(_failing, range(1, SEEDS, SLICE)) for seed in part]
    seen = f", first seed {failed[0]}" if failed else ""
    yield Figure(
        f"orders: {SEEDS:,} seeds, loss 0 to 60 %, failed", len(failed), "", 0, 0, None, seen
    )
    yield from _air()


def _failing(first: int) -> list[int]:
    failed = []
    for seed in range(first, first + SLICE):
        try:
            check(World(seed).run())
        except AssertionError:
            failed.append(seed)
    return failed


def _air() -> Iterator[Figure]:
    world = World(1, FIFTY).run()
    told = [person.obeyed[0][0] - FIRST_NS for person in world.people if person.obeyed]
    for name, from_s, to_s in (
        ("first 5 s", 0, FIRST_BURST_S), ("minute after", FIRST_BURST_S, MINUTE_S + FIRST_BURST_S),
    ):  # fmt: skip
        span = FIRST_NS + from_s * S, FIRST_NS + to_s * S
        orders = share_of_air(world, *span, Kind.ORDER)
        reports = share_of_air(world, *span, Kind.SIGN_ON, Kind.STATUS, Kind.EVENT)
        what = f"orders to 50 packs, 30 % loss, {name}: of 50 kbit/s"
        yield Figure(what, 100 * orders, "%", None, None, 100 * reports, "the packs' reports")
    yield Figure("the last of 50 packs has it after", max(told) / S, "s", None, None, None, "")
