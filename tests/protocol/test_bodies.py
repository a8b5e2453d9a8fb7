"""Every field at both ends of its range and just beyond, walked from the table of fields."""

from typing import Any

import pytest

from protocol import codec
from protocol.fields import FIELDS_BY_KIND, Field
from protocol.integrity import checksum
from protocol.packets import Kind, Report
from protocol.rejects import Reject

NAMES = {
    Kind.SIGN_ON: "sign-on, keyed",
    Kind.STATUS: "status, open",
    Kind.EVENT: "event, open distress",
    Kind.SIGN_OFF: "sign-off, keyed",
    Kind.RECEIPT: "receipt, coming out unasked",
    Kind.BEACON: "beacon, open",
    Kind.ORDER: "order, open, test",
    Kind.ENVELOPE: "envelope around a status",
    Kind.BEAT: "beat of a base radio",
}
SPECIAL = {"version", "kind", "flags", "epoch", "checks", "alerts"}
"""Not a plain range: each has a test of its own here or among the vectors."""
SPANS = {"B": (0, 255), "H": (0, 65535), "I": (0, 4294967295), "b": (-128, 127)}
CASES = [
    pytest.param(kind, field, id=f"{kind.name} {field.name}")
    for kind in Kind
    for field in FIELDS_BY_KIND[kind]
    if field.name not in SPECIAL and (kind, field.name) != (Kind.BEAT, "signal")
]


def with_value(frame: bytes, field: Field, value: int) -> bytes:
    """The frame with one field changed and its checksum put right; ``decode`` asks no tag."""
    put = value.to_bytes(field.size, "big", signed=field.code == "b")
    changed = frame[: field.offset] + put + frame[field.offset + field.size : -2]
    return changed + checksum(changed)


@pytest.mark.parametrize(("kind", "field"), CASES)
def test_both_ends_of_a_range_and_just_beyond(
    good: dict[str, bytes], kind: Kind, field: Field
) -> None:
    frame = good["receipt, acknowledged" if field.name == "answer" else NAMES[kind]]
    low, high = SPANS[field.code]
    inside = {field.low, field.high}
    if field.unknown is not None:
        inside.add(field.unknown)
    for value in inside:
        assert not isinstance(codec.decode(with_value(frame, field, value)), Reject), value
    for value in {field.low - 1, field.high + 1, low, high} - {field.low, field.high}:
        if low <= value <= high and value != field.unknown and not field.low < value < field.high:
            assert codec.decode(with_value(frame, field, value)) is field.reject, value


@pytest.mark.parametrize(
    ("name", "attribute"),
    [
        ("pressure", "pressure_dbar"),
        ("gas temperature", "gas_temperature_c"),
        ("battery", "battery_percent"),
    ],
)
def test_unknown_becomes_none(good: dict[str, bytes], name: str, attribute: str) -> None:
    field = next(field for field in FIELDS_BY_KIND[Kind.STATUS] if field.name == name)
    assert field.unknown is not None
    frame = with_value(good["status, open"], field, field.unknown)
    assert getattr(codec.decode(frame), attribute) is None


@pytest.mark.parametrize("alerts", range(256))
def test_alert_bits_and_the_bits_not_looked_at(good: dict[str, bytes], alerts: int) -> None:
    field = next(field for field in FIELDS_BY_KIND[Kind.STATUS] if field.name == "alerts")
    report = codec.decode(with_value(good["status, open"], field, alerts))
    assert isinstance(report, Report)
    assert report.distress == bool(alerts & 1)
    assert report.low_air == bool(alerts & 2)
    assert report.coming_out == bool(alerts & 4)


@pytest.mark.parametrize("checks", range(256))
def test_check_results(good: dict[str, bytes], checks: int) -> None:
    field = next(field for field in FIELDS_BY_KIND[Kind.STATUS] if field.name == "checks")
    got = codec.decode(with_value(good["status, open"], field, checks))
    results = [checks & 3, checks >> 2 & 3, checks >> 4 & 3]
    reasons = [Reject.SELF_TEST, Reject.AIR_WARNING_TEST, Reject.MOTION_WARNING_TEST]
    if 3 in results:
        assert got is reasons[results.index(3)]
    else:
        assert isinstance(got, Report)
        assert [got.self_test, got.air_warning_test, got.motion_warning_test] == results


@pytest.mark.parametrize("kind", [k for k in Kind if k not in {Kind.ENVELOPE, Kind.BEAT}])
def test_flag_bits_one_to_three_are_not_looked_at(good: dict[str, bytes], kind: Kind) -> None:
    field = next(field for field in FIELDS_BY_KIND[kind] if field.name == "flags")
    frame = good[NAMES[kind]]
    assert codec.decode(with_value(frame, field, frame[2] | 0x0E)) == codec.decode(frame)


@pytest.mark.parametrize("bit", [4, 5, 6, 7])
@pytest.mark.parametrize("kind", Kind)
def test_each_flag_that_must_be_understood(good: dict[str, bytes], kind: Kind, bit: int) -> None:
    field = next(field for field in FIELDS_BY_KIND[kind] if field.name == "flags")
    frame = good[NAMES[kind]]
    assert codec.decode(with_value(frame, field, frame[2] | 1 << bit)) is Reject.FLAGS


EXTRAS = [
    ("", ()),
    ("0100", ((1, b""),)),
    ("01022a2b", ((1, b"*+"),)),
    ("0101000000", ((1, b"\0"), (0, b""))),
    ("01", None),
    ("0101", None),
    ("010100ff", None),
    ("01ff00", None),
]


@pytest.mark.parametrize(("appended", "want"), EXTRAS)
@pytest.mark.parametrize("name", [NAMES[k] for k in Kind if k is not Kind.ENVELOPE])
def test_appended_fields_are_skipped_or_found_to_be_broken(
    good: dict[str, bytes], name: str, appended: str, want: Any
) -> None:
    frame = good[name]
    tail = 10 if frame[2] & 1 else 2
    content = frame[:-tail] + bytes.fromhex(appended) + frame[-tail:-2]
    got = codec.decode(content + checksum(content))
    if want is None:
        assert got is Reject.EXTRAS
    elif isinstance(got, Report):
        assert got.extras == want
    else:
        assert got == codec.decode(frame)


def test_a_beat_has_no_signal_level(good: dict[str, bytes]) -> None:
    field = next(field for field in FIELDS_BY_KIND[Kind.BEAT] if field.name == "signal")
    assert codec.decode(with_value(good[NAMES[Kind.BEAT]], field, -50)) is Reject.SIGNAL


def test_an_empty_envelope(good: dict[str, bytes]) -> None:
    local = good[NAMES[Kind.ENVELOPE]][:12] + b"\x01"
    assert not isinstance(codec.decode(local + checksum(local)), Reject)
    assert codec.decode(local[:-1] + checksum(local[:-1])) is Reject.SHORT
