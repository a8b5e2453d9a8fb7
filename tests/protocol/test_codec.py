from dataclasses import replace
from typing import Any

import pytest

from protocol import codec
from protocol.integrity import Keyring, PackKeys, checksum, tag
from protocol.packets import (
    Beacon,
    Beat,
    Envelope,
    Kind,
    Motion,
    Order,
    Packet,
    Receipt,
    Report,
)
from protocol.rejects import Reject

PACK = 0x01020304
UPWARD = (Report, Receipt)
DOWNWARD = (Beacon, Order)


def rings(keyring: Keyring, frame: bytes) -> Keyring | None:
    """The base that a good frame is meant for."""
    return keyring if frame[2] & 1 else None


def test_every_good_vector_both_ways(
    vectors: dict[str, Any], packets: dict[str, Packet], good: dict[str, bytes]
) -> None:
    for vector in vectors["good"]:
        name = vector["name"]
        key = bytes.fromhex(vector["key"]) if vector["key"] else None
        assert codec.decode(good[name]) == packets[name], name
        assert codec.decode_trusted(good[name]) == packets[name], name
        assert codec.encode(packets[name], key) == good[name], name


def test_good_vectors_are_received_where_they_are_meant_to_be(
    packets: dict[str, Packet], good: dict[str, bytes], keyring: Keyring
) -> None:
    for name, frame in good.items():
        packet = packets[name]
        ring = rings(keyring, frame)
        keys = ring.pack_keys(PACK, 1) if ring else None
        if isinstance(packet, DOWNWARD):
            assert codec.receive_down(frame, PACK, keys) == packet, name
            assert codec.receive(frame, ring) is Reject.DIRECTION, name
        else:
            for _ in "first", "again":
                assert codec.receive(frame, ring) == packet, name
            assert codec.receive_down(frame, PACK, keys) is Reject.DIRECTION, name


def test_every_bad_vector_has_its_reason(
    vectors: dict[str, Any], keyring: Keyring, pack_keys: PackKeys
) -> None:
    for vector in vectors["bad"]:
        frame = bytes.fromhex(vector["frame"])
        side, place = vector["receiver"].split()
        got: Packet | Reject
        if place == "base":
            got = codec.receive(frame, keyring if side == "keyed" else None)
        else:
            got = codec.receive_down(frame, PACK, pack_keys if side == "keyed" else None)
        assert isinstance(got, Reject), vector["name"]
        assert got.name == vector["reason"], vector["name"]


def test_the_bad_vectors_show_every_reason_the_codec_has(vectors: dict[str, Any]) -> None:
    shown = {vector["reason"] for vector in vectors["bad"]}
    codec_has = {reason.name for reason in Reject if reason < Reject.COPY}
    # The splitter has the one; the other is of a base that has no time, and of no frame.
    assert shown == codec_has - {"FRAMING", "BUSY"}


