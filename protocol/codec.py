"""Bytes to packets and back. The bytes are drawn in PACKET-FORMAT.md and listed in ``fields``.

Four ways in, by what the caller knows of a frame:

* ``receive``: at a base, from the air. Length, checksum, version, kind, authentication, ranges.
* ``receive_down``: in a pack, from the air. The same the other way.
* ``decode``: anywhere, without keys: everything but the authentication.
* ``decode_trusted``: from a journal, where a recorder has checked it before.

The first three answer with a packet or a reason and never raise. What is not authentic is not
looked into: ranges come after the tag.
"""

import hmac
import struct
from binascii import crc_hqx
from collections.abc import Callable

from protocol import fields as f
from protocol.integrity import CRC_START, Keyring, PackKeys, checksum, tag
from protocol.packets import (
    Apparatus,
    Beacon,
    Beat,
    CheckResult,
    Envelope,
    Equipment,
    Kind,
    Motion,
    Order,
    OrderKind,
    Packet,
    Receipt,
    ReceiptKind,
    Report,
)
from protocol.rejects import Reject

_REPORT = f.layout(f.HEADER + f.REPORT)
_EQUIPMENT = f.layout(f.EQUIPMENT)
_RECEIPT = f.layout(f.HEADER + f.RECEIPT)
_BEACON = f.layout(f.HEADER + f.BEACON)
_ORDER = f.layout(f.HEADER + f.ORDER)
_LOCAL = f.layout(f.LOCAL)
_BEAT = f.layout(f.LOCAL + f.BEAT)

_TAIL_KEYED = f.TAG_BYTES + f.CHECKSUM_BYTES
_TAIL_OPEN = f.CHECKSUM_BYTES

# Local names and look-up tuples: building an enum member from a number costs a tenth of the whole.
_FRAME_BYTES_MIN = f.FRAME_BYTES_MIN
_FRAME_BYTES_MAX = f.FRAME_BYTES_MAX
_PACK_FRAME_BYTES_MAX = f.PACK_FRAME_BYTES_MAX
_VERSION = f.VERSION
_KEYED = f.FLAG_KEYED
_FLAGS_CRITICAL = f.FLAGS_CRITICAL
_PRESSURE_DBAR_MAX = f.PRESSURE_DBAR_MAX
_TEMPERATURE_C_MIN = f.TEMPERATURE_C_MIN
_TEMPERATURE_C_MAX = f.TEMPERATURE_C_MAX
_BATTERY_PERCENT_MAX = f.BATTERY_PERCENT_MAX
_INTERVAL_S_MAX = f.INTERVAL_S_MAX
_U16_UNKNOWN = f.U16_UNKNOWN
_U8_UNKNOWN = f.U8_UNKNOWN
_I8_UNKNOWN = f.I8_UNKNOWN

_MOTIONS = tuple(Motion)
_MOTION_MAX = max(Motion)
_APPARATUS = tuple(Apparatus)
_ANSWERS = (None, *ReceiptKind)
_ORDER_KINDS = (None, *OrderKind)
_KINDS = tuple(Kind(value) if value in Kind.__members__.values() else None for value in range(256))

_ALERTS = tuple(
    (
        bool(value & f.ALERT_DISTRESS),
        bool(value & f.ALERT_LOW_AIR),
        bool(value & f.ALERT_COMING_OUT),
    )
    for value in range(256)
)


def _check_results(value: int) -> tuple[CheckResult, CheckResult, CheckResult] | Reject:
    """The three results in a ``checks`` byte. The two upper bits are not yet used."""
    results = []
    for shift, reason in (
        (f.SELF_TEST_SHIFT, Reject.SELF_TEST),
        (f.AIR_WARNING_TEST_SHIFT, Reject.AIR_WARNING_TEST),
        (f.MOTION_WARNING_TEST_SHIFT, Reject.MOTION_WARNING_TEST),
    ):
        result = value >> shift & 0b11
        if result > max(CheckResult):
            return reason
        results.append(CheckResult(result))
    return results[0], results[1], results[2]


_CHECKS = tuple(_check_results(value) for value in range(256))


# ---------------------------------------------------------------- bodies to packets
# Each takes a frame whose length fits its kind, and where tag or checksum begin.


