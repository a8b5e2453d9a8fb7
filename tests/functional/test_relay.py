"""Relay and mirror with the real broker: whatever dies or is cut, the replica is the journal."""

import asyncio
import ipaddress
import os
import random
import re
import signal
import sqlite3
import subprocess
import time
from collections.abc import Iterator
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import nats
import pytest
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import NameOID

from monitor.journal.digest import NO_ROWS
from monitor.journal.schema import Batch
from monitor.journal.sealing import Sealed
from monitor.mirror import beside
from monitor.mirror.replica import named
from monitor.relay import subjects, wire
from tests.functional.brokers import INCIDENT, OPERATION, Growing, Link, Server
from tests.functional.conftest import OPENING, Home, wait_recording
from tests.functional.packs import Packs
from tests.functional.patience import PATIENCE_S, wait_until

DEATHS = int(os.environ.get("RELAY_KILLS", "1"))
"""Of each: relay, mirror, broker."""
TABLES = ("header", "sessions", "rows", "batches")


@pytest.fixture
def server(tmp_path: Path) -> Iterator[Server]:
    server = Server(tmp_path / "broker")
    server.start()
    yield server
    server.kill()


@pytest.fixture
def growing(home: Home) -> Iterator[Growing]:
    growing = Growing(home.incidents / "kiln-lane.journal")
    yield growing
    growing.end()


def contents(path: Path) -> dict[str, list[Any]]:
    """Every table, row by row; empty while it is not there."""
    try:
        with closing(sqlite3.connect(f"{path.as_uri()}?mode=ro", uri=True)) as connection:
            return {
                table: sorted(connection.execute(f"SELECT * FROM {table}").fetchall())
                for table in TABLES
            }
    except sqlite3.Error:
        return {}


def batches(path: Path) -> int:
    """Number of the newest commit; -1 while there is no journal."""
    try:
        with closing(sqlite3.connect(f"{path.as_uri()}?mode=ro", uri=True)) as connection:
            return int(connection.execute("SELECT max(batch) FROM batches").fetchone()[0])
    except sqlite3.Error:
        return -1


def replica_of(home: Home) -> Path:
    return named(home.folder / "replicas", "Kiln_20works", INCIDENT)


class Ways:
    """How this test's relay and mirror are started."""

    def __init__(self, home: Home, url: str) -> None:
        self.home, self.url = home, url

    def relay(self, *more: str) -> subprocess.Popen[str]:
        return self.home.start("relay", "kiln-lane", "--operation", OPERATION, "--broker", self.url,
                               *more)  # fmt: skip

    def mirror(self, *more: str) -> subprocess.Popen[str]:
        folder = str(self.home.folder / "replicas")
        return self.home.start("mirror", folder, "--broker", self.url, *more)


def wait_reached(home: Home, batch: int, *processes: subprocess.Popen[str]) -> None:
    def said() -> str:
        return "\n".join(home.log_of(one) for one in processes)

    wait_until(lambda: batches(replica_of(home)) >= batch, said)


def wait_whole(home: Home, growing: Growing, *processes: subprocess.Popen[str]) -> None:
    wait_reached(home, growing.batch, *processes)
    assert contents(replica_of(home)) == contents(growing.path)


def well(replica: Path) -> beside.Beside | None:
    """What stands beside it, once nothing is wrong any more."""
    said = beside.read(replica)
    return said if said is not None and not said.fault else None


def end(process: subprocess.Popen[str]) -> None:
    process.kill()
    process.wait(10)


