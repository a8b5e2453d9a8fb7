"""Breaks of what stands in a frame that a pack sends."""

import binascii
import hashlib
from dataclasses import replace

from protocol import codec
from protocol.integrity import PackKeys, tag
from protocol.packets import Beacon, Kind, Order, OrderKind, Receipt, ReceiptKind
from simulators.pack import Outgoing
from tests.simulators.conformance.breaks import Break, breaks
from tests.simulators.conformance.changes import (
    always,
    appended,
    bits,
    edited,
    now_and_then,
    of,
    put,
    receipts,
    sealed,
    summed,
    tagged,
)
from tests.simulators.conformance.wearing import Case, Sent, Unit

SIGN_ON = of(Kind.SIGN_ON)
RECEIPT = of(Kind.RECEIPT)


def also(make: bytes) -> Sent:
    """Sends something beside a status."""

    def sent(_unit: Unit, t: int, out: Outgoing) -> list[tuple[int, bytes]]:
        return [(t, out.frame), *([(t, make)] if now_and_then(out) else [])]

    return sent


def opened(_unit: Unit, t: int, out: Outgoing) -> list[tuple[int, bytes]]:
    """Sends open frames though it has keys."""
    content = bytearray(out.frame[:-10])
    content[2] = content[3] = 0
    frame = bytes(content)
    return [(t, frame + binascii.crc_hqx(frame, 0xFFFF).to_bytes(2, "big"))]


def no_equipment(unit: Unit, t: int, out: Outgoing) -> list[tuple[int, bytes]]:
    if out.kind is not Kind.SIGN_ON:
        return [(t, out.frame)]
    return [(t, sealed(unit, out.frame[:36]))]


def swapped(start: int, stop: int) -> Sent:
    def change(content: bytearray) -> None:
        content[start:stop] = content[start:stop][::-1]

    return edited(change, lambda out: out.kind in (Kind.STATUS, Kind.SIGN_ON))


def wrong_answer(value: int, order: bytes) -> Sent:
    return edited(
        lambda content: content.__setitem__(slice(24, 27), order + bytes((value,))), RECEIPT
    )


def backwards(_unit: Unit, packet: Receipt, _t: int) -> Receipt:
    return replace(packet, order=packet.order >> 8 | (packet.order & 0xFF) << 8)


def keys_of(unit: Unit) -> PackKeys:
    assert unit.keys is not None, "an open pack makes no tags"
    return unit.keys


BEACON = codec.encode(Beacon(101, 1, 1, 0, False, 5), None)
ORDER = codec.encode(Order(101, 7, 1, 0, False, 9, 1, OrderKind.TEST), None)