def _report(frame: bytes, end: int) -> Report | Reject:
    (
        _, kind, flags, epoch, identity, boot, sequence,
        pressure, temperature, battery, uptime, received, acknowledged, beacon,
        motion, alerts, checks, interval,
    ) = _REPORT.unpack_from(frame)  # fmt: skip
    if not (identity and boot and sequence):
        return _counter_reason(identity, boot)
    if pressure > _PRESSURE_DBAR_MAX:
        if pressure != _U16_UNKNOWN:
            return Reject.PRESSURE
        pressure = None
    if not _TEMPERATURE_C_MIN <= temperature <= _TEMPERATURE_C_MAX:
        if temperature != _I8_UNKNOWN:
            return Reject.TEMPERATURE
        temperature = None
    if battery > _BATTERY_PERCENT_MAX:
        if battery != _U8_UNKNOWN:
            return Reject.BATTERY
        battery = None
    if motion > _MOTION_MAX:
        return Reject.MOTION
    tests = _CHECKS[checks]
    if tests.__class__ is Reject:
        return tests
    if not 0 < interval <= _INTERVAL_S_MAX:
        return Reject.INTERVAL
    self_test, air_test, motion_test = tests
    distress, low_air, coming_out = _ALERTS[alerts]
    report = Report(
        _KINDS[kind], identity, boot, sequence, epoch, flags & _KEYED == _KEYED,
        pressure, temperature, battery, _MOTIONS[motion], distress, low_air, coming_out,
        self_test, air_test, motion_test, interval, uptime, received, acknowledged, beacon,
    )  # fmt: skip
    if end == f.REPORT_BYTES:
        return report
    return _report_rest(report, frame, end)


def _report_rest(report: Report, frame: bytes, end: int) -> Report | Reject:
    """What only a few reports have: a sign-on's equipment, appended fields."""
    start = f.REPORT_BYTES
    if report.kind is Kind.SIGN_ON:
        equipment = _equipment(frame)
        if isinstance(equipment, Reject):
            return equipment
        report.equipment = equipment
        start = f.SIGN_ON_BYTES
    extras = _extras(frame, start, end)
    if isinstance(extras, Reject):
        return extras
    report.extras = extras
    return report


def _equipment(frame: bytes) -> Equipment | Reject:
    apparatus, rated, volume, low_air = _EQUIPMENT.unpack_from(frame, f.REPORT_BYTES)
    if apparatus >= len(_APPARATUS):
        return Reject.APPARATUS
    for value, high, reason in (
        (rated, f.PRESSURE_DBAR_MAX, Reject.RATED_PRESSURE),
        (volume, f.WATER_VOLUME_CL_MAX, Reject.WATER_VOLUME),
        (low_air, f.PRESSURE_DBAR_MAX, Reject.LOW_AIR),
    ):
        if not 0 < value <= high and value != _U16_UNKNOWN:
            return reason
    return Equipment(_APPARATUS[apparatus], _known(rated), _known(volume), _known(low_air))


def _known(value: int) -> int | None:
    return None if value == _U16_UNKNOWN else value


def _extras(frame: bytes, start: int, end: int) -> tuple[tuple[int, bytes], ...] | Reject:
    found = []
    while start < end:
        if end - start < 2 or start + 2 + frame[start + 1] > end:
            return Reject.EXTRAS
        value_at = start + 2
        start = value_at + frame[start + 1]
        found.append((frame[value_at - 2], frame[value_at:start]))
    return tuple(found)


def _counter_reason(identity: int, boot: int) -> Reject:
    if not identity:
        return Reject.IDENTITY
    return Reject.SEQUENCE if boot else Reject.BOOT


def _receipt(frame: bytes, end: int) -> Receipt | Reject:
    _, _, flags, epoch, identity, boot, sequence, uptime, beacon, order, answer = (
        _RECEIPT.unpack_from(frame)
    )
    if not (identity and boot and sequence):
        return _counter_reason(identity, boot)
    if not 0 < answer < len(_ANSWERS):
        return Reject.ANSWER
    meant = _ANSWERS[answer]
    if not order and meant is not ReceiptKind.COMING_OUT:
        return Reject.ORDER
    if isinstance(extras := _extras(frame, f.RECEIPT_BYTES, end), Reject):
        return extras
    keyed = bool(flags & _KEYED)
    return Receipt(identity, boot, sequence, epoch, keyed, meant, order, uptime, beacon)


def _beacon(frame: bytes, end: int) -> Beacon | Reject:
    _, _, flags, epoch, base, boot, sequence, value = _BEACON.unpack_from(frame)
    if not (base and boot and sequence):
        return _counter_reason(base, boot)
    if not value:
        return Reject.BEACON
    if isinstance(extras := _extras(frame, f.BEACON_BYTES, end), Reject):
        return extras
    return Beacon(base, boot, sequence, epoch, bool(flags & _KEYED), value)


def _order(frame: bytes, end: int) -> Order | Reject:
    _, _, flags, epoch, identity, boot, sequence, base, order, what = _ORDER.unpack_from(frame)
    if not (identity and boot and sequence):
        return _counter_reason(identity, boot)
    if not base:
        return Reject.BASE
    if not order:
        return Reject.ORDER
    if not 0 < what < len(_ORDER_KINDS):
        return Reject.ORDER_KIND
    if isinstance(extras := _extras(frame, f.ORDER_BYTES, end), Reject):
        return extras
    keyed = bool(flags & _KEYED)
    return Order(identity, boot, sequence, epoch, keyed, base, order, _ORDER_KINDS[what])


