"""What is put to a pack: every question with the rule it is about and what is right. Tables.

An order is obeyed or refused, a beacon taken or passed over. The number of an order is given when
it is put, each higher than the one before, so that an answer says which was obeyed.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Literal

from protocol.fields import PACK_FRAME_BYTES_MAX, TAG_BYTES, U32_MAX
from protocol.packets import OrderKind
from simulators.conformance.down import (
    BOOT_END_AT,
    FLAGS_AT,
    KIND_AT,
    ORDER_CONTENT_BYTES,
    RIGHT,
    VERSION_AT,
    WHAT_AT,
    Spoil,
    Whose,
    bits_set,
    byte_is,
    cut,
    first_of_base,
    next_epoch,
    odd_epoch,
    tag_byte,
    zeros,
)

Expect = Literal["obeyed", "refused"]
Named = Callable[[Whose], Whose]
KEYED_TAIL_BYTES = TAG_BYTES + 2


def as_heard(whose: Whose) -> Whose:
    """Name the last frame heard."""
    return whose


@dataclass(frozen=True, slots=True)
class Question:
    """One order, or a beacon with an order right behind it whose receipt tells of it."""

    rule: str
    expect: Expect = "obeyed"
    what: OrderKind = OrderKind.TEST
    spoil: Spoil = RIGHT
    named: Named = as_heard
    beacon: Spoil | None = None
    """The beacon goes first, the order is right; ``expect`` is then about the beacon."""
    number: int = 0
    """0: the next one; -1: one below the highest; else this."""
    times: int = 1
    """So often at once."""
    again: bool = False
    """The number of the last one obeyed."""
    exact: bool = False
    """It is judged only if the pack can have sent nothing between our hearing and its hearing."""
    other_base: bool = False
    keyed: bool | None = None
    """Put to packs with keys only, to open ones only, or to all."""
    age_ns: tuple[int, int] | None = None
    """Names a frame that was heard so long ago."""

    @property
    def never(self) -> bool:
        """No report may ever tell the number of this order."""
        return self.expect == "refused" and self.beacon is None and not self.exact


def _back(count: int) -> Named:
    return lambda whose: whose._replace(sequence=max(whose.sequence - count, 1))


def _ahead(count: int) -> Named:
    return lambda whose: whose._replace(sequence=min(whose.sequence + count, U32_MAX))


def _boot(bits: int) -> Named:
    return lambda whose: whose._replace(boot=whose.boot ^ bits or U32_MAX)


def _identity(bits: int) -> Named:
    return lambda whose: whose._replace(identity=whose.identity ^ bits or U32_MAX)


def _all(rule: str, *spoils: Spoil, keyed: bool | None = None) -> list[Question]:
    return [Question(rule, "refused", spoil=spoil, keyed=keyed) for spoil in spoils]


def _another(content: bytearray) -> None:
    """Another identity under the pack's own key, as nobody should ever make one."""
    content[7] ^= 3


def _fill(size: int) -> bytes:
    """One appended field that makes an open order's content so long."""
    room = size - ORDER_CONTENT_BYTES - 2
    return bytes((200, room)) + bytes(room)


KINDS: dict[OrderKind, Question] = {
    OrderKind.EVACUATE: Question("evacuate", what=OrderKind.EVACUATE),
    OrderKind.COME_OUT: Question("come out", what=OrderKind.COME_OUT),
    OrderKind.ROLL_CALL: Question("roll call", what=OrderKind.ROLL_CALL),
    OrderKind.TEST: Question("test", what=OrderKind.TEST),
    OrderKind.DISTRESS_CONFIRMED: Question("confirmed", what=OrderKind.DISTRESS_CONFIRMED),
    OrderKind.COMING_OUT_CONFIRMED: Question("confirmed", what=OrderKind.COMING_OUT_CONFIRMED),
}
"""Each kind, put as it should be."""

CONFIRM = KINDS[OrderKind.COMING_OUT_CONFIRMED]
"""Costs the wearer no press."""

