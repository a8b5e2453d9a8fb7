"""Recording as a service: what is told of it, how it is stopped."""

import json
import signal
import socket
from collections.abc import Iterator
from pathlib import Path

import pytest

from monitor.errors import Exit
from monitor.incident.picture import Signal
from tests.functional.conftest import OPENING, Home, folded, kill, prove, wait_recording
from tests.functional.packs import Packs
from tests.functional.patience import PATIENCE_S, Watch, wait_until

HEARD = "'signal': 'signal'"
"""Of a wearer in a line of the feed."""


def is_heard(journal: Path) -> bool:
    return any(wearer.signal is Signal.HEARD for wearer in folded(journal).wearers)


def test_status_feed_and_stop_of_a_recording(home: Home, port: int, packs: Packs) -> None:
    journal = home.incidents / "one.journal"
    home.incidents.mkdir()
    recorder = home.start("record", str(journal), "--link", f"udp:127.0.0.1:{port}", *OPENING)
    wait_recording(journal)
    feed = home.start("feed", "one", "--now", "--every", "0.2")
    watch = Watch(home.at_home)
    found = home.run("status", "--json")
    assert found.returncode == Exit.OK, found.stdout + found.stderr
    (one,) = json.loads(found.stdout)
    assert (one["pid"], one["faults"], one["under_air"]) == (recorder.pid, [], 0)
    assert one["horizon_age_s"] < 2 + watch.held_s()
    prove(packs, 101)
    wait_until(lambda: is_heard(journal), "the pack is heard")

    def told() -> list[dict[str, object]]:
        return [json.loads(line) for line in home.log_of(feed).splitlines()]

    wait_until(lambda: any(HEARD in str(x) for x in told()), "the feed tells of it")
    stopped = home.run("stop")
    assert stopped.returncode == Exit.OK, stopped.stderr
    assert "the incident stays open" in stopped.stdout
    assert recorder.wait(PATIENCE_S) == Exit.OK
    assert feed.wait(PATIENCE_S) == Exit.OK
    assert told()[-1]["line"] == "end"
    assert home.run("status").returncode == Exit.NOT_ANSWERED


class Manager:
    """Stands for the service manager: hears what a recorder tells by sd_notify(3)."""

    def __init__(self, folder: Path) -> None:
        self.heard = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        self.heard.bind(str(folder / "notify"))
        self.environ = {"NOTIFY_SOCKET": str(folder / "notify"), "WATCHDOG_USEC": "600000"}

    def next(self, within_s: float) -> bytes:
        """What is told next; empty: nothing within that time."""
        self.heard.settimeout(within_s)
        try:
            return self.heard.recv(1_000)
        except TimeoutError:
            return b""

    def until(self, words: bytes) -> None:
        for _ in range(100):
            if self.next(PATIENCE_S).startswith(words):
                return
        pytest.fail(f"{words!r} was not told")


@pytest.fixture
def manager(home: Home) -> Iterator[Manager]:
    made = Manager(home.runtime)
    yield made
    made.heard.close()


def test_a_recorder_that_hangs_is_silent_is_killed_and_records_again(
    home: Home, port: int, packs: Packs, manager: Manager
) -> None:
    """As a manager does with WatchdogSec=: nothing heard for that long, and it is killed."""
    home.incidents.mkdir()
    journal = home.incidents / "one.journal"
    line = ("record", str(journal), "--link", f"udp:127.0.0.1:{port}", *OPENING)
    recorder = home.start(*line, **manager.environ)
    manager.until(b"READY=1\nSTATUS=recording to one.journal")
    assert manager.next(PATIENCE_S) == b"WATCHDOG=1"
    kill(recorder.pid, signal.SIGSTOP)
    while manager.next(0.6):
        pass
    kill(recorder.pid, signal.SIGKILL)
    recorder.wait(PATIENCE_S)
    again = home.start("record", str(journal), **manager.environ)
    manager.until(b"READY=1\nSTATUS=recording goes on in one.journal")
    wait_recording(journal)
    prove(packs, 101)
    wait_until(lambda: is_heard(journal), "the pack is heard")
    again.terminate()
    manager.until(b"STOPPING=1")
    assert again.wait(PATIENCE_S) == Exit.OK
