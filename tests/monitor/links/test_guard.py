"""A flood is kept back by the system; what comes from known places, and a little else, is not."""

import socket
from collections.abc import Callable

import pytest

from monitor.links.chunk import Address
from monitor.links.guard import (
    AHEAD_MAX,
    ALLOWED_A_SECOND,
    BEATS_A_SECOND,
    BETTER_A_SECOND,
    FLOOD_A_SECOND,
    LOOK_NS,
    PACKS_MAX,
    PROGRAM_MAX,
    QUIET_NS,
    RESTARTS_MAX,
    SOURCES_MAX,
    Guard,
    Known,
    Numbers,
    Share,
    attach,
    detach,
    kind_of,
    mark,
    program,
)

OURS = ((101).to_bytes(4, "big"), (102).to_bytes(4, "big"))
STRANGER = (900).to_bytes(4, "big")
BOOT, HIGHEST = 7, 5_000


def frame(identity: bytes, boot: int = BOOT, sequence: int = HIGHEST + 1) -> bytes:
    """As long as a status: version, kind, flags, epoch, identity, numbers, the rest."""
    numbers = boot.to_bytes(4, "big") + sequence.to_bytes(4, "big")
    return bytes((1, 2, 1, 1)) + identity + numbers + bytes(30)


def enveloped(identity: bytes, boot: int = BOOT, sequence: int = HIGHEST + 1) -> bytes:
    """The same in a base radio's envelope: twelve bytes of its own before the frame."""
    return bytes((1, 12, 0, 0)) + bytes(8) + frame(identity, boot, sequence)


def heard(*packs: bytes) -> dict[bytes, Numbers | None]:
    """These packs, all with the same numbers."""
    return dict.fromkeys(packs, (BOOT, HIGHEST))


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
        expected = Known([*others, source], heard(*OURS))
        assert attach(into, program(expected, Share(1.0, 1.0, 0.0, 0.0, 0.0)))
        for one in (known, strange):
            for _ in range(100):
                one.send(frame(STRANGER))
        assert received(into) == 100
        assert attach(into, program(Known([], heard(*OURS)), Share(1.0, 1.0, 1.0, 0.25, 1.0)))
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


@pytest.mark.parametrize("kind", range(5))
def test_each_of_the_five_kinds_is_told_from_the_others(kind: int) -> None:
    """By the system as by us: with five hundred places and packs to compare with."""
    packs = [(7 * n + 3).to_bytes(4, "big") for n in range(1, 500)] + list(OURS)
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
        known = Known([*others, own.getsockname()], heard(*packs))
        only = Share(*(float(number == kind) for number in range(5)))
        assert len(program(known, only)) <= PROGRAM_MAX
        assert attach(into, program(known, only))
        sent = [
            (own if which < 2 else elsewhere, made, which)
            for which, whose, sequence in (
                (0, OURS[0], HIGHEST + 1),
                (1, OURS[0], HIGHEST),
                (1, STRANGER, HIGHEST + 1),
                (2, OURS[1], HIGHEST),
                (3, STRANGER, HIGHEST + 1),
            )
            for made in (
                frame(whose, sequence=sequence),
                enveloped(whose, sequence=sequence),
            )
        ]
        sent += [(own, beat(), 4), (elsewhere, beat(), 4)]
        for wire, made, which in sent:
            assert kind_of(made, wire.getsockname(), known) == which
            wire.send(made)
        assert received(into) == sum(which == kind for _, _, which in sent)