BAD_TAGS = (
    *(tag_byte(at) for at in range(TAG_BYTES)),
    Spoil(tag=lambda _: bytes(TAG_BYTES)),
    Spoil(digest_whole=True),
)
BAD_FLAGS = tuple(bits_set(FLAGS_AT, bit) for bit in (0x10, 0x20, 0x40, 0x80))
BAD_LENGTHS = (
    cut(ORDER_CONTENT_BYTES - 1),
    Spoil(append=b"\x05"),
    Spoil(append=b"\x05\x02\x00"),
    Spoil(append=_fill(PACK_FRAME_BYTES_MAX + 1)),
)
REFUSED: tuple[Question, ...] = (
    *_all("forged", *BAD_TAGS, keyed=True),
    *_all("other key", *(Spoil(key=key) for key in ("beacons", "up", "other pack")), keyed=True),
    *_all("open", Spoil(key="open"), keyed=True),
    *_all("open", Spoil(key="any"), keyed=False),
    *_all("epoch", Spoil(content=next_epoch), keyed=True),
    *_all("epoch", Spoil(content=odd_epoch)),
    *_all("noise", Spoil(checksum=0x0001), Spoil(checksum=0x8000)),
    *_all("version down", byte_is(VERSION_AT, 2), byte_is(VERSION_AT, 0)),
    *_all("flags down", *BAD_FLAGS),
    *_all("kind down", *(byte_is(KIND_AT, kind) for kind in (10, 6, 2))),
    *_all("length down", *BAD_LENGTHS),
    *_all("values down", *(byte_is(WHAT_AT, what) for what in (0, 7, 255)), zeros(16, 20)),
    *(
        Question("other pack", "refused", named=_identity(bits))
        for bits in (1, 0x100, 0x10000, 0x8000_0000)
    ),
    *_all("other pack", Spoil(content=_another), keyed=True),
    *(
        Question("other boot", "refused", named=_boot(bits))
        for bits in (1, 2, 0x100, 0x10000, 0x8000_0000)
    ),
    *(
        Question("ahead", "refused", named=_ahead(count))
        for count in (10, 60, 1000, 0x10000, U32_MAX)
    ),
    Question("passed", "refused", number=-1),
)
"""One after the other, without waiting for each. One that goes ahead by less must be alone."""

FORMS: tuple[Question, ...] = (
    Question("forms", spoil=Spoil(append=b"\x05\x01\x07")),
    Question("forms", spoil=Spoil(append=b"\xc8\x00\xc9\x02\x00\x01")),
    Question("forms", spoil=Spoil(append=bytes(2))),
    Question("forms", spoil=Spoil(append=_fill(PACK_FRAME_BYTES_MAX - 2)), keyed=False),
    Question(
        "forms", spoil=Spoil(append=_fill(PACK_FRAME_BYTES_MAX - KEYED_TAIL_BYTES)), keyed=True
    ),
    Question("forms", spoil=bits_set(FLAGS_AT, 0x0E)),
    Question("forms", other_base=True),
    Question("again", again=True),
    Question("again", again=True),
    Question("again", again=True, what=OrderKind.COME_OUT),
    Question("twice", times=2),
)

BEACONS: tuple[Question, ...] = (
    Question("beacon forms", beacon=Spoil(append=b"\x05\x01\x07")),
    Question("beacon forms", beacon=Spoil(append=bytes(2))),
    Question("beacon forms", beacon=bits_set(FLAGS_AT, 0x0E)),
    Question("beacon forms", beacon=RIGHT, other_base=True),
    Question("beacon forms", beacon=Spoil(content=first_of_base)),
    Question("beacon forms", beacon=byte_is(BOOT_END_AT, 1)),
    *(
        Question("beacon wrong", "refused", beacon=spoil)
        for spoil in (
            Spoil(checksum=0x0100), byte_is(VERSION_AT, 2), bits_set(FLAGS_AT, 0x10),
            bits_set(FLAGS_AT, 0x80), byte_is(KIND_AT, 10), Spoil(append=b"\x05\x02\x00"),
            Spoil(content=odd_epoch), zeros(16, 20), zeros(4, 8),
        )
    ),
    *(
        Question("beacon forged", "refused", beacon=spoil, keyed=True)
        for spoil in (
            tag_byte(0), tag_byte(4), tag_byte(7), Spoil(key="down"), Spoil(key="up"),
            Spoil(key="open"), Spoil(content=next_epoch), Spoil(digest_whole=True),
        )
    ),
    Question("beacon forged", "refused", beacon=Spoil(key="any"), keyed=False),
)  # fmt: skip

EARLIER: tuple[Question, ...] = (
    *(Question("earlier", what=CONFIRM.what, named=_back(count)) for count in (1, 8, 16, 40)),
    Question("earlier", what=CONFIRM.what, named=_back(63), exact=True),
    *(Question("too far back", "refused", named=_back(count)) for count in (64, 65, 128)),
    Question("ahead", "refused", named=_ahead(1), exact=True),
)

SECOND_NS = 1_000_000_000
OLD = Question("earlier", what=CONFIRM.what, age_ns=(50 * SECOND_NS, 58 * SECOND_NS))
LATE = Question("late", "refused", what=CONFIRM.what, age_ns=(61 * SECOND_NS, 80 * SECOND_NS))

WIDE: tuple[Question, ...] = (
    *(
        replace(CONFIRM, rule="wide", number=number)
        for number in (0x1FF, 0x200, 0x7FFF, 0x8000, 0xFEFF, 0xFFFF)
    ),
    Question("passed", "refused", number=-1),
    Question("again", what=CONFIRM.what, again=True),
)
"""No order can follow these but in another boot."""

AFTER_RESTART: tuple[Question, ...] = (
    replace(CONFIRM, rule="restart", number=1),
    Question("beacon forms", beacon=RIGHT),
    Question("test"),
)