def test_any_single_flipped_bit_is_refused(good: dict[str, bytes], keyring: Keyring) -> None:
    # EN 50159, corruption: 100 % of single bit errors. CRC-16 detects them all by construction.
    flipped = refused = 0
    for frame in good.values():
        codec.receive(frame, keyring)
        for bit in range(len(frame) * 8):
            damaged = bytearray(frame)
            damaged[bit // 8] ^= 0x80 >> bit % 8
            flipped += 1
            refused += codec.receive(bytes(damaged), keyring) is Reject.CHECKSUM
    assert refused == flipped == 8 * sum(len(frame) for frame in good.values())


def test_any_single_flipped_bit_under_a_right_checksum_is_refused(
    good: dict[str, bytes], keyring: Keyring
) -> None:
    # Forgery: whoever can make a checksum still has no key.
    frame = good["status, keyed"]
    assert isinstance(codec.receive(frame, keyring), Report)
    for bit in range((len(frame) - 2) * 8):
        forged = bytearray(frame[:-2])
        forged[bit // 8] ^= 0x80 >> bit % 8
        got = codec.receive(bytes(forged) + checksum(bytes(forged)), keyring)
        assert isinstance(got, Reject), bit


def test_every_length_of_a_good_frame_but_its_own_is_refused(
    good: dict[str, bytes], keyring: Keyring
) -> None:
    for frame in good.values():
        for size in range(len(frame)):
            assert isinstance(codec.receive(frame[:size], rings(keyring, frame)), Reject)
        assert codec.receive(frame + b"\1", rings(keyring, frame)) is Reject.CHECKSUM


def test_zeros_after_a_frame_change_nothing_in_it(
    good: dict[str, bytes], keyring: Keyring, packets: dict[str, Packet]
) -> None:
    # A CRC that has come to 0 stays there: the tag sees them, an open frame keeps its fields.
    for name, frame in good.items():
        for zeros in range(1, 20):
            got = codec.receive(frame + bytes(zeros), rings(keyring, frame))
            sent = packets[name]
            if isinstance(got, Report) and isinstance(sent, Report):
                assert replace(got, extras=()) == replace(sent, extras=())
            elif not isinstance(got, Envelope):
                assert isinstance(got, Reject) or got == packets[name]


@pytest.mark.parametrize("warm", [False, True])
def test_a_genuine_frame_of_the_wrong_shape_is_refused_on_the_short_way_too(
    good: dict[str, bytes], keyring: Keyring, warm: bool
) -> None:
    # 46 bytes, as a plain report, but a sign-on and a receipt by their kind.
    key = keyring.pack_key(PACK, 1, up=True)
    if warm:
        for name in ("sign-on, keyed", "receipt, acknowledged", "status, keyed"):
            codec.receive(good[name], keyring)
    content = b"\x01\x01" + good["status, keyed"][2:36]
    frame = content + tag(key, content)
    assert codec.receive(frame + checksum(frame), keyring) is Reject.LENGTH
    content = good["receipt, acknowledged"][:27] + b"\x80\x07" + bytes(7)
    frame = content + tag(key, content)
    assert isinstance(codec.receive(frame + checksum(frame), keyring), Receipt)


def test_ranges_come_after_the_tag(good: dict[str, bytes], keyring: Keyring) -> None:
    frame = good["status, keyed"]
    content = frame[:16] + b"\xff\xfe" + frame[18:-2]
    assert codec.receive(content + checksum(content), keyring) is Reject.TAG


def test_both_epochs_are_believed_during_the_change(
    good: dict[str, bytes], keyring: Keyring
) -> None:
    assert isinstance(codec.receive(good["status, keyed"], keyring), Report)
    assert isinstance(codec.receive(good["status, second epoch"], keyring), Report)


def test_an_exercise_key_never_makes_a_real_frame(status: Report, vectors: dict[str, Any]) -> None:
    fleet = {1: bytes.fromhex(vectors["fleet_keys"]["1"])}
    exercise, real = Keyring(fleet, "exercise", 1), Keyring(fleet, "real", 1)
    for mine, other in ((exercise, real), (real, exercise)):
        frame = codec.encode(status, mine.pack_key(PACK, 1, up=True))
        assert codec.receive(frame, mine) == status
        assert codec.receive(frame, other) is Reject.TAG


def test_a_call_that_no_key_vouches_for_is_shown_and_nothing_else(good: dict[str, bytes]) -> None:
    for name in ("event, open distress", "event, distress"):
        report = codec.unproven_call(good[name])
        assert report is not None
        assert report.distress
    for name in ("status, open", "beat of a base radio"):
        assert codec.unproven_call(good[name]) is None
    assert codec.unproven_call(b"") is None


def test_a_motion_alarm_that_no_key_vouches_for_is_a_call(status: Report) -> None:
    for motion in Motion:
        frame = codec.encode(replace(status, motion=motion), bytes(32))
        assert (codec.unproven_call(frame) is None) is (motion is not Motion.ALARM)


@pytest.mark.parametrize(
    "damaged", [b"", bytes(15), b"\x01" * 14, b"\x02" + bytes(43), b"\x01\x07" + bytes(42)]
)
def test_trusted_bytes_that_are_no_frame(damaged: bytes) -> None:
    with pytest.raises(ValueError, match="not a frame"):
        codec.decode_trusted(damaged)


def test_trusted_bytes_need_no_checksum(good: dict[str, bytes], status: Report) -> None:
    assert codec.decode_trusted(good["status, keyed"][:-2] + b"\0\0") == status


def test_a_trusted_report_out_of_range(good: dict[str, bytes]) -> None:
    frame = good["status, keyed"]
    with pytest.raises(ValueError, match="gauge pressure out of range"):
        codec.decode_trusted(frame[:16] + b"\xff\xfe" + frame[18:])


@pytest.mark.parametrize(
    ("changes", "wrong"),
    [
        ({"pressure_dbar": 4501}, "gauge pressure out of range"),
        ({"pressure_dbar": 70_000}, "does not fit its place"),
        ({"pressure_dbar": -1}, "does not fit its place"),
        ({"interval_s": 0}, "report interval out of range"),
        ({"identity": 0}, "identity is 0"),
        ({"epoch": 0}, "key epoch out of range"),
        ({"keyed": False}, "do not agree"),
        ({"kind": Kind.SIGN_ON}, "equipment belongs"),
        ({"kind": Kind.BEACON}, "length does not fit|number out of range|appended"),
        ({"extras": ((1, bytes(256)),)}, "does not fit its place"),
        ({"extras": ((1, bytes(200)),)}, "more bytes than the longest"),
    ],
)
def test_what_cannot_be_written_is_refused(
    status: Report, keyring: Keyring, changes: dict[str, Any], wrong: str
) -> None:
    with pytest.raises(ValueError, match=wrong):
        codec.encode(replace(status, **changes), keyring.pack_key(PACK, 1, up=True))


def test_a_base_radio_takes_no_key() -> None:
    with pytest.raises(ValueError, match="do not agree"):
        codec.encode(Beat(radio=1, radio_ms=0, frames_heard=0), bytes(32))


def test_the_longest_frame_of_a_pack_fits_an_envelope(status: Report, keyring: Keyring) -> None:
    # 240 = 36 fixed, 10 tail, 2 head of the appended field, 192 of value.
    key = keyring.pack_key(PACK, 1, up=True)
    longest = codec.encode(replace(status, extras=((200, bytes(192)),)), key)
    assert len(longest) == 240
    wrapped = codec.encode(Envelope(1, -90, 0, longest), None)
    assert len(wrapped) == 254
    inner = codec.receive(wrapped, keyring)
    assert isinstance(inner, Envelope)
    assert codec.receive(inner.frame, keyring) == replace(status, extras=((200, bytes(192)),))
    with pytest.raises(ValueError, match="more bytes"):
        codec.encode(replace(status, extras=((200, bytes(193)),)), key)
