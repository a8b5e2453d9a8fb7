"""A flood is turned away by the system itself, before it costs the recorder anything.

To read a datagram and find that it is nothing takes some microseconds; fifty thousand a second take
a third of a core. So while a port is flooded, the system is asked to hand on what comes from where
packs are known to be, whole, and of all else a small random part: that is enough for a new pack to
be heard in the end, and for the flood to be seen. It counts what it keeps back.

Classic BPF (S. McCanne and V. Jacobson, "The BSD Packet Filter", USENIX 1993) on Linux, by
SO_ATTACH_FILTER (socket(7)); elsewhere nothing is turned away. Building is pure; times are handed
in.
"""

import ctypes
import ipaddress
import socket
import struct
import sys
from collections.abc import Iterable
from typing import Final

from monitor.links.chunk import Address

FLOOD_A_SECOND = 10_000
"""More than this is a flood, unless known packs send it: the largest fleet at 5 s sends a third."""
ALLOWED_A_SECOND = 500
"""So much of a flood is still read: half of what keys are made for, so that a new pack that gets
through is looked at."""
QUIET_NS = 2_000_000_000
"""It ends when less than half a flood has come for so long."""
LOOK_NS = 100_000_000
SOURCES_MAX = 2_000
"""As many as a program has room for; with more nothing is turned away."""

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
_JEQ, _JGT, _RET = 0x15, 0x25, 0x06

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


def program(sources: Iterable[Address], share: float) -> list[Instruction]:
    """Let through all from these sources, and of the rest that share, 0 to 1, at random."""
    four = [(_LD, 0, 0, _NET + 12), (_TAX, 0, 0, 0)]
    six: list[Instruction] = [(_LD, 0, 0, _NET + 8), (_TAX, 0, 0, 0)]
    for at in (12, 16, 20):
        six += [(_LD, 0, 0, _NET + at), (_XOR_X, 0, 0, 0), (_TAX, 0, 0, 0)]
    made: list[Instruction] = [
        (_LDB, 0, 0, _NET),
        (_RSH, 0, 0, 4),
        (_JEQ, 0, len(four) + 1, 4),
        *four,
        (0x05, 0, 0, len(six)),
        *six,
        (_LDH, 0, 0, 0),
        (_MUL, 0, 0, _MIX),
        (_XOR_X, 0, 0, 0),
    ]
    for known in sorted({mark(source) for source in sources}):
        made += [(_JEQ, 0, 1, known), (_RET, 0, 0, _U32)]
    limit = int(min(max(share, 0.0), 1.0) * _U32)
    return [*made, (_LD, 0, 0, _RANDOM), (_JGT, 1, 0, limit), (_RET, 0, 0, _U32), (_RET, 0, 0, 0)]


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
    """Whether a port is flooded, and how much of the flood to let through."""

    def __init__(self) -> None:
        self.share: float | None = None
        """Of what comes from elsewhere than known packs; None: there is no flood."""
        self._at_ns: int | None = None
        self._seen = 0
        self._quiet_since_ns = 0

    def look(self, now_ns: int, came: int) -> bool:
        """Take how many datagrams have come in all, read or turned away; whether to act anew."""
        if self._at_ns is None:
            self._at_ns, self._seen = now_ns, came
            return False
        passed_ns = now_ns - self._at_ns
        if passed_ns < LOOK_NS:
            return False
        rate = (came - self._seen) * 1e9 / passed_ns
        self._at_ns, self._seen = now_ns, came
        if rate >= FLOOD_A_SECOND / 2:
            self._quiet_since_ns = now_ns
        before = self.share
        if rate > FLOOD_A_SECOND:
            self.share = ALLOWED_A_SECOND / rate
        elif before is not None and now_ns - self._quiet_since_ns >= QUIET_NS:
            self.share = None
        return self.share is not None or before is not None
