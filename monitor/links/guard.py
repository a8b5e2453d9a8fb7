"""A flood is turned away by the system itself, before it costs the recorder anything.

To read a datagram and find that it is nothing takes some microseconds; fifty thousand a second take
a third of a core. So while a port is flooded, the system is asked to hand on only a small random
part of what floods it. What comes is of five kinds, each with a budget of its own, so that a flood
of one takes nothing from the others. What goes on where a known pack was heard last, with the
numbers that come next, is read whole: the system cannot check a tag, but whoever makes up frames in
a pack's name, or plays one again and again, does not have these numbers. Who listens has them, but
no tag: what is left of that is found out by the reading thread, before it costs anything more. The
parts that are left are enough for a new pack to be heard in the end, and for the flood to be seen.
The system counts what it keeps back.

Classic BPF (S. McCanne and V. Jacobson, "The BSD Packet Filter", USENIX 1993) on Linux, by
SO_ATTACH_FILTER (socket(7)); elsewhere nothing is turned away. Building is pure; times are handed
in.
"""

import ctypes
import ipaddress
import socket
import struct
import sys
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
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
BEATS_A_SECOND = 200
"""And of beats of base radios, each of which sends one a second."""
FORGED_A_SECOND = 500
"""What goes on by its numbers and not by its tag, by somebody who listens, is found out as it is
read; so much of it is handed on, to be counted by its reason, and as a call it may be."""
QUIET_NS = 2_000_000_000
"""It ends when less than half a flood has come for so long."""
LOOK_NS = 100_000_000
SOURCES_MAX = 2_000
PACKS_MAX = 1_500
"""As many as a program has room for: those on the board, and their places, come first."""
PROGRAM_MAX = 4_096
"""Instructions in a program (BPF_MAXINSNS, linux/bpf_common.h)."""
AHEAD_MAX = 1_024
"""A pack goes on if its number is at most so far ahead of the last that was heard: an hour out of
range at a report each 5 s. A number at random is so once in four million."""
RESTARTS_MAX = 16
"""Or if it has begun anew, so many times at most."""

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
_MUL, _RSH, _XOR_X, _SUB_X, _TAX = 0x24, 0x74, 0xAC, 0x1C, 0x07
_JA, _JEQ, _JGT, _RET = 0x05, 0x15, 0x25, 0x06
_ST, _STX, _MEM, _MEM_X, _IMM, _IMM_X = 0x02, 0x03, 0x60, 0x61, 0x00, 0x01
_UDP = 8
"""Bytes of the UDP header, before the frame."""
_KIND_AT, _IDENTITY_AT, _BOOT_AT, _SEQUENCE_AT = 1, 4, 8, 12
_INNER, _CLOSING = 12, 2
"""Before the frame in an envelope, and behind it."""
_NUMBERS_END = 16
_TWO: Final = struct.Struct(">II")
_ENVELOPE, _BEAT = int(Kind.ENVELOPE), int(Kind.BEAT)
# Cells of the program's memory.
_BOOT_CELL, _SEQUENCE_CELL, _HIGHEST_CELL, _WHOSE_CELL = 0, 1, 2, 3
_NOBODY, _OF_PACK, _GOES_ON = 0, 1, 2
"""What is found out of whose a frame is."""
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


Numbers = tuple[int, int]
"""Boot counter and highest sequence number of a pack as last heard."""


class Known(NamedTuple):
    """What is expected on a link."""

    sources: Collection[Address]
    """From where packs are heard; at most ``SOURCES_MAX``."""
    packs: Mapping[bytes, Numbers | None]
    """By identity as in a frame, packs that come first, the most important first; at most
    ``PACKS_MAX``. None: not heard yet, so any numbers may come."""


class Share(NamedTuple):
    """How much of each kind is let through, 0 to 1."""

    own: float = 1.0
    """Of known packs whose numbers go on, from where packs are heard."""
    place: float = 1.0
    """Of others from there."""
    pack: float = 1.0
    """Of known packs from elsewhere."""
    neither: float = 1.0
    beat: float = 1.0
    """Of base radios, from anywhere: a radio is there before any pack is."""


WHOLE = Share()
_BUDGETS = (None, BETTER_A_SECOND, BETTER_A_SECOND, ALLOWED_A_SECOND, BEATS_A_SECOND)
"""Frames a second, by kind; None: without end."""


def kind_of(data: bytes, source: Address | None, known: Known) -> int:
    """Which of the five kinds a datagram is: its place in ``Share``."""
    if len(data) < _NUMBERS_END:
        return 1 if source in known.sources else 3
    kind = data[_KIND_AT]
    if kind == _BEAT:
        return 4
    start = _INNER if kind == _ENVELOPE else 0
    whose = data[start + _IDENTITY_AT : start + _BOOT_AT]
    if source not in known.sources:
        return 2 if whose in known.packs else 3
    if whose not in known.packs:
        return 1
    last = known.packs[whose]
    return 0 if last is None or _goes_on(data, start, last) else 1


def frame_in(data: bytes) -> bytes:
    """The frame of a pack in a datagram, out of its envelope."""
    return data[_INNER:-_CLOSING] if data[_KIND_AT] == _ENVELOPE else data


