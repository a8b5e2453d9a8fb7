"""Bytes to packets and back. The bytes are drawn in PACKET-FORMAT.md and listed in ``fields``.

Four ways in, by what the caller knows of a frame:

* ``receive``: at a base, from the air. Length, checksum, version, kind, authentication, ranges.
* ``receive_down``: in a pack, from the air. The same the other way.
* ``decode``: anywhere, without keys: everything but the authentication.
* ``decode_trusted``: from a journal, where a recorder has checked it before.

The first three answer with a packet or a reason and never raise. What is not authentic is not
looked into: ranges come after the tag.
"""

import struct
from binascii import crc_hqx
from collections.abc import Callable
from hmac import compare_digest

from protocol import bodies
from protocol import fields as f
from protocol.integrity import (
    CRC_START,
    START_BYTES,
    TAIL_BYTES,
    Keyring,
    PackKeys,
    checksum,
    tag,
)
from protocol.packets import Beacon, Beat, Envelope, Kind, Motion, Order, Packet, Report
from protocol.rejects import Reject

_TAIL_OPEN = f.CHECKSUM_BYTES
_START = slice(0, START_BYTES)
_CONTENT = slice(0, -TAIL_BYTES)
_TAG = slice(-TAIL_BYTES, -_TAIL_OPEN)

_STATUS_BYTES = f.REPORT_BYTES + TAIL_BYTES
_STATUS, _SIGN_OFF = int(Kind.STATUS), int(Kind.SIGN_OFF)
# Local names: to look into a module for each costs time that the hot path does not have.
_REPORT_BYTES = f.REPORT_BYTES
_KEYED = f.FLAG_KEYED
_AT = {field.name: field.offset for field in f.REPORT}
_MOTION_AT, _ALERTS_AT = _AT["motion"], _AT["alerts"]
_read_report = bodies.read_report

_Build = Callable[[bytes, int], Packet | Reject]
_UP, _DOWN, _LOCAL_WAY = 1, 2, 3
_HOW: dict[Kind, tuple[int, _Build]] = {
    Kind.SIGN_ON: (_UP, bodies.read_report),
    Kind.STATUS: (_UP, bodies.read_report),
    Kind.EVENT: (_UP, bodies.read_report),
    Kind.SIGN_OFF: (_UP, bodies.read_report),
    Kind.RECEIPT: (_UP, bodies.read_receipt),
    Kind.BEACON: (_DOWN, bodies.read_beacon),
    Kind.ORDER: (_DOWN, bodies.read_order),
    Kind.ENVELOPE: (_LOCAL_WAY, bodies.read_envelope),
    Kind.BEAT: (_LOCAL_WAY, bodies.read_beat),
}
_SHAPES: tuple[tuple[int, int, _Build] | None, ...] = tuple(
    None if kind is None else (f.FIXED_BYTES[kind], *_HOW[kind]) for kind in bodies.KINDS
)
"""By the kind's byte: bytes before extras, direction, what builds the packet."""


def _unsound(frame: bytes) -> Reject | None:
    """What needs no knowledge of kinds: length, checksum, version."""
    size = len(frame)
    if size < f.FRAME_BYTES_MIN:
        return Reject.SHORT
    if size > f.FRAME_BYTES_MAX:
        return Reject.LONG
    if crc_hqx(frame, CRC_START):
        return Reject.CHECKSUM
    if frame[0] != f.VERSION:
        return Reject.VERSION
    return None


def _body_end(frame: bytes, fixed: int, way: int) -> int | Reject:
    """Where tag or checksum begin, flags and length having been found to fit."""
    flags = frame[2]
    if flags & f.FLAGS_CRITICAL:
        return Reject.FLAGS
    size = len(frame)
    if way == _LOCAL_WAY:
        if flags & _KEYED:
            return Reject.FLAGS
        end = size - _TAIL_OPEN
    else:
        if size > f.PACK_FRAME_BYTES_MAX:
            return Reject.LONG
        if bool(flags & _KEYED) is not bool(frame[3]):
            return Reject.EPOCH
        end = size - (TAIL_BYTES if flags & _KEYED else _TAIL_OPEN)
    return Reject.LENGTH if end < fixed else end


def receive(frame: bytes, keyring: Keyring | None) -> Packet | Reject:
    """What a base makes of a frame from the air or from a base radio. The hot path.

    ``keyring`` None: an open base, which proves nothing and takes open frames only. Answers with
    a ``Report`` or ``Receipt`` that is genuine as far as keys can tell (it may still be old:
    ``freshness``), an ``Envelope`` or ``Beat`` that is merely undamaged, or a reason.
    """
    if len(frame) == _STATUS_BYTES and keyring is not None and not crc_hqx(frame, CRC_START):
        # Nearly every frame: a plain report of a pack that has been heard before. Written out,
        # since each call would cost a tenth. What does not fit here goes the long way below.
        ready = keyring.ready.get(frame[_START])
        if ready is not None:
            mac = ready.copy()
            mac.update(frame[_CONTENT])
            if compare_digest(mac.digest(), frame[_TAG]):
                return _read_report(frame, _REPORT_BYTES)
    return _receive(frame, keyring)


