"""Bodies: from the fields of a frame to a packet and back, kind by kind.

The reading functions take a frame whose length fits its kind, and where its tag or checksum
begins; they answer with the packet or with the reason of the first field out of range. The
writing functions give everything before tag and checksum.
"""

import struct

from protocol import fields as f
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
EXTRA_HEAD_BYTES = 2
"""Type and length of an appended field."""

# Local names and look-up tuples: to build an enum member from a number, or to look into a module
# for a limit, costs time that the hot path does not have.
_unpack_report = _REPORT.unpack_from
_REPORT_BYTES = f.REPORT_BYTES
_KEYED = f.FLAG_KEYED
_PRESSURE_DBAR_MAX = f.PRESSURE_DBAR_MAX
_TEMPERATURE_C_MIN = f.TEMPERATURE_C_MIN
_TEMPERATURE_C_MAX = f.TEMPERATURE_C_MAX
_BATTERY_PERCENT_MAX = f.BATTERY_PERCENT_MAX
_INTERVAL_S_MAX = f.INTERVAL_S_MAX
_U16_UNKNOWN = f.U16_UNKNOWN
_U8_UNKNOWN = f.U8_UNKNOWN
_I8_UNKNOWN = f.I8_UNKNOWN

_KIND_NUMBERS = frozenset(Kind)
KINDS = tuple(Kind(value) if value in _KIND_NUMBERS else None for value in range(256))
"""By the byte on the wire."""
LOCAL_KINDS = (Kind.ENVELOPE, Kind.BEAT)
_MOTIONS = tuple(Motion)
_MOTION_MAX = int(max(Motion))
_APPARATUS = tuple(Apparatus)
_ANSWERS = (None, *ReceiptKind)
_ORDER_KINDS = (None, *OrderKind)
_IS_KEYED = tuple(bool(value & f.FLAG_KEYED) for value in range(256))
_ALERTS = tuple(
    tuple(bool(value & bit) for bit in (f.ALERT_DISTRESS, f.ALERT_LOW_AIR, f.ALERT_COMING_OUT))
    for value in range(256)
)
_TESTS = (
    (f.SELF_TEST_SHIFT, Reject.SELF_TEST),
    (f.AIR_WARNING_TEST_SHIFT, Reject.AIR_WARNING_TEST),
    (f.MOTION_WARNING_TEST_SHIFT, Reject.MOTION_WARNING_TEST),
)


def _checks_reason(value: int) -> Reject | None:
    """Which result in a ``checks`` byte is not known. The two upper bits are not yet used."""
    for shift, reason in _TESTS:
        if value >> shift & 0b11 > max(CheckResult):
            return reason
    return None


_CHECKS = tuple(
    tuple(CheckResult(value >> shift & 0b11) for shift, _ in _TESTS)
    if _checks_reason(value) is None
    else None
    for value in range(256)
)


# ---------------------------------------------------------------- fields to packets


def read_report(frame: bytes, end: int) -> Report | Reject:
    """A sign-on, status, event or sign-off."""
    (
        _, kind, flags, epoch, identity, boot, sequence,
        pressure, temperature, battery, uptime, beacon, received, acknowledged,
        motion, alerts, checks, interval,
    ) = _unpack_report(frame)  # fmt: skip
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
    tests = _CHECKS[checks]
    if tests is None or motion > _MOTION_MAX or not 0 < interval <= _INTERVAL_S_MAX:
        return _report_reason(motion, checks)
    if not (identity and boot and sequence):
        return _counter_reason(identity, boot)
    self_test, air_test, motion_test = tests
    distress, low_air, coming_out = _ALERTS[alerts]
    report = Report(
        KINDS[kind], identity, boot, sequence, epoch, _IS_KEYED[flags],
        pressure, temperature, battery, _MOTIONS[motion], distress, low_air, coming_out,
        self_test, air_test, motion_test, interval, uptime, received, acknowledged, beacon,
    )  # fmt: skip
    return report if end == _REPORT_BYTES else _report_rest(report, frame, end)


def _report_reason(motion: int, checks: int) -> Reject:
    if motion > _MOTION_MAX:
        return Reject.MOTION
    return _checks_reason(checks) or Reject.INTERVAL


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
        if end - start < EXTRA_HEAD_BYTES or end - start - EXTRA_HEAD_BYTES < frame[start + 1]:
            return Reject.EXTRAS
        value_at = start + EXTRA_HEAD_BYTES
        value_end = value_at + frame[start + 1]
        found.append((frame[start], frame[value_at:value_end]))
        start = value_end
    return tuple(found)


def _counter_reason(identity: int, boot: int) -> Reject:
    if not identity:
        return Reject.IDENTITY
    return Reject.SEQUENCE if boot else Reject.BOOT


def read_receipt(frame: bytes, end: int) -> Receipt | Reject:
    """A receipt; only COMING_OUT may go without an order."""
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


def read_beacon(frame: bytes, end: int) -> Beacon | Reject:
    """A base's beacon."""
    _, _, flags, epoch, base, boot, sequence, value = _BEACON.unpack_from(frame)
    if not (base and boot and sequence):
        return _counter_reason(base, boot)
    if not value:
        return Reject.BEACON
    if isinstance(extras := _extras(frame, f.BEACON_BYTES, end), Reject):
        return extras
    return Beacon(base, boot, sequence, epoch, bool(flags & _KEYED), value)


def read_order(frame: bytes, end: int) -> Order | Reject:
    """An order to one pack."""
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


def read_envelope(frame: bytes, end: int) -> Envelope | Reject:
    """A frame as a base radio heard it, undamaged or not. Envelopes do not nest."""
    _, _, _, signal, radio, radio_ms = _LOCAL.unpack_from(frame)
    if not radio:
        return Reject.RADIO
    if signal > f.SIGNAL_DBM_MAX:
        return Reject.SIGNAL
    inner = frame[f.LOCAL_BYTES : end]  # one byte at least: nothing shorter is a frame
    if len(inner) > 1 and inner[1] in LOCAL_KINDS:
        return Reject.NESTED
    return Envelope(radio, None if signal == _I8_UNKNOWN else signal, radio_ms, inner)


def read_beat(frame: bytes, end: int) -> Beat | Reject:
    """A base radio's own sign of life."""
    _, _, _, signal, radio, radio_ms, heard = _BEAT.unpack_from(frame)
    if not radio:
        return Reject.RADIO
    if signal != _I8_UNKNOWN:
        return Reject.SIGNAL
    if isinstance(extras := _extras(frame, f.BEAT_BYTES, end), Reject):
        return extras
    return Beat(radio, radio_ms, heard)


# ---------------------------------------------------------------- packets to fields


def content(packet: Packet) -> bytes:
    """Everything before tag and checksum.

    ``struct.error`` if a field does not fit its place; ranges are not checked here.
    """
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
            local = (f.VERSION, Kind.ENVELOPE, 0, signal, packet.radio, packet.radio_ms)
            return _LOCAL.pack(*local) + packet.frame
        case _:
            local = (f.VERSION, Kind.BEAT, 0, _I8_UNKNOWN, packet.radio, packet.radio_ms)
            return _BEAT.pack(*local, packet.frames_heard)


def _header(
    kind: Kind, packet: Report | Receipt | Beacon | Order, identity: int
) -> tuple[int, int, int, int, int, int, int]:
    flags = _KEYED if packet.keyed else 0
    return f.VERSION, kind, flags, packet.epoch, identity, packet.boot, packet.sequence


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
        report.uptime_ms, report.beacon_heard, report.order_received, report.order_acknowledged,
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