def _envelope(frame: bytes, end: int) -> Envelope | Reject:
    _, _, _, signal, radio, radio_ms = _LOCAL.unpack_from(frame)
    if not radio:
        return Reject.RADIO
    if signal > f.SIGNAL_DBM_MAX:
        return Reject.SIGNAL
    inner = frame[f.LOCAL_BYTES : end]
    if not inner:
        return Reject.LENGTH
    if len(inner) > 1 and inner[1] in _LOCAL_KINDS:
        return Reject.NESTED
    return Envelope(radio, None if signal == _I8_UNKNOWN else signal, radio_ms, inner)


def _beat(frame: bytes, end: int) -> Beat | Reject:
    _, _, _, signal, radio, radio_ms, heard = _BEAT.unpack_from(frame)
    if not radio:
        return Reject.RADIO
    if signal != _I8_UNKNOWN:
        return Reject.SIGNAL
    if isinstance(extras := _extras(frame, f.BEAT_BYTES, end), Reject):
        return extras
    return Beat(radio, radio_ms, heard)


# ---------------------------------------------------------------- which kind is read how

_Build = Callable[[bytes, int], Packet | Reject]
_UP, _DOWN, _LOCAL_WAY = 1, 2, 3
_LOCAL_KINDS = (Kind.ENVELOPE, Kind.BEAT)
_HOW: dict[Kind, tuple[int, _Build]] = {
    Kind.SIGN_ON: (_UP, _report),
    Kind.STATUS: (_UP, _report),
    Kind.EVENT: (_UP, _report),
    Kind.SIGN_OFF: (_UP, _report),
    Kind.RECEIPT: (_UP, _receipt),
    Kind.BEACON: (_DOWN, _beacon),
    Kind.ORDER: (_DOWN, _order),
    Kind.ENVELOPE: (_LOCAL_WAY, _envelope),
    Kind.BEAT: (_LOCAL_WAY, _beat),
}
_SHAPES: tuple[tuple[int, int, _Build] | None, ...] = tuple(
    None if kind is None else (f.FIXED_BYTES[kind], *_HOW[kind]) for kind in _KINDS
)
"""By the kind's byte: bytes before extras, direction, what builds the packet."""


def _unsound(frame: bytes) -> Reject | None:
    """What needs no knowledge of kinds: length, checksum, version."""
    size = len(frame)
    if size < _FRAME_BYTES_MIN:
        return Reject.SHORT
    if size > _FRAME_BYTES_MAX:
        return Reject.LONG
    if crc_hqx(frame, CRC_START):
        return Reject.CHECKSUM
    if frame[0] != _VERSION:
        return Reject.VERSION
    return None


def _body_end(frame: bytes, fixed: int, way: int) -> int | Reject:
    """Where tag or checksum begin, flags and length having been found to fit."""
    flags = frame[2]
    if flags & _FLAGS_CRITICAL:
        return Reject.FLAGS
    size = len(frame)
    if way == _LOCAL_WAY:
        if flags & _KEYED:
            return Reject.FLAGS
        end = size - _TAIL_OPEN
    else:
        if size > _PACK_FRAME_BYTES_MAX:
            return Reject.LONG
        if bool(flags & _KEYED) is not bool(frame[3]):
            return Reject.EPOCH
        end = size - (_TAIL_KEYED if flags & _KEYED else _TAIL_OPEN)
    return Reject.LENGTH if end < fixed else end


def receive(frame: bytes, keyring: Keyring | None) -> Packet | Reject:
    """What a base makes of a frame from the air or from a base radio. The hot path.

    ``keyring`` None: an open base, which proves nothing and takes open frames only. Answers with
    a ``Report`` or ``Receipt`` that is genuine as far as keys can tell (it may still be old:
    ``freshness``), an ``Envelope`` or ``Beat`` that is merely undamaged, or a reason.
    """
    # The first lines are _unsound written out: a call for each frame would cost a tenth.
    size = len(frame)
    if not _FRAME_BYTES_MIN <= size <= _FRAME_BYTES_MAX:
        return Reject.SHORT if size < _FRAME_BYTES_MIN else Reject.LONG
    if crc_hqx(frame, CRC_START):
        return Reject.CHECKSUM
    if frame[0] != _VERSION:
        return Reject.VERSION
    shape = _SHAPES[frame[1]]
    if shape is None:
        return Reject.KIND
    fixed, way, build = shape
    end = _body_end(frame, fixed, way)
    if end.__class__ is Reject:
        return end
    if way == _UP:
        if frame[2] & _KEYED:
            if keyring is None:
                return Reject.KEYED_UNREADABLE
            if not keyring.holds(frame[3]):
                return Reject.EPOCH_UNKNOWN
            if not keyring.genuine(frame):
                return Reject.TAG
        elif keyring is not None:
            return Reject.NOT_KEYED
    elif way == _DOWN:
        return Reject.DIRECTION
    return build(frame, end)


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
    right = tag(key, frame[:-_TAIL_KEYED])
    if not hmac.compare_digest(right, frame[-_TAIL_KEYED:-_TAIL_OPEN]):
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
    if len(frame) < _FRAME_BYTES_MIN or frame[0] != _VERSION:
        raise ValueError("not a frame of this format")
    packet = _build(frame)
    if packet.__class__ is Reject:
        raise ValueError(f"not a frame of this format: {packet.words}")
    return packet  # type: ignore[return-value]  # the line above has told a Reject apart