def _receive(frame: bytes, keyring: Keyring | None) -> Packet | Reject:
    """The same for every frame, with its reason."""
    reason = _unsound(frame)
    if reason is not None:
        return reason
    shape = _SHAPES[frame[1]]
    if shape is None:
        return Reject.KIND
    fixed, way, build = shape
    end = _body_end(frame, fixed, way)
    if isinstance(end, Reject):
        return end
    reason = None
    if way == _UP:
        reason = _up_reason(frame, keyring)
    elif way == _DOWN:
        reason = Reject.DIRECTION
    return build(frame, end) if reason is None else reason


def _up_reason(frame: bytes, keyring: Keyring | None) -> Reject | None:
    if not frame[2] & _KEYED:
        return None if keyring is None else Reject.NOT_KEYED
    if keyring is None:
        return Reject.KEYED_UNREADABLE
    if not keyring.holds(frame[3]):
        return Reject.EPOCH_UNKNOWN
    genuine = keyring.genuine(frame)
    if genuine is None:
        return Reject.BUSY
    return None if genuine else Reject.TAG


def receive_down(frame: bytes, identity: int, keys: PackKeys | None) -> Beacon | Order | Reject:
    """What the pack ``identity`` makes of a frame from the air.

    ``keys`` None: an open pack. An order may still be old: ``freshness.OrderGate``.
    """
    reason = _unsound(frame)
    if reason is not None:
        return reason
    shape = _SHAPES[frame[1]]
    if shape is None:
        return Reject.KIND
    fixed, way, build = shape
    if way != _DOWN:
        return Reject.DIRECTION
    end = _body_end(frame, fixed, way)
    if isinstance(end, Reject):
        return end
    is_order = frame[1] == Kind.ORDER
    if is_order and int.from_bytes(frame[4:8], "big") != identity:
        return Reject.OTHER_PACK
    reason = _down_reason(frame, keys, is_order=is_order)
    if reason is not None:
        return reason
    packet = build(frame, end)
    assert isinstance(packet, Beacon | Order | Reject), "only these travel down"
    return packet


def _down_reason(frame: bytes, keys: PackKeys | None, *, is_order: bool) -> Reject | None:
    if not frame[2] & _KEYED:
        return None if keys is None else Reject.NOT_KEYED
    if keys is None:
        return Reject.KEYED_UNREADABLE
    if frame[3] != keys.epoch:
        return Reject.EPOCH_UNKNOWN
    key = keys.down if is_order else keys.broadcast
    right = tag(key, frame[_CONTENT])
    if not compare_digest(right, frame[_TAG]):
        return Reject.TAG
    return None


def decode(frame: bytes) -> Packet | Reject:
    """Whatever the frame says, or a reason. No key, so it proves nothing of where it is from."""
    reason = _unsound(frame)
    return _build(frame) if reason is None else reason


def decode_trusted(frame: bytes) -> Packet:
    """The packet in a frame that a recorder has checked and kept: no checksum, no tag.

    ValueError if it is no frame at all, which only a damaged journal can bring about.
    """
    packet: Packet | Reject
    if len(frame) < f.FRAME_BYTES_MIN or frame[0] != f.VERSION:
        packet = Reject.VERSION
    elif (
        _STATUS <= frame[1] <= _SIGN_OFF and frame[2] == _KEYED and len(frame) == _STATUS_BYTES
    ):  # nearly every frame
        packet = _read_report(frame, _REPORT_BYTES)
    else:
        packet = _build(frame)
    if isinstance(packet, Reject):
        raise ValueError(f"not a frame of this format: {packet.words}")  # noqa: TRY004 a value is wrong, no type
    return packet


def _build(frame: bytes) -> Packet | Reject:
    shape = _SHAPES[frame[1]]
    if shape is None:
        return Reject.KIND
    fixed, way, build = shape
    end = _body_end(frame, fixed, way)
    return end if isinstance(end, Reject) else build(frame, end)


def unproven_call(frame: bytes) -> Report | None:
    """The report in a frame that no key vouches for, if its wearer calls or lies still, else None.

    A base refuses such frames, but shows these, as unproven: open ones at a keyed base, keyed ones
    at an open base, and those under a key that is not held.
    """
    if len(frame) < _REPORT_BYTES:
        return None
    # Looked at first, since whole floods come this way.
    if not frame[_ALERTS_AT] & f.ALERT_DISTRESS and frame[_MOTION_AT] != Motion.ALARM:
        return None
    packet = decode(frame)
    calls = isinstance(packet, Report) and (packet.distress or packet.motion is Motion.ALARM)
    return packet if calls and isinstance(packet, Report) else None


# ---------------------------------------------------------------- packets to bytes


def encode(packet: Packet, key: bytes | None) -> bytes:
    """The frame for ``packet``; ``key`` is its maker's for its direction, None for an open frame.

    ValueError if a field is out of range or ``packet.keyed`` does not agree with ``key``: what
    this writes, ``decode`` reads. A base radio's packets take no key.
    """
    keyed = not isinstance(packet, Envelope | Beat) and packet.keyed
    if keyed is not (key is not None):
        raise ValueError("packet and key do not agree on whether the frame is keyed")
    try:
        content = bodies.content(packet)
    except struct.error as wrong:
        raise ValueError(f"a field does not fit its place: {wrong}") from None
    if key is not None:
        content += tag(key, content)
    frame = content + checksum(content)
    reason = decode(frame)
    if isinstance(reason, Reject):
        raise ValueError(reason.words)  # noqa: TRY004 a value is wrong, no type
    return frame
