"""The words of sd_notify(3) and sd-daemon(3), heard by a socket that stands for the manager."""

import asyncio
import logging
import os
import socket
from collections.abc import Iterator
from pathlib import Path

import pytest

from monitor.service import JournalFormatter, Service, is_journal


@pytest.fixture
def manager(tmp_path: Path) -> Iterator[socket.socket]:
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as heard:
        heard.bind(str(tmp_path / "notify"))
        heard.settimeout(5)
        yield heard


def of(manager: socket.socket, **more: str) -> Service:
    return Service({"NOTIFY_SOCKET": manager.getsockname(), **more}, os.getpid())


def test_ready_says_what_is_recorded(manager: socket.socket) -> None:
    of(manager).ready("Kiln Lane")
    assert manager.recv(1_000) == b"READY=1\nSTATUS=Kiln Lane"


def test_the_end_is_told(manager: socket.socket) -> None:
    of(manager).ending()
    assert manager.recv(1_000) == b"STOPPING=1"


def test_a_name_of_the_abstract_namespace() -> None:
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as heard:
        heard.bind(f"\0outby-test-{os.getpid()}")
        heard.settimeout(5)
        Service({"NOTIFY_SOCKET": f"@outby-test-{os.getpid()}"}, 1).ending()
        assert heard.recv(1_000) == b"STOPPING=1"


async def test_the_watchdog_hears_it_twice_in_the_time_allowed(manager: socket.socket) -> None:
    service = of(manager, WATCHDOG_USEC="20000", WATCHDOG_PID=str(os.getpid()))
    assert service.watchdog_s == 0.02
    beating = asyncio.get_running_loop().create_task(service.beat())
    heard = [await asyncio.to_thread(manager.recv, 1_000) for _ in range(3)]
    beating.cancel()
    assert heard == [b"WATCHDOG=1"] * 3


async def test_without_a_watchdog_there_is_no_beat(manager: socket.socket) -> None:
    await of(manager).beat()
    await of(manager, WATCHDOG_USEC="1000000", WATCHDOG_PID="1").beat()
    await of(manager, WATCHDOG_USEC="soon").beat()
    manager.setblocking(False)
    with pytest.raises(BlockingIOError):
        manager.recv(1)


@pytest.mark.parametrize("place", ["", "/nowhere/at/all", "@nobody-listens"])
def test_no_manager_changes_nothing(place: str) -> None:
    service = Service({"NOTIFY_SOCKET": place} if place else {}, 1)
    service.ready("x")
    service.ending()


def test_a_line_has_its_level_as_syslog_numbers_it() -> None:
    """syslog(3): 2 critical, 3 error, 4 warning, 6 informational, 7 debug."""
    formatter = JournalFormatter()
    for level, number in {"CRITICAL": 2, "ERROR": 3, "WARNING": 4, "INFO": 6, "DEBUG": 7}.items():
        said = logging.LogRecord("disk", getattr(logging, level), "x", 1, "a\nb", (), None)
        assert formatter.format(said) == f"<{number}>disk: a\n<{number}>b"


def test_the_journal_is_known_by_device_and_number(tmp_path: Path) -> None:
    with (tmp_path / "x").open("w") as file:
        found = os.fstat(file.fileno())
        stream = {"JOURNAL_STREAM": f"{found.st_dev}:{found.st_ino}"}
        assert is_journal(stream, file.fileno())
        assert not is_journal({}, file.fileno())
        assert not is_journal({"JOURNAL_STREAM": "1:2"}, file.fileno())
    assert not is_journal(stream, 9_999)
