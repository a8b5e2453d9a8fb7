"""A cluster of three brokers whose leader is killed again and again: longer than the gate may be.

``make kills`` runs it, after the kills of relay, mirror and broker.
"""

import asyncio
from pathlib import Path

import nats
import nats.errors

from monitor.relay import subjects
from tests.functional.brokers import Growing, Server, cluster
from tests.functional.conftest import Home
from tests.functional.patience import wait_until
from tests.functional.test_relay import DEATHS, Ways, growing, wait_whole

__all__ = ["growing"]


def leader_of(servers: list[Server]) -> Server:
    """Which of a cluster leads the stream."""

    async def ask() -> str:
        for one in servers:
            try:
                client = await nats.connect(one.url, allow_reconnect=False, connect_timeout=1)
            except (OSError, nats.errors.Error):
                continue
            try:
                info = await client.jetstream(timeout=2).stream_info(subjects.STREAM)
            except nats.errors.Error:
                continue
            finally:
                await client.close()
            if info.cluster is not None and info.cluster.leader:
                return str(info.cluster.leader)
        return ""

    name = wait_until(lambda: asyncio.run(ask()), "the stream has no leader")
    return next(one for one in servers if one.name == name)


def test_a_cluster_of_three_that_loses_its_leader(
    home: Home, tmp_path: Path, growing: Growing
) -> None:
    servers = cluster(tmp_path / "region")
    for one in servers:
        one.start()
    ways = Ways(home, ",".join(one.url for one in servers))
    growing.grow(50)
    relay, mirror = ways.relay("--copies", "3"), ways.mirror()
    wait_whole(home, growing, relay, mirror)
    for _ in range(DEATHS):
        leader = leader_of(servers)
        leader.kill()
        growing.grow(2_000 // DEATHS)
        wait_whole(home, growing, relay, mirror)
        leader.start()
    for one in servers:
        one.kill()
