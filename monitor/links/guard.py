"""A flood is turned away by the system itself, before it costs the recorder anything.

To read a datagram and find that it is nothing takes some microseconds; fifty thousand a second take
a third of a core. So while a port is flooded, the system is asked to hand on only a small random
part of what floods it. What comes is of four kinds: from a place where packs are heard or from
elsewhere, and of a pack that is known or of none. Each kind has a budget of its own, so that a
flood of one takes nothing from the others, and what known packs say from their own places is handed
on whole. The parts that are left are enough for a new pack to be heard in the end, and for the
flood to be seen. The system counts what it keeps back.

Classic BPF (S. McCanne and V. Jacobson, "The BSD Packet Filter", USENIX 1993) on Linux, by
SO_ATTACH_FILTER (socket(7)); elsewhere nothing is turned away. Building is pure; times are handed
in.
"""

import ctypes
import ipaddress
import socket
import struct
import sys
from collections.abc import Collection, Iterable, Iterator, Sequence
from typing import Final, NamedTuple

from monitor.links.chunk import Address
from protocol.freshness import NS_PER_S
from protocol.packets import Kind

FLOOD_A_SECOND = 10_000
"""More than this is a flood, unless known packs send it: the largest fleet at 5 s sends a third."""
ALLOWED_A_SECOND = 500
"""So much is read of a flood of nobody's frames from elsewhere: half of what keys are made for, so
that a new pack that gets through is looked at."""
BETTER_A_SECOND = 2_000
"""And so much of a flood that says known packs, or comes from where packs are heard: more than a
fleet sends that has just changed its address, at a fifteenth of a core."""
QUIET_NS = 2_000_000_000
"""It ends when less than half a flood has come for so long."""
LOOK_NS = 100_000_000
SOURCES_MAX = 2_000
PACKS_MAX = 1_500
"""As many as a program of 4,096 instructions has room for: those on the board, and their places,
come first."""

_SO_ATTACH_FILTER: Final = 26
_SO_DETACH_FILTER: Final = 27
_U32 = 0xFFFF_FFFF
_MIX = 0x9E37_79B1
"""An odd number without pattern (2^32 by the golden ratio): spreads ports over all bits."""
_NET = _U32 - 0x10_0000 + 1
"""SKF_NET_OFF: offsets from the IP header; others count from the UDP header."""
_RANDOM = _U32 - 0x1000 + 1 + 56
"""SKF_AD_OFF + SKF_AD_RANDOM."""
# Class, size and mode of an instruction (linux/bpf_common.h).
_LD, _LDH, _LDB = 0x20, 0x28, 0x30
_MUL, _RSH, _XOR_X, _TAX = 0x24, 0x74, 0xAC, 0x07
_JA, _JEQ, _JGT, _RET = 0x05, 0x15, 0x25, 0x06
_ST, _MEM, _IMM = 0x02, 0x60, 0x00
_UDP = 8
"""Bytes of the UDP header, before the frame."""
_KIND_AT, _IDENTITY_AT, _INNER_AT = 1, 4, 16
_ENVELOPE, _BEAT = int(Kind.ENVELOPE), int(Kind.BEAT)
_HOP = 200
"""Values compared in a row; a short jump goes over 255 at most."""

Instruction = tuple[int, int, int, int]


def mark(address: Address) -> int:
    """What the program compares: 32 bits of a source's address and port."""
    packed = ipaddress.ip_address(address[0].partition("%")[0])
    mapped = packed.ipv4_mapped if isinstance(packed, ipaddress.IPv6Address) else None
    words = struct.unpack(f">{len((mapped or packed).packed) // 4}I", (mapped or packed).packed)
    found = address[1] * _MIX & _U32
    for word in words:
        found ^= word
    return found


class Known(NamedTuple):
    """What is expected on a link."""

    sources: Collection[Address]
    """From where packs are heard; at most ``SOURCES_MAX``."""
    packs: Collection[bytes]
    """Identities, as in a frame, of packs that come first; at most ``PACKS_MAX``."""


class Share(NamedTuple):
    """How much of each kind is let through, 0 to 1."""

    own: float = 1.0
    """Of known packs, and beats of base radios, from where packs are heard."""
    place: float = 1.0
    """Of others from there."""
    pack: float = 1.0
    """Of known packs from elsewhere."""
    neither: float = 1.0


WHOLE = Share()
_BUDGETS = (None, BETTER_A_SECOND, BETTER_A_SECOND, ALLOWED_A_SECOND)
"""Frames a second, by kind; None: without end."""


def kind_of(data: bytes, source: Address | None, known: Known) -> int:
    """Which of the four kinds a datagram is: its place in ``Share``."""
    kind = data[_KIND_AT : _KIND_AT + 1]
    at = _INNER_AT if kind == bytes((_ENVELOPE,)) else _IDENTITY_AT
    ours = data[at : at + 4] in known.packs or kind == bytes((_BEAT,))
    return (0 if source in known.sources else 2) + (0 if ours else 1)


def _any_of(values: Iterable[int]) -> list[Instruction]:
    """Whether the accumulator is one of the values: behind these, 1 or 0 is in it."""
    made: list[Instruction] = []
    ordered = sorted(set(values))
    hops = [ordered[n : n + _HOP] for n in range(0, len(ordered), _HOP)]
    for left, hop in reversed(list(enumerate(reversed(hops)))):
        # Behind each row: go on with the next one, or it was found. Then over all that is left.
        rest = sum(len(one) + 3 for one in hops[len(hops) - left :])
        row = [(_JEQ, len(hop) - n, 0, value) for n, value in enumerate(hop)]
        made += [*row, (_JA, 0, 0, 2), (_IMM, 0, 0, 1), (_JA, 0, 0, rest + 1)]
    return [*made, (_IMM, 0, 0, 0)]


