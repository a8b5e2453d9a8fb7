"""A flood is kept back by the system; what comes from known places, and a little else, is not."""

import socket

import pytest

from monitor.links.chunk import Address
from monitor.links.guard import (
    ALLOWED_A_SECOND,
    BETTER_A_SECOND,
    FLOOD_A_SECOND,
    LOOK_NS,
    PACKS_MAX,
    QUIET_NS,
    SOURCES_MAX,
    Guard,
    Known,
    Share,
    attach,
    detach,
    kind_of,
    mark,
    program,
)

OURS = ((101).to_bytes(4, "big"), (102).to_bytes(4, "big"))
STRANGER = (900).to_bytes(4, "big")


def frame(identity: bytes) -> bytes:
    """As long as a status: version, kind, flags, epoch, identity, the rest."""
    return bytes((1, 2, 1, 1)) + identity + bytes(38)


def enveloped(identity: bytes) -> bytes:
    """The same in a base radio's envelope: twelve bytes of its own before the frame."""
    return bytes((1, 12, 0, 0)) + bytes(8) + frame(identity)


def beat() -> bytes:
    return bytes((1, 13, 0, 0)) + bytes(12)


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
        expected = Known([*others, source], OURS)
        assert attach(into, program(expected, Share(1.0, 1.0, 0.0, 0.0)))
        for one in (known, strange):
            for _ in range(100):
                one.send(frame(STRANGER))
        assert received(into) == 100
        assert attach(into, program(Known([], OURS), Share(1.0, 1.0, 1.0, 0.25)))
        for _ in range(2_000):
            strange.send(frame(STRANGER))
        # 500 expected, standard deviation 19.4: ten of them either way.
        assert 300 < received(into) < 700
        detach(into)
        strange.send(b"one")
        assert received(into) == 1


def test_an_address_has_one_mark_in_either_form() -> None:
    assert mark(("192.0.2.7", 4000)) == mark(("::ffff:192.0.2.7", 4000, 0, 0))
    assert mark(("192.0.2.7", 4000)) != mark(("192.0.2.7", 4001))
    assert mark(("192.0.2.7", 4000)) != mark(("192.0.2.8", 4000))


@pytest.mark.parametrize("kind", range(4))
def test_each_of_the_four_kinds_is_told_from_the_others(kind: int) -> None:
    """By the system as by us: with two hundred places and a thousand packs to compare with."""
    packs = [(7 * n + 3).to_bytes(4, "big") for n in range(1, 1_000)] + list(OURS)
    with (
        socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as into,
        socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as own,
        socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as elsewhere,
    ):
        into.bind(("127.0.0.1", 0))
        into.setblocking(False)
        for one in (own, elsewhere):
            one.bind(("127.0.0.1", 0))
            one.connect(into.getsockname())
        others: list[Address] = [("192.0.2.7", port) for port in range(1, 460)]
        known = Known([*others, own.getsockname()], frozenset(packs))
        only = Share(*(float(number == kind) for number in range(4)))
        assert len(program(known, only)) <= 4_096
        assert attach(into, program(known, only))
        sent = [
            (own if kind < 2 else elsewhere, made, kind)
            for kind, whose in enumerate((OURS[0], STRANGER, OURS[1], STRANGER))
            for made in (frame(whose), enveloped(whose))
        ]
        sent.append((own, beat(), 0))
        for wire, made, which in sent:
            assert kind_of(made, wire.getsockname(), known) == which
            wire.send(made)
        assert received(into) == sum(which == kind for _, _, which in sent)


def test_the_largest_program_fits() -> None:
    """Linux takes 4,096 instructions (BPF_MAXINSNS, linux/bpf_common.h)."""
    places: list[Address] = [("192.0.2.7", port) for port in range(1, SOURCES_MAX + 1)]
    packs = frozenset(n.to_bytes(4, "big") for n in range(PACKS_MAX))
    made = program(Known(places, packs), Share(1.0, 0.5, 0.5, 0.5))
    assert len(made) <= 4_096
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as into:
        assert attach(into, made)


NONE = (0, 0, 0, 0)


def test_a_flood_begins_over_its_rate_and_ends_after_a_quiet_time() -> None:
    guard, came, now = Guard(), 0, 0
    assert not guard.look(now, came, NONE)
    assert not guard.look(LOOK_NS - 1, FLOOD_A_SECOND, NONE)
    now, came = LOOK_NS, FLOOD_A_SECOND // 10
    assert not guard.look(now, came, NONE), "just the rate that is still none"
    now, came = now + LOOK_NS, came + 5_000
    assert guard.look(now, came, NONE)
    # 50,000 a second; of which kind is not known yet.
    better, allowed = BETTER_A_SECOND / 50_000, ALLOWED_A_SECOND / 50_000
    assert guard.share == pytest.approx((1.0, better, better, allowed))
    for _ in range(5):
        now, came = now + LOOK_NS, came + 5_000
        assert guard.look(now, came, (0, 0, 0, 50))
        assert guard.share == pytest.approx((1.0, 1.0, 1.0, allowed))
    until = now + QUIET_NS
    while now + LOOK_NS < until:
        now += LOOK_NS
        guard.look(now, came, NONE)
        assert guard.share is not None
    assert guard.look(until, came, NONE)
    assert guard.share is None
    assert not guard.look(until + LOOK_NS, came, NONE)


@pytest.mark.parametrize("kind", [1, 2])
def test_a_flood_of_one_kind_leaves_the_others_whole(kind: int) -> None:
    """Of a known pack from elsewhere, or of others from a place that is known: 50,000 a second."""
    guard, came, now = Guard(), 0, 0
    guard.look(now, came, NONE)
    for look in range(1, 60):
        now, came = now + LOOK_NS, came + 5_000
        share = guard.share or Share()
        read = tuple(round((5_000 if n == kind else 1) * one) for n, one in enumerate(share))
        assert guard.look(now, came, read)
        if look > 1:
            want = pytest.approx(BETTER_A_SECOND / 50_000, rel=0.1)
            assert guard.share is not None
            assert guard.share[kind] == want
            assert guard.share[0] == 1.0
            assert guard.share[3 - kind] == 1.0
    # What was taken for the flood at first is whole again too.
    assert guard.share is not None
    assert guard.share[3] == 1.0


def test_known_packs_at_their_own_places_are_never_cut() -> None:
    guard, now = Guard(), 0
    for n in range(20):
        guard.look(now, n * 5_000, (5_000, 0, 0, 0))
        now += LOOK_NS
        assert guard.share is None or guard.share.own == 1.0