def _build(frame: bytes) -> Packet | Reject:
    shape = _SHAPES[frame[1]]
    if shape is None:
        return Reject.KIND
    fixed, way, build = shape
    end = _body_end(frame, fixed, way)
    return end if isinstance(end, Reject) else build(frame, end)


def open_distress(frame: bytes) -> Report | None:
    """The report in an open frame with the wearer's distress set, else None.

    A keyed base refuses open frames, but shows this one, as unproven.
    """
    packet = decode(frame)
    if isinstance(packet, Report) and packet.distress and not packet.keyed:
        return packet
    return None


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
        content = _content(packet)
    except struct.error as wrong:
        raise ValueError(f"a field does not fit its place: {wrong}") from None
    if key is not None:
        content += tag(key, content)
    frame = content + checksum(content)
    reason = decode(frame)
    if isinstance(reason, Reject):
        raise ValueError(reason.words)
    return frame


def _content(packet: Packet) -> bytes:
    match packet:
        case Report():
            return _report_content(packet)
        case Receipt():
            return _RECEIPT.pack(
                *_header(Kind.RECEIPT, packet, packet.identity),
                packet.uptime_ms, packet.beacon_heard, packet.order, packet.answer,
            )  # fmt: skip
        case Beacon():
            return _BEACON.pack(*_header(Kind.BEACON, packet, packet.base), packet.value)
        case Order():
            return _ORDER.pack(
                *_header(Kind.ORDER, packet, packet.identity),
                packet.base, packet.order, packet.what,
            )  # fmt: skip
        case Envelope():
            signal = _I8_UNKNOWN if packet.signal_dbm is None else packet.signal_dbm
            local = (_VERSION, Kind.ENVELOPE, 0, signal, packet.radio, packet.radio_ms)
            return _LOCAL.pack(*local) + packet.frame
        case Beat():
            local = (_VERSION, Kind.BEAT, 0, _I8_UNKNOWN, packet.radio, packet.radio_ms)
            return _BEAT.pack(*local, packet.frames_heard)


def _header(
    kind: Kind, packet: Report | Receipt | Beacon | Order, identity: int
) -> tuple[int, int, int, int, int, int, int]:
    flags = _KEYED if packet.keyed else 0
    return _VERSION, kind, flags, packet.epoch, identity, packet.boot, packet.sequence


def _report_content(report: Report) -> bytes:
    alerts = (
        f.ALERT_DISTRESS * report.distress
        | f.ALERT_LOW_AIR * report.low_air
        | f.ALERT_COMING_OUT * report.coming_out
    )
    checks = (
        report.self_test << f.SELF_TEST_SHIFT
        | report.air_warning_test << f.AIR_WARNING_TEST_SHIFT
        | report.motion_warning_test << f.MOTION_WARNING_TEST_SHIFT
    )
    content = _REPORT.pack(
        *_header(report.kind, report, report.identity),
        _U16_UNKNOWN if report.pressure_dbar is None else report.pressure_dbar,
        _I8_UNKNOWN if report.gas_temperature_c is None else report.gas_temperature_c,
        _U8_UNKNOWN if report.battery_percent is None else report.battery_percent,
        report.uptime_ms, report.order_received, report.order_acknowledged, report.beacon_heard,
        report.motion, alerts, checks, report.interval_s,
    )  # fmt: skip
    if (report.equipment is None) is (report.kind is Kind.SIGN_ON):
        raise ValueError("equipment belongs in a sign-on and nowhere else")
    if report.equipment is not None:
        content += _equipment_content(report.equipment)
    for number, value in report.extras:
        content += struct.pack(">BB", number, len(value)) + value
    return content


def _equipment_content(equipment: Equipment) -> bytes:
    values = (equipment.rated_pressure_dbar, equipment.water_volume_cl, equipment.low_air_dbar)
    places = (_U16_UNKNOWN if value is None else value for value in values)
    return _EQUIPMENT.pack(equipment.apparatus, *places)