@pytest.mark.parametrize("made", [frame, enveloped])
@pytest.mark.parametrize(
    ("last", "boot", "sequence", "goes_on"),
    [
        ((BOOT, HIGHEST), BOOT, HIGHEST + 1, True),
        ((BOOT, HIGHEST), BOOT, HIGHEST, False),
        ((BOOT, HIGHEST), BOOT, HIGHEST - 1, False),
        ((BOOT, HIGHEST), BOOT, 1, False),
        ((BOOT, HIGHEST), BOOT, HIGHEST + AHEAD_MAX, True),
        ((BOOT, HIGHEST), BOOT, HIGHEST + AHEAD_MAX + 1, False),
        ((BOOT, HIGHEST), BOOT, 2**32 - 1, False),
        ((BOOT, HIGHEST), BOOT - 1, HIGHEST + 1, False),
        ((BOOT, HIGHEST), 2**32 - 1, 1, False),
        ((BOOT, HIGHEST), BOOT + 1, 1, True),
        ((BOOT, HIGHEST), BOOT + 1, 0, False),
        ((BOOT, HIGHEST), BOOT + 1, HIGHEST, False),
        ((BOOT, HIGHEST), BOOT + RESTARTS_MAX, AHEAD_MAX, True),
        ((BOOT, HIGHEST), BOOT + RESTARTS_MAX + 1, 1, False),
        ((BOOT, 2**32 - 2), BOOT, 2**32 - 1, True),
        # The system reckons modulo 2^32. No pack wraps; whether one did is not for a filter to say.
        ((BOOT, 2**32 - 2), BOOT, 1, True),
        ((2**32 - 1, HIGHEST), 1, 1, True),
        ((BOOT, 0), BOOT, 1, True),
        (None, 99, 12_345, True),
    ],
)
def test_a_pack_goes_on_by_its_numbers(
    made: Callable[[bytes, int, int], bytes],
    last: Numbers | None,
    boot: int,
    sequence: int,
    *,
    goes_on: bool,
) -> None:
    """By the system as by us; between packs of which other numbers are known."""
    with (
        socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as into,
        socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as own,
    ):
        into.bind(("127.0.0.1", 0))
        into.setblocking(False)
        own.connect(into.getsockname())
        others = {n.to_bytes(4, "big"): (n, 2 * n) for n in range(1, 20)}
        packs = {**others, OURS[0]: last, **heard(OURS[1]), STRANGER: None}
        known = Known([own.getsockname()], packs)
        assert attach(into, program(known, Share(1.0, 0.0, 0.0, 0.0, 0.0)))
        data = made(OURS[0], boot, sequence)
        assert kind_of(data, own.getsockname(), known) == (0 if goes_on else 1)
        own.send(data)
        assert received(into) == goes_on


@pytest.mark.parametrize("packs", [0, 1, 300, 700, PACKS_MAX])
@pytest.mark.parametrize("places", [0, 1, 400, SOURCES_MAX])
def test_the_largest_program_fits(packs: int, places: int) -> None:
    """Of as many packs as there is room for the numbers are looked at, of the first ones."""
    sources: list[Address] = [("192.0.2.7", port) for port in range(1, places + 1)]
    named = [n.to_bytes(4, "big") for n in range(1, packs + 1)]
    with (
        socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as into,
        socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as own,
    ):
        into.bind(("127.0.0.1", 0))
        into.setblocking(False)
        own.connect(into.getsockname())
        known = Known([own.getsockname(), *sources][: max(1, places)], heard(*named))
        made = program(known, Share(1.0, 0.0, 0.0, 0.0, 0.0))
        assert len(made) <= PROGRAM_MAX
        assert attach(into, made)
        for whose in named[:1] + named[-1:]:
            own.send(frame(whose))
        assert received(into) == len(named[:1] + named[-1:])
        for whose in named[:1]:
            own.send(frame(whose, sequence=HIGHEST))
        assert received(into) == 0, "the first are looked at, however many there are"


NONE = (0, 0, 0, 0, 0)


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
    beats = BEATS_A_SECOND / 50_000
    assert guard.share == pytest.approx((1.0, better, better, allowed, beats))
    for _ in range(5):
        now, came = now + LOOK_NS, came + 5_000
        assert guard.look(now, came, (0, 0, 0, 50, 0))
        assert guard.share == pytest.approx((1.0, 1.0, 1.0, allowed, 1.0))
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
        guard.look(now, n * 5_000, (5_000, 0, 0, 0, 0))
        now += LOOK_NS
        assert guard.share is None or guard.share.own == 1.0
