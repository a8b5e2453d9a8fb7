"""Every frame that a base sends in a trial: right ones, and each wrong in one thing alone. Pure.

A frame is put together in the order of the page: content, tag, checksum. ``Spoil`` says what is
done to it on the way, so that a wrong flag has a right tag, and a wrong tag a right checksum.
"""

import hashlib
from collections.abc import Callable
from dataclasses import dataclass, field
from random import Random
from typing import NamedTuple

from protocol.fields import FLAG_KEYED, TAG_BYTES, U32_MAX, VERSION
from protocol.integrity import EPOCH_MAX, KEY_BYTES, Keyring, checksum, tag
from protocol.packets import Kind, OrderKind

VERSION_AT, KIND_AT, FLAGS_AT, EPOCH_AT = 0, 1, 2, 3
BOOT_END_AT, SEQUENCE_AT = 11, slice(12, 16)
WHAT_AT = 22
VALUE_AT = slice(16, 20)
"""Of a beacon."""
ORDER_CONTENT_BYTES = 23


class Whose(NamedTuple):
    """The pack under trial, as far as a base has heard it."""

    identity: int
    boot: int
    sequence: int
    """Of the last frame heard."""
    epoch: int
    """0: it sends open frames."""


class Spoil(NamedTuple):
    """What is wrong with a frame; nothing: it is right."""

    content: Callable[[bytearray], None] | None = None
    """Changes header and body before the tag is made."""
    key: str = "own"
    """"own", or another one: "up", "beacons", "down", "other pack", "any"; "open": none."""
    tag: Callable[[bytes], bytes] | None = None
    digest_whole: bool = False
    """The tag is the beginning of the 32-byte digest."""
    checksum: int = 0
    """Bits to turn in it."""
    append: bytes = b""
    """After the body."""


RIGHT = Spoil()
BASE_BOOT = 9
"""So that an earlier one can be named."""


@dataclass(slots=True)
class Base:
    """One base: its identity, its counters and its keys."""

    keyring: Keyring | None
    random: Random
    identity: int = field(init=False)
    sent: int = 0
    """Beacons."""

    def __post_init__(self) -> None:
        """Be somebody."""
        self.identity = self.any_number()

    @property
    def keyed(self) -> bool:
        """Whether its frames carry tags."""
        return self.keyring is not None

    def any_number(self) -> int:
        """From 1 to the highest, at random."""
        return 1 + int(self.random.random() * (U32_MAX - 1))

    def order(
        self,
        whose: Whose,
        number: int,
        what: OrderKind = OrderKind.TEST,
        spoil: Spoil = RIGHT,
        base: int = 0,
    ) -> bytes:
        """An order that names the pack's numbers as ``whose`` has them."""
        content = _header(Kind.ORDER, whose, self.keyed)
        content += (base or self.identity).to_bytes(4, "big") + number.to_bytes(2, "big")
        content.append(what)
        return self._closed(content, whose, "down", spoil)

    def beacon(self, whose: Whose, value: int, spoil: Spoil = RIGHT, base: int = 0) -> bytes:
        """A beacon in the epoch of the pack."""
        self.sent += 1
        own = Whose(base or self.identity, BASE_BOOT, self.sent, whose.epoch)
        content = _header(Kind.BEACON, own, self.keyed) + value.to_bytes(4, "big")
        return self._closed(content, whose, "beacons", spoil)

    def _closed(self, content: bytearray, whose: Whose, own_key: str, spoil: Spoil) -> bytes:
        content += spoil.append
        if spoil.key == "open":
            content[FLAGS_AT], content[EPOCH_AT] = 0, 0
        elif spoil.key == "any":
            content[FLAGS_AT], content[EPOCH_AT] = FLAG_KEYED, whose.epoch or 1
        if spoil.content is not None:
            spoil.content(content)
        frame = bytes(content)
        key = self._key(own_key if spoil.key == "own" else spoil.key, whose)
        if key is not None:
            digest = hashlib.blake2s(frame, key=key).digest() if spoil.digest_whole else b""
            made = digest[:TAG_BYTES] or tag(key, frame)
            frame += spoil.tag(made) if spoil.tag else made
        crc = int.from_bytes(checksum(frame), "big") ^ spoil.checksum
        return frame + crc.to_bytes(2, "big")

    def _key(self, name: str, whose: Whose) -> bytes | None:
        if name == "any":
            return bytes(KEY_BYTES)
        keyring = self.keyring
        if keyring is None or name == "open":
            return None
        if name == "beacons":
            return keyring.broadcast_key(whose.epoch)
        identity = whose.identity % U32_MAX + 1 if name == "other pack" else whose.identity
        return keyring.pack_key(identity, whose.epoch, up=name == "up")


def _header(kind: Kind, whose: Whose, keyed: bool) -> bytearray:  # noqa: FBT001 one caller each
    content = bytearray((VERSION, kind, FLAG_KEYED if keyed else 0, whose.epoch))
    for number in (whose.identity, whose.boot, whose.sequence):
        content += number.to_bytes(4, "big")
    return content


# ---------------------------------------------------------------- ways to spoil a frame


def byte_is(at: int, value: int) -> Spoil:
    """One byte of the content has another value."""

    def change(content: bytearray) -> None:
        content[at] = value

    return Spoil(content=change)


def bits_set(at: int, bits: int) -> Spoil:
    """Bits of one byte of the content are set."""

    def change(content: bytearray) -> None:
        content[at] |= bits

    return Spoil(content=change)


def zeros(start: int, stop: int) -> Spoil:
    """A field is 0."""

    def change(content: bytearray) -> None:
        content[start:stop] = bytes(stop - start)

    return Spoil(content=change)


def first_of_base(content: bytearray) -> None:
    """A beacon names the first number of its base's boot."""
    content[SEQUENCE_AT] = (1).to_bytes(4, "big")


def cut(size: int) -> Spoil:
    """The content ends too soon."""

    def change(content: bytearray) -> None:
        del content[size:]

    return Spoil(content=change)


def next_epoch(content: bytearray) -> None:
    """Another epoch is named, the key is the pack's own."""
    content[EPOCH_AT] = content[EPOCH_AT] % EPOCH_MAX + 1


def odd_epoch(content: bytearray) -> None:
    """Epoch 0 in a keyed frame, 1 in an open one."""
    content[EPOCH_AT] = 0 if content[EPOCH_AT] else 1


def tag_byte(at: int) -> Spoil:
    """One byte of the tag is wrong."""
    return Spoil(tag=lambda made: made[:at] + bytes((made[at] ^ 1,)) + made[at + 1 :])
