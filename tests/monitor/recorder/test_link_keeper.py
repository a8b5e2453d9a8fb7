"""Links are opened, told of, and opened again when they fail."""

import asyncio
import contextlib
import os
import socket
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import ClassVar

import pytest

from monitor.clock import Clock, Stamp
from monitor.errors import LinkFailed
from monitor.incident.events import LinkState
from monitor.links.chunk import Address, Chunk, LinkDown
from monitor.links.guard import Known
from monitor.links.spec import LinkSpec, SerialSpec, UdpSpec
from monitor.links.udp_link import UdpLink
from monitor.recorder.batch import Send
from monitor.recorder.link_keeper import LOOK_S, LinkKeeper
from protocol.framing import wrap

WAIT_S = 5.0
RETRY_S = 0.01


@pytest.fixture
def busy() -> Iterator[socket.socket]:
    """A UDP port that somebody else has."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as found:
        found.bind(("127.0.0.1", 0))
        yield found


@pytest.fixture
def line() -> Iterator[tuple[int, str]]:
    """A pseudo-terminal: our end, and the device the link opens."""
    ours, theirs = os.openpty()
    yield ours, os.ttyname(theirs)
    os.close(ours)
    os.close(theirs)


class Keeper:
    """A keeper, and what it told."""

    def __init__(self, *specs: LinkSpec, look_s: float = LOOK_S) -> None:
        self.told: asyncio.Queue[tuple[LinkState, bool]] = asyncio.Queue()
        self.woken = asyncio.Event()
        self._loop = asyncio.get_running_loop()
        self.keeper = LinkKeeper(specs, Clock(), self._wake, RETRY_S, look_s)
        self.keeper._tell = lambda state, wire: self.told.put_nowait((state, wire))

    def _wake(self) -> None:
        self._loop.call_soon_threadsafe(self.woken.set)

    def start(self) -> None:
        self.keeper.start(lambda state, wire: self.told.put_nowait((state, wire)))

    async def news(self) -> tuple[int, bool, str]:
        async with asyncio.timeout(WAIT_S):
            state, _ = await self.told.get()
        return state.link, state.up, state.detail


def udp(taken: socket.socket) -> UdpSpec:
    return UdpSpec("127.0.0.1", taken.getsockname()[1])


class Full:
    """A link whose receive buffer is full."""

    number, name, detail = 1, "udp 9", "as it was"
    drops: ClassVar[int] = 0

    def system_drops(self) -> int | None:
        return self.drops

    def send(self, _data: bytes, _address: Address | None) -> bool:
        return True

    def turn_away(self, now_ns: int, known: Callable[[], Known]) -> int:
        return 0 * now_ns * len(known())

    def close(self) -> None:
        """Nothing to let go."""


async def test_a_port_that_is_taken_is_opened_once_it_is_free(busy: socket.socket) -> None:
    one = Keeper(udp(busy))
    with pytest.raises(LinkFailed):
        one.keeper.open_all()
    one.keeper.open_what_can_be()
    one.start()
    assert await one.news() == (1, False, "cannot be opened")
    assert "cannot be opened yet" in one.keeper.summary()
    one.keeper.send(Send(1, ("127.0.0.1", 9), b"lost"))
    busy.close()
    link, up, detail = await one.news()
    assert (link, up) == (1, True)
    assert detail in one.keeper.summary()
    one.keeper.close()


async def test_one_that_fails_to_open_leaves_none_open(busy: socket.socket) -> None:
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as other:
        other.bind(("127.0.0.1", 0))
        free = udp(other)
    one = Keeper(free, udp(busy))
    with pytest.raises(LinkFailed):
        one.keeper.open_all()
    assert one.keeper.links == {}


async def test_a_link_that_fails_is_told_of_and_comes_back(busy: socket.socket) -> None:
    spec = udp(busy)
    busy.close()
    one = Keeper(spec)
    one.keeper.open_all()
    one.start()
    assert (await one.news())[1]
    one.keeper.went_down(LinkDown(1, Stamp(0, 0), "pulled"))
    assert await one.news() == (1, False, "pulled")
    assert (await one.news())[:2] == (1, True)
    one.keeper.close()


async def test_what_is_sent_on_a_wire_is_framed_and_what_comes_is_not_touched(
    line: tuple[int, str],
) -> None:
    ours, device = line
    one = Keeper(SerialSpec(device, 115_200))
    one.keeper.open_all()
    one.start()
    async with asyncio.timeout(WAIT_S):
        state, wire = await one.told.get()
        assert (state.up, wire) == (True, True)
        one.keeper.send(Send(1, None, b"a frame"))
        loop = asyncio.get_running_loop()
        assert await loop.run_in_executor(None, os.read, ours, 100) == wrap(b"a frame")
        os.write(ours, b"from the air")
        await one.woken.wait()
    one.keeper.close()
    items = one.keeper.inbox.take()
    assert b"".join(i.data for i in items if isinstance(i, Chunk)).startswith(b"f")


async def test_packets_lost_for_want_of_time_are_told(busy: socket.socket) -> None:
    spec = udp(busy)
    busy.close()
    one = Keeper(spec)
    one.keeper.open_all()
    one.start()
    await one.news()
    one.keeper.lost(1, 40)
    one.keeper.lost(1, 2)
    for lost in (40, 42):
        link, up, detail = await one.news()
        assert (link, up) == (1, True)
        assert detail.startswith(f"{lost} packets lost unread: this machine was too busy; receive")
    one.keeper.close()


async def test_what_the_system_threw_away_is_told_within_five_seconds() -> None:
    """A buffer that holds few, and nobody who reads: Linux counts the rest (SO_MEMINFO)."""
    one = Keeper()
    one.keeper.links[1] = Full()
    one.keeper._specs[1] = UdpSpec("127.0.0.1", 9)
    assert LOOK_S < 5
    one.keeper.look()
    assert one.told.empty()
    Full.drops = 7
    one.keeper.look()
    one.keeper.look()
    state, _ = one.told.get_nowait()
    assert (state.up, state.lost) == (True, 7)
    assert one.told.empty()
    one.keeper.lost(1, 3)
    assert one.told.get_nowait()[0].lost == 10


async def test_the_system_is_asked_while_it_runs(busy: socket.socket) -> None:
    spec = udp(busy)
    busy.close()
    one = Keeper(spec, look_s=0.01)
    one.keeper.open_all()
    one.start()
    await one.news()
    link = one.keeper.links[1]
    assert isinstance(link, UdpLink)
    link._socket.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 1)
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sender:
        sender.connect(("127.0.0.1", spec.port))
        # The reader is quick: it is outrun by many at once, sooner or later.
        state = None
        async with asyncio.timeout(WAIT_S):
            while state is None:
                for _ in range(2_000):
                    sender.send(bytes(400))
                with contextlib.suppress(TimeoutError):
                    state, _ = await asyncio.wait_for(one.told.get(), 0.02)
    assert state.lost > 0
    assert "packets lost unread" in state.detail
    one.keeper.close()


async def test_a_serial_device_that_is_not_there_is_said(tmp_path: Path) -> None:
    one = Keeper(SerialSpec(str(tmp_path / "tty"), 115_200))
    with pytest.raises(LinkFailed):
        one.keeper.open_all()
