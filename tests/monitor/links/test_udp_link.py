"""Real datagrams on the loopback, IPv4 and IPv6."""

import socket
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from typing import Any

import pytest

from monitor.errors import LinkFailed
from monitor.links.chunk import Chunk
from monitor.links.guard import LOOK_NS, SOURCES_MAX, Known, attach
from monitor.links.spec import UdpSpec
from monitor.links.udp_link import DATAGRAM_BYTES_MAX, UdpLink

Open = Callable[..., UdpLink]


def _free_port(host: str = "127.0.0.1") -> int:
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    with socket.socket(family, socket.SOCK_DGRAM) as probe:
        probe.bind((host, 0))
        return int(probe.getsockname()[1])


@pytest.fixture
def open_udp(waiting: Any, clock: Any) -> Iterator[Open]:
    with ExitStack() as stack:

        def make(host: str = "127.0.0.1", port: int = 0) -> UdpLink:
            spec = UdpSpec(host, port or _free_port(host or "127.0.0.1"))
            link = UdpLink(3, spec, clock, waiting.inbox)
            stack.callback(link.close)
            return link

        yield make


@pytest.mark.parametrize("host", ["127.0.0.1", "::1", "localhost"])
def test_a_datagram_comes_whole_with_stamp_and_sender(
    open_udp: Open, waiting: Any, clock: Any, host: str
) -> None:
    link = open_udp(host)
    family = socket.AF_INET6 if len(link.address) == 4 else socket.AF_INET
    with socket.socket(family, socket.SOCK_DGRAM) as pack:
        pack.sendto(b"one", link.address)
        pack.sendto(b"", link.address)
        pack.sendto(b"three", link.address)
        items = waiting.until(lambda items: len(items) == 3)
        assert [(i.link, i.data) for i in items] == [(3, b"one"), (3, b""), (3, b"three")]
        assert {i.stamp for i in items} == {(clock.now_boot_ns, clock.now_wall_ns)}
        assert {i.source[1] for i in items} == {pack.getsockname()[1]}


@pytest.mark.parametrize(
    ("family", "host"), [(socket.AF_INET, "127.0.0.1"), (socket.AF_INET6, "::1")]
)
def test_without_a_host_both_families_are_heard_and_answered(
    open_udp: Open, waiting: Any, family: socket.AddressFamily, host: str
) -> None:
    link = open_udp("")
    with socket.socket(family, socket.SOCK_DGRAM) as pack:
        pack.settimeout(5)
        pack.sendto(b"up", (host, link.address[1]))
        (chunk,) = waiting.until(len)
        assert chunk.data == b"up"
        assert link.send(b"down", chunk.source)
        assert pack.recv(100) == b"down"


def test_a_flood_while_nobody_takes_is_kept_and_wakes_once(open_udp: Open, waiting: Any) -> None:
    link = open_udp()
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as pack:
        for n in range(2_000):
            pack.sendto(n.to_bytes(46, "big"), link.address)
    items = waiting.until(lambda items: len(items) == 2_000)
    assert [int.from_bytes(i.data, "big") for i in items] == list(range(2_000))
    assert waiting.wakes < 2_000
    assert link.system_drops() == 0


KNOWN = b"of a known pack."
"""Bytes 4 to 16 of a frame are identity, boot counter and number."""


def test_a_flood_is_kept_back_by_the_system_and_a_known_source_never(
    open_udp: Open, waiting: Any
) -> None:
    link = open_udp()
    with (
        socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as flood,
        socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as pack,
    ):
        pack.bind(("127.0.0.1", 0))

        def known() -> Known:
            return Known({pack.getsockname()}, {KNOWN[4:8]: None})

        assert link.turn_away(0, known) == 0
        for _ in range(3_000):
            flood.sendto(bytes(46), link.address)
        waiting.until(lambda items: len(items) == 3_000)
        # 3,000 in the tenth of a second between two looks.
        assert link.turn_away(LOOK_NS, known) == 0
        for n in range(1_000):
            flood.sendto(bytes(46), link.address)
            if n % 10 == 0:
                pack.sendto(KNOWN, link.address)
        waiting.until(lambda items: sum(i.data == KNOWN for i in items) == 100)
        # Of 1,000 a share of 500 / 30,000 comes through: 17, standard deviation 4.
        kept_back = link.turn_away(2 * LOOK_NS, known)
        assert 930 < kept_back <= 1_000
        assert link.system_drops() == 0, "kept back is not lost"
        # Over, and everything is heard again.
        for n in range(3, 40):
            link.turn_away(n * LOOK_NS, known)
        before = len(waiting.items)
        for _ in range(10):
            flood.sendto(b"once again", link.address)
        waiting.until(lambda items: sum(i.data == b"once again" for i in items) == 10)
        assert len(waiting.items) - before == 10