def _goes_on(data: bytes, start: int, last: Numbers) -> bool:
    """Whether the numbers in a frame are those that may come next."""
    if len(data) < start + _NUMBERS_END:
        return False
    boot: int
    sequence: int
    boot, sequence = _TWO.unpack_from(data, start + _BOOT_AT)
    restarts = boot - last[0] & _U32
    ahead = (sequence if restarts else sequence - last[1]) & _U32
    return restarts <= RESTARTS_MAX and 1 <= ahead <= AHEAD_MAX


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


def _named(start: int) -> list[Instruction]:
    """Keep a frame's numbers, and have its identity at hand."""
    return [
        (_LD, 0, 0, _UDP + start + _BOOT_AT),
        (_ST, 0, 0, _BOOT_CELL),
        (_LD, 0, 0, _UDP + start + _SEQUENCE_AT),
        (_ST, 0, 0, _SEQUENCE_CELL),
        (_LD, 0, 0, _UDP + start + _IDENTITY_AT),
    ]


_NUMBERS: Final[list[Instruction]] = [
    # The last boot heard is at hand, the highest number in X. A restart counts from 0.
    (_STX, 0, 0, _HIGHEST_CELL),
    (_TAX, 0, 0, 0),
    (_MEM, 0, 0, _BOOT_CELL),
    (_SUB_X, 0, 0, 0),
    (_JEQ, 3, 0, 0),
    (_JGT, 7, 0, RESTARTS_MAX),
    (_IMM_X, 0, 0, 0),
    (_JA, 0, 0, 1),
    (_MEM_X, 0, 0, _HIGHEST_CELL),
    (_MEM, 0, 0, _SEQUENCE_CELL),
    (_SUB_X, 0, 0, 0),
    (_JEQ, 1, 0, 0),
    (_JGT, 0, 2, AHEAD_MAX),
    (_IMM, 0, 0, _OF_PACK),
    (_JA, 0, 0, 1),
    (_IMM, 0, 0, _GOES_ON),
]
_CHECKED = 4
"""Instructions for a pack whose numbers are looked at."""


def _whose(packs: Mapping[bytes, Numbers | None], room: int) -> list[Instruction]:
    """What a frame is by the identity at hand. Numbers are looked at as far as there is room."""
    told = [(int.from_bytes(pack, "big"), last) for pack, last in packs.items()]
    spare = (room - len(_any_of(pack for pack, _ in told))) // _CHECKED
    checked = [(pack, last) for pack, last in told if last is not None][: max(0, spare)]
    left = {pack for pack, _ in told}.difference(pack for pack, _ in checked)
    others = [*_any_of(left), (_JEQ, 0, 1, 1), (_IMM, 0, 0, _GOES_ON)]
    made: list[Instruction] = []
    for behind, (pack, (boot, highest)) in zip(
        range(len(checked) - 1, -1, -1), checked, strict=True
    ):
        made += [
            (_JEQ, 0, 3, pack),
            (_IMM_X, 0, 0, highest),
            (_IMM, 0, 0, boot),
            (_JA, 0, 0, behind * _CHECKED + len(others) + 1),
        ]
    return [*made, *others, (_JA, 0, 0, len(_NUMBERS)), *_NUMBERS]


def _source() -> list[Instruction]:
    """Have the mark of where a datagram came from at hand."""
    four = [(_LD, 0, 0, _NET + 12), (_TAX, 0, 0, 0)]
    six: list[Instruction] = [(_LD, 0, 0, _NET + 8), (_TAX, 0, 0, 0)]
    for at in (12, 16, 20):
        six += [(_LD, 0, 0, _NET + at), (_XOR_X, 0, 0, 0), (_TAX, 0, 0, 0)]
    return [
        (_LDB, 0, 0, _NET),
        (_RSH, 0, 0, 4),
        (_JEQ, 0, len(four) + 1, 4),
        *four,
        (_JA, 0, 0, len(six)),
        *six,
        (_LDH, 0, 0, 0),
        (_MUL, 0, 0, _MIX),
        (_XOR_X, 0, 0, 0),
    ]


def program(known: Known, share: Share) -> list[Instruction]:
    """Let through so much of each kind. What is too short to name a pack is not let through."""
    own, place, pack, neither, beat = (_part(one) for one in share)
    size = len(own)
    plain, inner = _named(0), _named(_INNER)
    begin = [
        (_LDB, 0, 0, _UDP + _KIND_AT),
        (_JEQ, 0, size, _BEAT),
        *beat,
        (_JEQ, len(plain) + 1, 0, _ENVELOPE),
        *plain,
        (_JA, 0, 0, len(inner)),
        *inner,
    ]
    end = [
        (_ST, 0, 0, _WHOSE_CELL),
        *_source(),
        *_any_of(mark(source) for source in known.sources),
        (_JEQ, 0, 2 * size + 2, 1),
        (_MEM, 0, 0, _WHOSE_CELL),
        (_JEQ, 0, size, _GOES_ON),
        *own,
        *place,
        (_MEM, 0, 0, _WHOSE_CELL),
        (_JEQ, size, 0, _NOBODY),
        *pack,
        *neither,
    ]
    room = PROGRAM_MAX - len(begin) - len(end) - len(_NUMBERS) - _CHECKED
    return [*begin, *_whose(known.packs, room), *end]


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
