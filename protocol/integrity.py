"""Checksum and authentication: CRC-16, keyed BLAKE2s and the keys of a fleet.

Line noise is told from forgery: the checksum needs no key and fails on noise, the tag fails on a
frame whose maker does not hold the pack's key. One fleet key makes every pack's keys, so a base
stores one secret and a pack holds only its own.
"""

import hashlib
import hmac
from binascii import crc_hqx
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from typing import Literal

from protocol.fields import CHECKSUM_BYTES, PLAIN_REPORTS, TAG_BYTES, VERSION

KEY_BYTES = 32
"""Fleet keys and pack keys alike: the longest key BLAKE2s takes."""
CRC_START = 0xFFFF
EPOCH_MAX = 255
READY_MAX = 32_768
"""MAC states kept ready in either store, 0.25 kB each: two kinds of frame of the largest fleet."""

DIRECTION_UP = 1
DIRECTION_DOWN = 2
BROADCAST = 0
"""Stands for the identity in the key that all packs share to check beacons."""

Use = Literal["exercise", "real"]
USE_NUMBERS: dict[Use, int] = {"exercise": 1, "real": 2}

TAIL_BYTES = TAG_BYTES + CHECKSUM_BYTES
"""What ends a keyed frame."""
START_BYTES = 8
"""Version, kind, flags, epoch, identity: what says whose key and which kind a frame is."""
_START = slice(0, START_BYTES)
_WHOSE = slice(3, START_BYTES)
"""Of such a start: epoch and identity."""
STRANGERS_UNLIMITED = 1 << 62
_HASH_BYTES = 32


def checksum(data: bytes) -> bytes:
    """CRC-16/IBM-3740 of ``data`` in network byte order.

    Polynomial 0x1021, start 0xFFFF, no reflection, no final exclusive-or.
    """
    return crc_hqx(data, CRC_START).to_bytes(CHECKSUM_BYTES, "big")


def checksum_holds(frame: bytes) -> bool:
    """Whether ``frame`` ends in its own checksum.

    A CRC carried on over itself comes to 0, so nothing has to be cut off first.
    """
    return crc_hqx(frame, CRC_START) == 0


def tag(key: bytes, data: bytes) -> bytes:
    """Keyed BLAKE2s (RFC 7693) of ``data`` with a digest of 8 bytes.

    The length is a parameter of the hash, so this is not the beginning of a longer digest.
    """
    return hashlib.blake2s(data, key=key, digest_size=TAG_BYTES).digest()


def hkdf(secret: bytes, info: bytes, length: int, salt: bytes = b"") -> bytes:
    """HKDF (RFC 5869) with SHA-256; ``length`` at most 255 * 32 bytes."""
    return _expand(_extract(secret, salt), info, length)


def _extract(secret: bytes, salt: bytes = b"") -> bytes:
    """The first half of HKDF, which is the same for all keys made of one secret."""
    return hmac.digest(salt or bytes(_HASH_BYTES), secret, "sha256")


def _expand(extracted: bytes, info: bytes, length: int) -> bytes:
    assert 0 < length <= 255 * _HASH_BYTES, "HKDF gives 1 to 8160 bytes"
    block, out, count = b"", b"", 1
    while len(out) < length:
        block = hmac.digest(extracted, block + info + bytes((count,)), "sha256")
        out += block
        count += 1
    return out[:length]


def key_info(use: Use, direction: int, identity: int) -> bytes:
    """What a key is for, as HKDF's ``info``: 12 bytes.

    ASCII "outby", then version, use (1 exercise, 2 real) and direction (1 up, 2 down), a byte
    each, then the identity in four. An exercise key can therefore never make a real frame.
    """
    return b"outby" + bytes((VERSION, USE_NUMBERS[use], direction)) + identity.to_bytes(4, "big")


@dataclass(frozen=True, slots=True)
class PackKeys:
    """What is written into one pack: nothing in it helps to pose as another pack."""

    epoch: int
    up: bytes = field(repr=False)
    """Pack to base."""
    down: bytes = field(repr=False)
    """Base to this pack."""
    broadcast: bytes = field(repr=False)
    """Base to all packs; the same in each of them."""