def test_relay_mirror_and_broker_killed_at_random_moments(
    home: Home, server: Server, growing: Growing
) -> None:
    luck = random.Random(22)
    ways = Ways(home, server.url)
    growing.grow(50)
    relay, mirror = ways.relay(), ways.mirror()
    deaths = ["relay", "mirror", "broker"] * DEATHS
    luck.shuffle(deaths)
    for who in deaths:
        growing.grow(luck.randint(1, 2_000 // len(deaths)))
        target = growing.batch - luck.randint(0, 40)
        wait_reached(home, target, relay, mirror)
        if who == "broker":
            server.kill()
            growing.grow(5)
            server.start()
        elif who == "relay":
            end(relay)
            growing.grow(5)
            relay = ways.relay()
        else:
            end(mirror)
            growing.grow(5)
            mirror = ways.mirror()
    growing.grow()
    wait_whole(home, growing, relay, mirror)


def test_a_link_that_stalls_is_cut_and_is_slow(
    home: Home, server: Server, growing: Growing
) -> None:
    near, far = Link(server.port), Link(server.port)
    relay, mirror = Ways(home, near.url).relay(), Ways(home, far.url).mirror()
    growing.grow(100)
    wait_whole(home, growing, relay, mirror)
    for link in (near, far):
        link.drop()
        growing.grow(100)
        link.flow()
        wait_whole(home, growing, relay, mirror)
        link.delay_s = 0.05
        growing.grow(100)
        wait_whole(home, growing, relay, mirror)
        link.delay_s = 0.0
    near.stall()
    far.stall()
    growing.grow(300)
    wait_until(lambda: "trying again" in home.log_of(relay), lambda: home.log_of(relay))
    near.flow()
    far.flow()
    wait_whole(home, growing, relay, mirror)
    near.close()
    far.close()


def test_two_relays_and_the_commands_that_read_a_replica(
    home: Home, server: Server, growing: Growing
) -> None:
    ways = Ways(home, server.url)
    relays = [ways.relay(), ways.relay()]
    mirror = ways.mirror()
    for _ in range(10):
        growing.grow(270)
        time.sleep(0.02)
    wait_whole(home, growing, *relays, mirror)
    for process in (*relays, mirror):
        process.send_signal(signal.SIGTERM)
        assert process.wait(PATIENCE_S) == 0
    replica = replica_of(home)

    def told(path: Path, *argv: str) -> str:
        found = home.run(*(word if word != "IT" else str(path) for word in argv), within_s=60)
        assert found.returncode == 0, found.stderr
        return found.stdout.replace(str(path), "IT").replace(path.stem, "IT")

    for argv in (("verify", "IT"), ("replay", "IT", "--plain")):
        assert told(replica, *argv) == told(growing.path, *argv)
    pages = [home.folder / "replica.html", home.folder / "original.html"]
    for path, page in zip((replica, growing.path), pages, strict=True):
        told(path, "report", "IT", "-o", str(page))
    assert pages[0].read_text().replace(replica.name, growing.path.name) == pages[1].read_text()
    refused = home.run("record", str(replica))
    assert refused.returncode == 5
    assert "a replica, which only its mirror writes" in refused.stderr


async def _put(url: str, messages: list[bytes]) -> None:
    client = await nats.connect(url)
    stream = client.jetstream()
    for one in messages:
        await stream.publish(subjects.of_commits(OPERATION, INCIDENT), one)
    await client.close()


def test_a_stranger_on_the_stream_changes_nothing(
    home: Home, server: Server, growing: Growing
) -> None:
    ways = Ways(home, server.url)
    growing.grow(200)
    relay, mirror = ways.relay(), ways.mirror()
    wait_whole(home, growing, relay, mirror)
    row = contents(growing.path)["batches"][-1]
    forged = Sealed(
        Batch(*row), Batch(row[0] + 1, row[1], row[2], row[3] + 1, 0, 0, bytes(16)),
        NO_ROWS,
    )  # fmt: skip
    message = wire.commits_message(row[0] + 1, row[0] + 1, [wire.commit_bytes(forged)])
    asyncio.run(_put(server.url, [*message, b"rubbish", bytes(2_000)]))
    wait_until(lambda: "NOT TO BE TRUSTED: " in home.log_of(mirror), lambda: home.log_of(mirror))
    growing.grow(200)
    wait_whole(home, growing, relay, mirror)
    # It is said once the commit stands.
    said = wait_until(lambda: well(replica_of(home)), "its mirror says that something is wrong")
    assert said is not None
    assert said.refused == 3


def test_a_call_at_a_door_is_on_the_command_posts_board(
    home: Home, server: Server, port: int
) -> None:
    journal = home.incidents / "door.journal"
    home.start("record", str(journal), "--link", f"udp:127.0.0.1:{port}", *OPENING,
               "--operation", OPERATION)  # fmt: skip
    wait_recording(journal)
    relay = home.start("relay", "--broker", server.url)
    replicas = home.folder / "replicas"
    mirror = home.start("mirror", str(replicas), "--broker", server.url)
    packs = Packs(port)
    packs.send(4_799, distress=True)
    packs.close()

    def shown() -> str:
        found = home.run(
            "overview", "--operation", OPERATION, "--replicas", str(replicas), "--once"
        )
        return found.stdout if "DISTRESS" in found.stdout else ""

    wait_until(lambda: list(replicas.rglob("*.journal")), lambda: home.log_of(relay))
    page = wait_until(shown, lambda: home.log_of(mirror)).splitlines()
    assert page[0].startswith("KILN WORKS ")
    assert any(re.match(r". UNKNOWN DISTRESS +A ", line) for line in page)
    (line,) = [line for line in page if line.startswith(" 1 ")]
    assert line.split()[1:4] == ["A", "R.", "Harrow"]
    assert line.endswith("now open")


# ---------------------------------------------------------------- protection


def _pem(key: ec.EllipticCurvePrivateKey) -> bytes:
    return key.private_bytes(
        serialization.Encoding.PEM,
        serialization.PrivateFormat.PKCS8,
        serialization.NoEncryption(),
    )


def certificates(folder: Path) -> tuple[Path, Path]:
    """One certificate of its own for 127.0.0.1, and its key."""
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "127.0.0.1")])
    now = datetime.now(UTC)
    made = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(1)
        .not_valid_before(now - timedelta(days=1))
        .not_valid_after(now + timedelta(days=1))
        .add_extension(
            x509.SubjectAlternativeName([x509.IPAddress(ipaddress.ip_address("127.0.0.1"))]),
            critical=False,
        )
        .add_extension(x509.BasicConstraints(ca=True, path_length=None), critical=True)
        .sign(key, hashes.SHA256())
    )
    certificate, secret = folder / "broker.pem", folder / "broker.key"
    certificate.write_bytes(made.public_bytes(serialization.Encoding.PEM))
    secret.write_bytes(_pem(key))
    return certificate, secret