OF_FRAMES: tuple[Break, ...] = (
    # Bytes around the body.
    breaks("checksum", "checksum wrong now and then",
           Case(sent=summed(lambda data: bytes(2), now_and_then))),
    breaks("checksum", "checksum lowest byte first",
           Case(sent=summed(lambda data: binascii.crc_hqx(data, 0xFFFF).to_bytes(2, "little")))),
    breaks("checksum", "checksum started at 0",
           Case(sent=summed(lambda data: binascii.crc_hqx(data, 0).to_bytes(2, "big")))),
    breaks("tag", "tag of zeros", Case(sent=tagged(lambda unit, data: bytes(8)))),
    breaks("tag", "tag is the beginning of a longer digest", Case(sent=tagged(
        lambda unit, data: hashlib.blake2s(data, key=keys_of(unit).up).digest()[:8]))),
    breaks("tag", "tag under the key down",
           Case(sent=tagged(lambda unit, data: tag(keys_of(unit).down, data)))),
    breaks("tag", "tag under the key of beacons",
           Case(sent=tagged(lambda unit, data: tag(keys_of(unit).broadcast, data)))),
    breaks("tag", "tag over the body without the header",
           Case(sent=tagged(lambda unit, data: tag(keys_of(unit).up, data[16:])))),
    breaks("tag", "open frames though it has keys", Case(sent=opened)),
    breaks("tag", "a keyed frame of epoch 0", Case(sent=put(3, b"\x00"))),
    breaks("tag", "an epoch that is not its key's", Case(sent=put(3, b"\x02"))),
    breaks("tag", "an open frame of epoch 1", Case(sent=put(3, b"\x01"), keyed=False)),
    breaks("kind", "version 2", Case(sent=put(0, b"\x02"))),
    breaks("kind", "kind 6", Case(sent=put(1, b"\x06"))),
    breaks("kind", "a sign-on without equipment", Case(sent=no_equipment)),
    breaks("way", "sends a beacon", Case(sent=also(BEACON), keyed=False)),
    breaks("way", "sends an order", Case(sent=also(ORDER), keyed=False)),
    breaks("flags", "flag 1 is set", Case(sent=bits(2, 0x02, always))),
    breaks("flags", "flag 3 is set", Case(sent=bits(2, 0x08, always))),
    breaks("flags", "flag 4 is set now and then", Case(sent=bits(2, 0x10, now_and_then))),
    breaks("flags", "flag 7 is set now and then", Case(sent=bits(2, 0x80, now_and_then))),
    breaks("header", "identity 0 now and then", Case(sent=put(4, bytes(4)), keyed=False)),
    breaks("header", "boot counter 0 now and then", Case(sent=put(8, bytes(4)))),
    breaks("header", "sequence 0 now and then", Case(sent=put(12, bytes(4)))),
    # Reports.
    breaks("bits", "bit 3 of the alerts is set", Case(sent=bits(33, 0x08))),
    breaks("bits", "bit 7 of the alerts is set", Case(sent=bits(33, 0x80))),
    breaks("bits", "bit 6 of the checks is set", Case(sent=bits(34, 0x40))),
    breaks("bits", "bit 7 of the checks is set", Case(sent=bits(34, 0x80))),
    breaks("report", "450.1 bar", Case(sent=put(16, b"\x11\x95"))),
    breaks("report", "pressure lowest byte first", Case(sent=swapped(16, 18))),
    breaks("report", "pressure in hundredths", Case(sent=put(16, (29600).to_bytes(2, "big")))),
    breaks("report", "gas at 101 C", Case(sent=put(18, b"\x65"))),
    breaks("report", "gas at -61 C", Case(sent=put(18, b"\xc3"))),
    breaks("report", "battery 101 %", Case(sent=put(19, b"\x65"))),
    breaks("report", "motion 5", Case(sent=put(32, b"\x05"))),
    breaks("report", "self-test 3", Case(sent=put(34, b"\x17"))),
    breaks("report", "low-air warning test 3", Case(sent=put(34, b"\x1d"))),
    breaks("report", "motion warning test 3", Case(sent=put(34, b"\x35"))),
    breaks("report", "interval 0", Case(sent=put(35, b"\x00"))),
    breaks("report", "interval 61 s", Case(sent=put(35, b"\x3d"))),
    breaks("uptime", "uptime lowest byte first", Case(sent=swapped(20, 24))),
    # Equipment.
    breaks("equipment", "apparatus 4", Case(sent=put(36, b"\x04", SIGN_ON))),
    breaks("equipment", "rated pressure 0", Case(sent=put(37, bytes(2), SIGN_ON))),
    breaks("equipment", "water volume 30.01 L", Case(sent=put(39, b"\x0b\xb9", SIGN_ON))),
    breaks("equipment", "low-air value 0", Case(sent=put(41, bytes(2), SIGN_ON))),
    # Receipts.
    breaks("receipt", "answer 0", Case(sent=wrong_answer(0, b"\x00\x01"))),
    breaks("receipt", "answer 4", Case(sent=wrong_answer(4, b"\x00\x01"))),
    breaks("receipt", "received, but no order", Case(sent=wrong_answer(1, bytes(2)))),
    breaks("received", "receipts tell the number lowest byte first",
           Case(sent=receipts(ReceiptKind.RECEIVED, backwards))),
    # Appended fields.
    breaks("appended", "appended type 0", Case(sent=appended(b"\x00\x00"))),
    breaks("appended", "appended type 5", Case(sent=appended(b"\x05\x00"))),
    breaks("appended", "an appended field runs over the end", Case(sent=appended(b"\x80\x05"))),
    breaks("appended", "one byte is appended", Case(sent=appended(b"\x80"))),
    breaks("size", "a status of 49 bytes", Case(sent=appended(b"\x80\x01\x00"))),
    breaks("kind", "a sign-on of 241 bytes",
           Case(sent=appended(bytes((128, 186)) + bytes(186), SIGN_ON))),
)  # fmt: skip
