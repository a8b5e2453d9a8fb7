"""Figures of relay and mirror, with a broker on this machine."""

import asyncio
import sqlite3
import statistics
import time
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import nats

from monitor.clock import Clock
from monitor.journal import connection as files
from monitor.mirror.replica import named
from monitor.relay.subjects import STREAM
from tests.benchmarks import long_incident
from tests.benchmarks.bench_live import call, committed_at, percentile, port, traffic
from tests.benchmarks.live import Home, cpu_s, home, recorder
from tests.benchmarks.measuring import Figure
from tests.functional.brokers import Server
from tests.functional.patience import wait_until

PACKS = 50
LOOK_S = 20.0
CALLS = 150
CALL_PAUSE_S = 0.1
OPERATION = "Bench"
LOOKS_A_SECOND = 500


def figures() -> Iterator[Figure]:
    """All of them."""
    yield from live()
    yield from catching_up()


def _incident(journal: Path) -> str:
    connection = files.connect(journal, "ro")
    try:
        return files.read_header(connection)["incident"]
    finally:
        connection.close()


def _seen(paths: list[Path], seconds: float) -> list[dict[int, tuple[int, int]]]:
    """For each journal, when a reader first saw a commit, and when it was begun (boot clock)."""
    clock, found = Clock(), [dict[int, tuple[int, int]]() for _ in paths]
    readers = [files.connect(path, "ro") for path in paths]
    end = time.monotonic() + seconds
    last = [files.last_batch(reader) for reader in readers]
    while time.monotonic() < end:
        for at, reader in enumerate(readers):
            newest, before = files.last_batch(reader), last[at]
            now_ns = clock.boot_ns()
            assert newest is not None
            assert before is not None
            for number in range(before.batch + 1, newest.batch + 1):
                one = files.batch(reader, number)
                assert one is not None
                found[at][number] = now_ns, one.boot_ns
            last[at] = newest
        time.sleep(1 / LOOKS_A_SECOND)
    for reader in readers:
        reader.close()
    return found


def live() -> Iterator[Figure]:
    """A door with fifty packs, mirrored: how late, how dear, and what it does to alarms."""
    with home() as where:
        to = port()
        journal, _ = recorder(where, to)
        server = Server(where.folder / "broker")
        server.start()
        try:
            with traffic(to, PACKS):
                time.sleep(2)
                without = _calls(to, 10_000)
                relay = where.start("relay", str(journal), "--operation", OPERATION,
                                    "--broker", server.url)  # fmt: skip
                replicas = where.folder / "replicas"
                mirror = where.start("mirror", str(replicas), "--broker", server.url)
                replica = named(replicas, OPERATION, _incident(journal))
                wait_until(replica.exists, lambda: where.log_of(relay) + where.log_of(mirror))
                time.sleep(2)
                before = cpu_s(relay.pid), cpu_s(mirror.pid), time.monotonic()
                own, far = _seen([journal, replica], LOOK_S)
                took_s = time.monotonic() - before[2]
                shares = [(cpu_s(one.pid) - b) / took_s * 100
                          for one, b in zip((relay, mirror), before, strict=False)]  # fmt: skip
                beside = _calls(to, 20_000)
            time.sleep(1)
            yield from _lateness(own, far)
            yield Figure("relay at 50 packs: core", shares[0], "%", 3, None, None, "")
            yield Figure(
                "mirror of one door of 50 packs: core", shares[1], "%", None, None, None, ""
            )
            at = committed_at(journal)
            yield from _beside(_delays(at, without), _delays(at, beside))
            yield _bytes(journal, server)
        finally:
            server.kill()


def _lateness(own: dict[int, tuple[int, int]], far: dict[int, tuple[int, int]]) -> Iterator[Figure]:
    late = [(seen - begun) / 1e6 for seen, begun in far.values()]
    here = [(seen - begun) / 1e6 for seen, begun in own.values()]
    what, peer = "commit to the row in a replica, 50 packs,", "to a reader of the journal itself"
    yield Figure(f"{what} median", statistics.median(late), "ms", 300, 100,
                 statistics.median(here), peer)  # fmt: skip
    yield Figure(f"{what} p99", percentile(late, 0.99), "ms", 1_000, 300,
                 percentile(here, 0.99), peer)  # fmt: skip


def _calls(to: int, first: int) -> dict[int, int]:
    """Packs that nobody knows call for help; when each did (boot clock)."""
    sent = {}
    for number in range(first, first + CALLS):
        sent[number] = call(to, number)
        time.sleep(CALL_PAUSE_S)
    return sent


def _delays(at: dict[int, int], sent: dict[int, int]) -> list[float]:
    """Packet to alarm in a commit, ms."""
    return [(at[identity] - t) / 1e6 for identity, t in sent.items()]


def _beside(without: list[float], beside: list[float]) -> Iterator[Figure]:
    what, peer = "packet to alarm in a commit, relay and mirror beside,", "without them, before"
    yield Figure(f"{what} median", statistics.median(beside), "ms", None, None,
                 statistics.median(without), peer)  # fmt: skip
    yield Figure(f"{what} p95", percentile(beside, 0.95), "ms", None, None,
                 percentile(without, 0.95), peer)  # fmt: skip


def _bytes(journal: Path, server: Server) -> Figure:
    with closing(sqlite3.connect(f"{journal.as_uri()}?mode=ro", uri=True)) as connection:
        frames, raw = connection.execute(
            "SELECT count(*), sum(length(data)) FROM rows WHERE kind & 15 = 1"
        ).fetchone()

    async def stored() -> int:
        client = await nats.connect(server.url)
        info = await client.jetstream().stream_info(STREAM)
        await client.close()
        return int(info.state.bytes)

    each = asyncio.run(stored()) / frames
    return Figure("on the stream for one frame", each, "bytes", 60, 30, raw / frames,
                  "the frame itself")  # fmt: skip


def catching_up() -> Iterator[Figure]:
    """Eight hours of fifty packs, relayed whole and mirrored from nothing."""
    journal = long_incident.kept()
    with home() as where:
        server = Server(where.folder / "broker")
        server.start()
        try:
            sent = _run(where, "relay", str(journal), "--operation", OPERATION,
                        "--broker", server.url, "--once")  # fmt: skip
            yield Figure("8 h of 50 packs into the stream", sent, "s", None, None, None, "")
            replicas = where.folder / "replicas"
            taken = _run(where, "mirror", str(replicas), "--broker", server.url, "--once")
            yield Figure("the same, mirrored from nothing", taken, "s", 60, 20, None, "")
        finally:
            server.kill()


def _run(where: Home, *words: str) -> float:
    began = time.monotonic()
    found = where.run(*words, within_s=600)
    assert found.returncode == 0, found.stderr
    return time.monotonic() - began