def _part(share: float) -> list[Instruction]:
    """End, with this share of what comes here let through, at random."""
    limit = int(min(max(share, 0.0), 1.0) * _U32)
    return [(_LD, 0, 0, _RANDOM), (_JGT, 1, 0, limit), (_RET, 0, 0, _U32), (_RET, 0, 0, 0)]


def program(known: Known, share: Share) -> list[Instruction]:
    """Let through so much of each kind. What is too short to name a pack is not let through."""
    four = [(_LD, 0, 0, _NET + 12), (_TAX, 0, 0, 0)]
    six: list[Instruction] = [(_LD, 0, 0, _NET + 8), (_TAX, 0, 0, 0)]
    for at in (12, 16, 20):
        six += [(_LD, 0, 0, _NET + at), (_XOR_X, 0, 0, 0), (_TAX, 0, 0, 0)]
    packs = _any_of(int.from_bytes(pack, "big") for pack in known.packs)
    parts = [_part(one) for one in share]
    size = len(parts[0])
    return [
        (_LDB, 0, 0, _UDP + _KIND_AT),
        (_JEQ, 0, 2, _BEAT),
        (_IMM, 0, 0, 1),
        (_JA, 0, 0, 4 + len(packs)),
        (_JEQ, 2, 0, _ENVELOPE),
        (_LD, 0, 0, _UDP + _IDENTITY_AT),
        (_JA, 0, 0, 1),
        (_LD, 0, 0, _UDP + _INNER_AT),
        *packs,
        (_ST, 0, 0, 0),
        (_LDB, 0, 0, _NET),
        (_RSH, 0, 0, 4),
        (_JEQ, 0, len(four) + 1, 4),
        *four,
        (_JA, 0, 0, len(six)),
        *six,
        (_LDH, 0, 0, 0),
        (_MUL, 0, 0, _MIX),
        (_XOR_X, 0, 0, 0),
        *_any_of(mark(source) for source in known.sources),
        (_JEQ, 0, 2 * size + 2, 1),
        (_MEM, 0, 0, 0),
        (_JEQ, 0, size, 1),
        *parts[0],
        *parts[1],
        (_MEM, 0, 0, 0),
        (_JEQ, 0, size, 1),
        *parts[2],
        *parts[3],
    ]


def attach(to: socket.socket, made: list[Instruction]) -> bool:
    """Have the system use this program from now on; whether it does."""
    if sys.platform != "linux":
        return False
    code = ctypes.create_string_buffer(b"".join(struct.pack("HBBI", *one) for one in made))
    try:
        told = struct.pack("HP", len(made), ctypes.addressof(code))
        to.setsockopt(socket.SOL_SOCKET, _SO_ATTACH_FILTER, told)
    except OSError:
        return False
    return True


def detach(to: socket.socket) -> None:
    """Let everything through again."""
    if sys.platform == "linux":
        to.setsockopt(socket.SOL_SOCKET, _SO_DETACH_FILTER, 0)


class Guard:
    """Whether a port is flooded, and how much of each kind to let through."""

    def __init__(self) -> None:
        self.share: Share | None = None
        """None: there is no flood."""
        self._at_ns: int | None = None
        self._seen = 0
        self._quiet_since_ns = [0] * (1 + len(WHOLE))
        """Since when there is no flood in all, and none of each kind."""

    def look(self, now_ns: int, came: int, read: Sequence[int]) -> bool:
        """Take how many datagrams have come in all, read or turned away; whether to act anew.

        ``read``: how many of each kind were read since the last time that this said so.
        """
        if self._at_ns is None:
            self._at_ns, self._seen = now_ns, came
            return False
        passed_ns = now_ns - self._at_ns
        if passed_ns < LOOK_NS:
            return False
        rate = (came - self._seen) * NS_PER_S / passed_ns
        self._at_ns, self._seen = now_ns, came
        before = self.share
        if rate >= FLOOD_A_SECOND / 2:
            self._quiet_since_ns[0] = now_ns
        if before is not None:
            rates = [
                count * NS_PER_S / passed_ns / one for count, one in zip(read, before, strict=True)
            ]
            self.share = Share(*self._shares(now_ns, rates, before))
        elif rate > FLOOD_A_SECOND:
            # Which kind it is will be known next time; until then it may be any but the first.
            self.share = Share(*(1.0 if one is None else one / rate for one in _BUDGETS))
            self._quiet_since_ns = [now_ns] + [now_ns - QUIET_NS] * len(WHOLE)
        if before is not None and now_ns - self._quiet_since_ns[0] >= QUIET_NS:
            self.share = None
        return self.share is not None or before is not None

    def _shares(self, now_ns: int, rates: Sequence[float], before: Share) -> Iterator[float]:
        for number, (rate, old) in enumerate(zip(rates, before, strict=True)):
            budget = _BUDGETS[number]
            if budget is None:
                yield 1.0
                continue
            if rate >= budget / 2:
                self._quiet_since_ns[1 + number] = now_ns
            if rate > budget:
                yield budget / rate
            else:
                over = now_ns - self._quiet_since_ns[1 + number] >= QUIET_NS
                yield 1.0 if over else old