class Keyring:
    """The fleet keys a base holds, by epoch, for one use.

    Two epochs are held while packs change over from one to the other. MAC states of packs are
    kept ready once a frame has proven genuine, so made-up identities cannot fill the store. To make
    a key takes ten times as long as to use one, so keys of identities that are neither expected nor
    proven are made no more often than ``strangers_left`` says.
    """

    __slots__ = (
        "_extracted", "_pack_keys", "_ready_others", "current_epoch", "expected", "ready",
        "strangers_left", "use",
    )  # fmt: skip

    def __init__(self, keys_by_epoch: Mapping[int, bytes], use: Use, current_epoch: int) -> None:
        """Raise ValueError for a key, epoch or use that cannot be."""
        if use not in USE_NUMBERS:
            raise ValueError(f"use is exercise or real, not {use!r}")
        for epoch, key in keys_by_epoch.items():
            if not 1 <= epoch <= EPOCH_MAX:
                raise ValueError(f"epoch {epoch} is not within 1 to {EPOCH_MAX}")
            if len(key) != KEY_BYTES:
                raise ValueError(f"the key of epoch {epoch} has {len(key)} bytes, not {KEY_BYTES}")
        if current_epoch not in keys_by_epoch:
            raise ValueError(f"there is no key for the current epoch {current_epoch}")
        self.use: Use = use
        self.current_epoch = current_epoch
        self._extracted = {epoch: _extract(key) for epoch, key in keys_by_epoch.items()}
        self._pack_keys: dict[bytes, bytes] = {}
        """By epoch and identity as in a frame: keys of packs that are expected or proven."""
        self.expected: Collection[int] = frozenset()
        """Packs whose keys are made whatever else comes."""
        self.strangers_left = STRANGERS_UNLIMITED
        """For so many frames of others a key is still made; whoever counts frames sets it."""
        self.ready: dict[bytes, hashlib.blake2s] = {}
        """By the first 8 bytes of a plain report, kind to identity: MAC state to copy and feed."""
        self._ready_others: dict[bytes, hashlib.blake2s] = {}

    @property
    def epochs(self) -> tuple[int, ...]:
        """Epochs held, lowest first. A base sends its beacon once in each of them."""
        return tuple(sorted(self._extracted))

    def pack_key(self, identity: int, epoch: int, *, up: bool) -> bytes:
        """The key of one pack for one direction. KeyError if the epoch is not held."""
        direction = DIRECTION_UP if up else DIRECTION_DOWN
        info = key_info(self.use, direction, identity)
        return _expand(self._extracted[epoch], info, KEY_BYTES)

    def broadcast_key(self, epoch: int) -> bytes:
        """The key of beacons. KeyError if the epoch is not held."""
        return self.pack_key(BROADCAST, epoch, up=False)

    def pack_keys(self, identity: int, epoch: int) -> PackKeys:
        """All keys that one pack is given. KeyError if the epoch is not held."""
        return PackKeys(
            epoch=epoch,
            up=self.pack_key(identity, epoch, up=True),
            down=self.pack_key(identity, epoch, up=False),
            broadcast=self.broadcast_key(epoch),
        )

    def holds(self, epoch: int) -> bool:
        """Whether there is a fleet key for ``epoch``."""
        return epoch in self._extracted

    def genuine(self, frame: bytes) -> bool | None:
        """Whether the tag of an upward keyed frame is right; None: not looked at.

        The frame must be long enough for header and tail, and its epoch must be held.
        """
        start = frame[_START]
        store = self.ready if start[1] in PLAIN_REPORTS else self._ready_others
        ready = store.get(start)
        known = ready is not None
        key = b""
        if ready is None:
            made = self._key_of(start[_WHOSE])
            if made is None:
                return None
            key = made
            ready = hashlib.blake2s(key=key, digest_size=TAG_BYTES)
        mac = ready.copy()
        mac.update(frame[:-TAIL_BYTES])
        if not hmac.compare_digest(mac.digest(), frame[-TAIL_BYTES:-CHECKSUM_BYTES]):
            return False
        if not known:
            if len(store) >= READY_MAX:
                del store[next(iter(store))]
            store[start] = ready
            self._keep(start[_WHOSE], key)
        return True

    def forged(self, frame: bytes) -> bool:
        """Whether a frame in the name of a pack that has been heard cannot be genuine.

        Of others False: nobody knows. It changes nothing, so any thread may ask.
        """
        start = frame[_START]
        if len(frame) < START_BYTES + TAIL_BYTES or start[3] not in self._extracted:
            return True
        store = self.ready if start[1] in PLAIN_REPORTS else self._ready_others
        ready = store.get(start)
        if ready is None:
            key = self._pack_keys.get(start[_WHOSE])
            if key is None:
                return False
            ready = hashlib.blake2s(key=key, digest_size=TAG_BYTES)
        mac = ready.copy()
        mac.update(frame[:-TAIL_BYTES])
        return not hmac.compare_digest(mac.digest(), frame[-TAIL_BYTES:-CHECKSUM_BYTES])

    def _key_of(self, whose: bytes) -> bytes | None:
        """The upward key of a pack; None if it is a stranger's and enough of those were made."""
        key = self._pack_keys.get(whose)
        if key is not None:
            return key
        identity = int.from_bytes(whose[1:], "big")
        expected = identity in self.expected
        if not expected:
            if self.strangers_left <= 0:
                return None
            self.strangers_left -= 1
        key = self.pack_key(identity, whose[0], up=True)
        if expected:
            self._keep(whose, key)
        return key

    def _keep(self, whose: bytes, key: bytes) -> None:
        if len(self._pack_keys) >= READY_MAX and whose not in self._pack_keys:
            del self._pack_keys[next(iter(self._pack_keys))]
        self._pack_keys[whose] = key
