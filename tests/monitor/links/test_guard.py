"""A flood is kept back by the system; what comes from known places, and a little else, is not."""

import socket

import pytest

from monitor.links.chunk import Address
from monitor.links.guard import (
    ALLOWED_A_SECOND,
    FLOOD_A_SECOND,
    LOOK_NS,
    QUIET_NS,
    Guard,
    attach,
    detach,
    mark,
    program,
)

S = 1_000_000_000


def received(into: socket.socket) -> int:
    """How many datagrams wait."""
    count = 0
    try:
        while True:
            into.recv(64)
            count += 1
    except BlockingIOError:
        return count


@pytest.mark.parametrize(
    ("family", "host", "to"),
    [
        (socket.AF_INET, "127.0.0.1", "127.0.0.1"),
        (socket.AF_INET6, "::1", "::1"),
        (socket.AF_INET6, "::", "127.0.0.1"),
    ],
)
def test_known_sources_come_whole_and_of_the_rest_a_part(
    family: socket.AddressFamily, host: str, to: str
) -> None:
    """IPv4, IPv6, and IPv4 at a socket for both."""
    sends = socket.AF_INET if to == "127.0.0.1" else socket.AF_INET6
    with (
        socket.socket(family, socket.SOCK_DGRAM) as into,
        socket.socket(sends, socket.SOCK_DGRAM) as known,
        socket.socket(sends, socket.SOCK_DGRAM) as strange,
    ):
        if family == socket.AF_INET6:
            into.setsockopt(socket.IPPROTO_IPV6, socket.IPV6_V6ONLY, host != "::")
        into.bind((host, 0))
        into.setblocking(False)
        into.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4 * 1024 * 1024)
        for one in (known, strange):
            one.bind((to, 0))
            one.connect((to, into.getsockname()[1]))
        known.send(b"where from")
        _, source = into.recvfrom(64)
        others: list[Address] = [("192.0.2.7", 4), ("2001:db8::7", 5, 0, 0)]
        assert attach(into, program([*others, source], 0.0))
        for one in (known, strange):
            for _ in range(100):
                one.send(b"one")
        assert received(into) == 100
        assert attach(into, program([], 0.25))
        for _ in range(2_000):
            strange.send(b"one")
        # 500 expected, standard deviation 19.4: ten of them either way.
        assert 300 < received(into) < 700
        detach(into)
        strange.send(b"one")
        assert received(into) == 1


def test_an_address_has_one_mark_in_either_form() -> None:
    assert mark(("192.0.2.7", 4000)) == mark(("::ffff:192.0.2.7", 4000, 0, 0))
    assert mark(("192.0.2.7", 4000)) != mark(("192.0.2.7", 4001))
    assert mark(("192.0.2.7", 4000)) != mark(("192.0.2.8", 4000))


def test_a_flood_begins_over_its_rate_and_ends_after_a_quiet_time() -> None:
    guard, came, now = Guard(), 0, 0
    assert not guard.look(now, came)
    assert not guard.look(LOOK_NS - 1, FLOOD_A_SECOND)
    now, came = LOOK_NS, FLOOD_A_SECOND // 10
    assert not guard.look(now, came), "just the rate that is still none"
    for _ in range(5):
        now, came = now + LOOK_NS, came + 5_000
        assert guard.look(now, came)
        # 50,000 a second.
        assert guard.share == pytest.approx(ALLOWED_A_SECOND / 50_000)
    until = now + QUIET_NS
    while now + LOOK_NS < until:
        now += LOOK_NS
        guard.look(now, came)
        assert guard.share is not None
    assert guard.look(until, came)
    assert guard.share is None
    assert not guard.look(until + LOOK_NS, came)