def test_of_what_is_forged_with_the_right_numbers_a_part_is_handed_on(
    open_udp: Open, waiting: Any
) -> None:
    """In a flood, from a pack's own place; what is genuine is handed on whole."""
    link = open_udp()
    forged = KNOWN + b"forged"
    link._inbox.forged = lambda frame: frame == forged
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as pack:
        pack.bind(("127.0.0.1", 0))

        def known() -> Known:
            return Known({pack.getsockname()}, {KNOWN[4:8]: None})

        link.turn_away(0, known)
        for _ in range(3_000):
            pack.sendto(forged, link.address)
        waiting.until(lambda items: len(items) == 3_000)
        link.turn_away(LOOK_NS, known)
        for n in range(1_000):
            pack.sendto(forged, link.address)
            if n % 10 == 9:
                pack.sendto(KNOWN, link.address)
        waiting.until(lambda items: sum(i.data == KNOWN for i in items) == 100)
        # 500 a second are 50 in a tenth of one; the others are counted as kept back.
        assert sum(i.data == forged for i in waiting.items) == 3_000 + 50
        assert link.turn_away(2 * LOOK_NS, known) == 950
        assert link.system_drops() == 0


def test_what_no_filter_keeps_back_is_lost(open_udp: Open, waiting: Any) -> None:
    """With more places than a filter has room for, what the system throws away is no flood."""
    link = open_udp()

    def known() -> Known:
        return Known([("192.0.2.7", port) for port in range(1, SOURCES_MAX + 2)], {})

    link.turn_away(0, known)
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as flood:
        for _ in range(3_000):
            flood.sendto(bytes(46), link.address)
        waiting.until(lambda items: len(items) == 3_000)
        assert link.turn_away(LOOK_NS, known) == 0
        # As if the system's buffer had been full.
        assert attach(link._socket, [(0x06, 0, 0, 0)])
        for _ in range(100):
            flood.sendto(bytes(46), link.address)
        assert link.turn_away(2 * LOOK_NS, known) == 0
    assert link.system_drops() == 100


def test_a_long_datagram_is_cut_to_a_length_that_no_frame_has(open_udp: Open, waiting: Any) -> None:
    link = open_udp()
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as pack:
        pack.sendto(bytes(9_000), link.address)
    (chunk,) = waiting.until(len)
    assert isinstance(chunk, Chunk)
    assert len(chunk.data) == DATAGRAM_BYTES_MAX


def test_the_granted_buffer_is_read_back(open_udp: Open) -> None:
    link = open_udp()
    assert link.granted_bytes == link._socket.getsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF)
    assert f"{link.granted_bytes // 1024} KiB granted" in link.detail


def test_a_busy_port(open_udp: Open) -> None:
    port = open_udp().address[1]
    with pytest.raises(LinkFailed, match="in use") as caught:
        open_udp("127.0.0.1", port)
    assert caught.value.where == f"udp 127.0.0.1:{port}"


def test_an_address_of_another_machine(open_udp: Open) -> None:
    # 192.0.2.0/24 is kept for documentation (RFC 5737): no machine has it.
    with pytest.raises(LinkFailed, match="no address of this machine"):
        open_udp("192.0.2.1", 41900)


def test_a_host_that_is_none(open_udp: Open) -> None:
    # .invalid never resolves (RFC 6761).
    with pytest.raises(LinkFailed, match="not known"):
        open_udp("nowhere.invalid", 41900)


@pytest.mark.parametrize("address", [None, ("255.255.255.255", 9)])
def test_what_cannot_be_sent_is_told_and_does_no_harm(open_udp: Open, address: Any) -> None:
    assert not open_udp("127.0.0.1").send(b"x", address)


def test_closing_frees_the_port_and_ends_the_thread(open_udp: Open) -> None:
    link = open_udp()
    port = link.address[1]
    link.close()
    link.close()
    assert not link._thread.is_alive()
    assert not link.send(b"x", ("127.0.0.1", 9))
    open_udp("127.0.0.1", port)


def test_a_socket_that_fails_is_told_once(open_udp: Open, waiting: Any, clock: Any) -> None:
    """Joined to a port where nobody listens, a socket's next read tells of the refusal."""
    link = open_udp()
    link._socket.connect(("127.0.0.1", _free_port()))
    link._socket.send(b"x")
    (down,) = waiting.until(len)
    assert (down.link, down.stamp) == (3, clock.stamp())
    assert "refused" in down.reason
    link._thread.join(5)
    assert not link._thread.is_alive()
