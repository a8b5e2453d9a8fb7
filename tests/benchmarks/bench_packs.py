"""How many virtual packs one core carries: in real time, and as fast as it goes into a capture.

Each pack reports every 5 s, open and bare, as a wearer who searches. Every load ends by itself.
"""

import os
import socket
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from monitor.cli.packs import lasting
from monitor.cli.packs_capture import capture
from simulators.fleet import Fleet
from simulators.outlets import UdpOutlet
from simulators.player import Player
from simulators.scenario import Scenario
from tests.benchmarks import floors
from tests.benchmarks.measuring import Figure

HOST = "127.0.0.1"
COUNTS = (5_000, 10_000, 20_000, 30_000)
"""Packs that are tried in real time, until they cannot be kept up with."""
INTERVAL_S = 5
SETTLE_S = 8
"""By then all are on, and past the copies of their first sign-on."""
LOOK_S = 12
LATE_S = 0.5
"""A frame may be so late, a tenth of its interval: more than that and it is not real time."""
BATCH_PACKS = 50_000
BATCH_S = 60
NS_PER_S = 1_000_000_000


def scenario(count: int, length_s: float) -> Scenario:
    """So many searchers, all switched on within the first interval."""
    return Scenario.model_validate(
        {
            "title": "Load",
            "length_s": length_s,
            "incident": {"name": "Load", "officer": "R. Harrow"},
            "groups": [
                {
                    "count": count, "pack": 1, "wearer": 1, "interval_s": INTERVAL_S,
                    "low_air_bar": 55, "apart_s": INTERVAL_S / count,
                    "deeds": [
                        {"at_s": 0, "does": "switch_on"},
                        {"at_s": 1, "does": "breathe", "work": "search"},
                    ],
                }
            ],
        }
    )  # fmt: skip


@contextmanager
def one_core() -> Iterator[None]:
    """Keep this process on one core, where the system can do that."""
    if not hasattr(os, "sched_setaffinity"):
        yield
        return
    before = os.sched_getaffinity(0)
    os.sched_setaffinity(0, {min(before)})
    try:
        yield
    finally:
        os.sched_setaffinity(0, before)


def played(count: int) -> tuple[float, float]:
    """The share of a core that so many packs take, and how late a frame was at worst, s."""
    fleet = lasting(lambda: Fleet(scenario(count, SETTLE_S + LOOK_S), 1))
    worst_s, last_ns, spent_s = 0.0, 0, 0.0

    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sink:
        sink.bind((HOST, 0))
        outlet = UdpOutlet(HOST, sink.getsockname()[1])
        player = Player(fleet, [outlet], time.monotonic_ns)

        def go_on(run_ns: int) -> bool:
            nonlocal worst_s, last_ns, spent_s
            if run_ns > SETTLE_S * NS_PER_S:
                if not spent_s:
                    spent_s = -time.process_time()
                else:
                    # All that fell due since the last look is sent only now.
                    worst_s = max(worst_s, (run_ns - last_ns) / NS_PER_S)
            last_ns = run_ns
            return run_ns < (SETTLE_S + LOOK_S) * NS_PER_S

        player.play(go_on)
        spent_s += time.process_time()
        outlet.close()
    return spent_s / LOOK_S, worst_s


def real_time() -> Iterator[Figure]:
    """The most that keep up, and what the laid-down number costs."""
    kept = 0
    with one_core():
        for count in COUNTS:
            share, late_s = played(count)
            if count == COUNTS[0]:
                bare = count / INTERVAL_S / floors.receive_a_second() * 100
                what = f"{count:,} virtual packs each {INTERVAL_S} s: core"
                yield Figure(what, share * 100, "%", 100, 25, bare, "a bare receive loop")
                yield Figure(
                    f"{count:,} virtual packs: latest frame", late_s * 1e3, "ms", LATE_S * 1e3,
                    100, None, "",
                )  # fmt: skip
            if late_s > LATE_S:
                break
            kept = count
    yield Figure(
        "virtual packs in real time on one core", kept, "", 5_000, 20_000, None, "", more=True
    )


def batch() -> Iterator[Figure]:
    """A whole run of as many as may be, straight into a capture; in time of one core."""
    with one_core(), tempfile.TemporaryDirectory() as folder:
        path = Path(folder, "load.pcapng")
        start = time.process_time()
        fleet = lasting(lambda: Fleet(scenario(BATCH_PACKS, BATCH_S), 1))
        made_s = time.process_time() - start
        start = time.process_time()
        frames = capture(fleet, path, 0, bare=True, truth=None)
        spent_s = time.process_time() - start
    packs = f"{BATCH_PACKS:,} packs to a capture"
    yield Figure(f"{packs}: times real time", BATCH_S / spent_s, "", 1, None, None, "", more=True)
    yield Figure(
        f"{packs}: frames a second", frames / spent_s, "/s", None, None, None, "", more=True
    )
    yield Figure(f"{packs}: making the wearers", made_s, "s", None, None, None, "")


def figures() -> Iterator[Figure]:
    """All of them, in order."""
    yield from real_time()
    yield from batch()