RECIPES = Path(__file__).parents[2] / "monitor/relay/RECIPES.md"


def permissions(user: str) -> str:
    """What the page of recipes allows that user."""
    text = RECIPES.read_text("utf-8")
    found = re.search(rf"user: {user}, .*?(permissions: {{.*?}}) }}", text, re.DOTALL)
    assert found is not None
    return found[1]


def test_tls_a_login_and_the_permissions_of_the_recipe(
    home: Home, tmp_path: Path, growing: Growing
) -> None:
    certificate, secret = certificates(tmp_path)
    door, post = tmp_path / "door.login", tmp_path / "post.login"
    door.write_text("door\nsecret\n")
    post.write_text("post\nother\n")
    server = Server(
        tmp_path / "broker",
        config=f'tls {{ cert_file: "{certificate}", key_file: "{secret}" }}\n'
        "authorization { users: [\n"
        f"  {{ user: door, password: secret, {permissions('door')} }}\n"
        f"  {{ user: post, password: other, {permissions('post')} }} ] }}\n",
    )
    server.start()
    ways = Ways(home, f"tls://127.0.0.1:{server.port}")
    growing.grow(100)
    stranger = ways.mirror("--login", str(post))
    relay = ways.relay("--ca", str(certificate), "--login", str(door))
    mirror = ways.mirror("--ca", str(certificate), "--login", str(post))
    nobody = ways.relay("--ca", str(certificate))
    wait_whole(home, growing, relay, mirror)
    for process, why in ((stranger, "CERTIFICATE_VERIFY_FAILED"), (nobody, "(?i)authorization")):
        wait_until(
            lambda: re.search(why, home.log_of(process)),  # noqa: B023 - asked at once
            lambda: home.log_of(process),  # noqa: B023
        )  # fmt: skip
    server.kill()


@pytest.mark.parametrize(
    ("argv", "why"),
    [
        (("--broker", "nats://192.0.2.1"), "without TLS: journals tell of people"),
        ((), "no broker was said"),
        (("--broker", "nats://a:b@127.0.0.1"), "can be read by everybody"),
    ],
)
def test_what_is_refused_at_once(
    home: Home, growing: Growing, argv: tuple[str, ...], why: str
) -> None:
    growing.grow(10)
    for command in (("relay", "kiln-lane", "--operation", OPERATION), ("mirror",)):
        found = home.run(*command, *argv)
        assert found.returncode == 2
        assert why in found.stderr


def test_nothing_at_the_door_waits_for_a_relay(home: Home, growing: Growing) -> None:
    """No broker, none that answers: the relay goes on trying, and the journal grows as ever."""
    relay = Ways(home, "nats://127.0.0.1:1").relay()
    wait_until(lambda: "trying again" in home.log_of(relay), lambda: home.log_of(relay))
    growing.grow()
    assert growing.batch == growing.last.batch
    assert relay.poll() is None
