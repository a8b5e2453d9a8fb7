"""A second, slow, plain reading of PACKET-FORMAT.md: it shares no code with the package.

The test vectors come from here, so that the package is checked against something else than
itself: CRC bit by bit as the catalogue draws it, COBS as the paper tells it, HKDF from another
library. Run this file to write the vectors anew:

    python -m tests.protocol.second_codec
"""

import hashlib
import json
from pathlib import Path
from typing import Any

from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.kdf.hkdf import HKDF

VECTORS = Path(__file__).parents[2] / "shared" / "vectors" / "packets.json"

Fields = dict[str, Any]

KINDS = {"sign-on": 1, "status": 2, "event": 3, "sign-off": 4, "receipt": 5,
         "beacon": 8, "order": 9, "envelope": 12, "beat": 13}  # fmt: skip
FLEET_KEYS = {1: bytes(range(32)), 2: bytes(range(32, 64))}
PACK = 0x01020304
BASE = 0xB0000001
RADIO = 0x0A0B0C0D
BEACON_VALUE = 0x8F3C12A7


def crc(data: bytes) -> bytes:
    """CRC-16/IBM-3740, bit by bit: polynomial 0x1021, start 0xFFFF, highest bit first."""
    register = 0xFFFF
    for byte in data:
        register ^= byte << 8
        for _ in range(8):
            register = register << 1 ^ (0x1021 if register & 0x8000 else 0)
            register &= 0xFFFF
    return register.to_bytes(2, "big")


def cobs(frame: bytes) -> bytes:
    """COBS for frames of at most 254 bytes: each run is told by its length plus one."""
    return b"".join(bytes((len(run) + 1,)) + run for run in frame.split(b"\x00"))


def key(use: str, epoch: int, direction: str, identity: int) -> bytes:
    """A pack's key for one direction; identity 0 and "down" for beacons."""
    return HKDF(SHA256(), 32, None, info(use, direction, identity)).derive(FLEET_KEYS[epoch])


def info(use: str, direction: str, identity: int) -> bytes:
    numbers = bytes((1, {"exercise": 1, "real": 2}[use], {"up": 1, "down": 2}[direction]))
    return b"outby" + numbers + number(identity, 4)


def number(value: int | None, size: int, *, signed: bool = False) -> bytes:
    """An integer; None is all ones, or -128 in a signed byte."""
    if value is None:
        value = -128 if signed else 256**size - 1
    return value.to_bytes(size, "big", signed=signed)


def report_body(v: Fields) -> bytes:
    alerts = v["distress"] | v["low_air"] << 1 | v["coming_out"] << 2
    checks = v["self_test"] | v["air_warning_test"] << 2 | v["motion_warning_test"] << 4
    body = number(v["pressure_dbar"], 2) + number(v["gas_temperature_c"], 1, signed=True)
    body += number(v["battery_percent"], 1) + number(v["uptime_ms"], 4)
    body += number(v["beacon_heard"], 4)
    body += number(v["order_received"], 2) + number(v["order_acknowledged"], 2)
    body += bytes((v["motion"], alerts, checks, v["interval_s"]))
    if v["equipment"] is not None:
        e = v["equipment"]
        body += bytes((e["apparatus"],)) + number(e["rated_pressure_dbar"], 2)
        body += number(e["water_volume_cl"], 2) + number(e["low_air_dbar"], 2)
    for kind, value in v["extras"]:
        body += bytes((kind, len(value) // 2)) + bytes.fromhex(value)
    return body


def body(kind: str, v: Fields) -> bytes:
    match kind:
        case "receipt":
            return (
                number(v["uptime_ms"], 4) + number(v["beacon_heard"], 4)
                + number(v["order"], 2) + number(v["answer"], 1)
            )  # fmt: skip
        case "beacon":
            return number(v["value"], 4)
        case "order":
            return number(v["base"], 4) + number(v["order"], 2) + number(v["what"], 1)
        case _:
            return report_body(v)


def frame(kind: str, v: Fields, with_key: bytes | None) -> bytes:
    """The whole frame."""
    if kind in ("envelope", "beat"):
        signal = v.get("signal_dbm")
        content = bytes((1, KINDS[kind], 0)) + number(signal, 1, signed=True)
        content += number(v["radio"], 4) + number(v["radio_ms"], 4)
        rest = bytes.fromhex(v["frame"]) if kind == "envelope" else number(v["frames_heard"], 4)
        return content + rest + crc(content + rest)
    content = bytes((1, KINDS[kind], int(with_key is not None), v["epoch"]))
    content += number(v.get("identity", v.get("base")), 4)
    content += number(v["boot"], 4) + number(v["sequence"], 4) + body(kind, v)
    if with_key is not None:
        content += hashlib.blake2s(content, key=with_key, digest_size=8).digest()
    return content + crc(content)


# ---------------------------------------------------------------- the vectors

UP = key("exercise", 1, "up", PACK)
DOWN = key("exercise", 1, "down", PACK)
BROADCAST = key("exercise", 1, "down", 0)

STATUS: Fields = {
    "identity": PACK, "boot": 7, "sequence": 300, "epoch": 1, "keyed": True,
    "pressure_dbar": 2875, "gas_temperature_c": None, "battery_percent": 88,
    "motion": 1, "distress": False, "low_air": False, "coming_out": False,
    "self_test": 1, "air_warning_test": 1, "motion_warning_test": 0, "interval_s": 5,
    "uptime_ms": 1_234_567, "beacon_heard": BEACON_VALUE, "order_received": 0,
    "order_acknowledged": 0, "equipment": None, "extras": [],
}  # fmt: skip
EQUIPMENT: Fields = {
    "apparatus": 1, "rated_pressure_dbar": 3000, "water_volume_cl": 680, "low_air_dbar": 550,
}  # fmt: skip
SIGN_ON = STATUS | {"sequence": 1, "uptime_ms": 1500, "beacon_heard": 0, "equipment": EQUIPMENT}
OPEN = {"epoch": 0, "keyed": False}
UNKNOWN: Fields = {"pressure_dbar": None, "gas_temperature_c": None, "battery_percent": None}
RECEIPT: Fields = {
    "identity": PACK, "boot": 7, "sequence": 301, "epoch": 1, "keyed": True,
    "uptime_ms": 1_235_000, "beacon_heard": BEACON_VALUE, "order": 3, "answer": 2,
}  # fmt: skip
BEACON: Fields = {
    "base": BASE, "boot": 2, "sequence": 90, "epoch": 1, "keyed": True, "value": BEACON_VALUE,
}  # fmt: skip
ORDER: Fields = {
    "identity": PACK, "boot": 7, "sequence": 300, "epoch": 1, "keyed": True,
    "base": BASE, "order": 3, "what": 1,
}  # fmt: skip

GOOD: list[tuple[str, str, Fields, bytes | None]] = [
    ("sign-on, keyed", "sign-on", SIGN_ON, UP),
    ("sign-on, closed circuit, values unknown", "sign-on", SIGN_ON | {
        "equipment": {"apparatus": 2, "rated_pressure_dbar": None, "water_volume_cl": None,
                      "low_air_dbar": None}}, UP),
    ("status, keyed", "status", STATUS, UP),
    ("status, open", "status", STATUS | OPEN, None),
    ("status, everything unknown", "status", STATUS | UNKNOWN | {"motion": 0, "beacon_heard": 0},
     UP),
    ("status, lowest values", "status", STATUS | {
        "identity": PACK, "boot": 1, "sequence": 1, "pressure_dbar": 0, "gas_temperature_c": -60,
        "battery_percent": 0, "motion": 0, "self_test": 0, "air_warning_test": 0,
        "interval_s": 1, "uptime_ms": 0, "beacon_heard": 0}, UP),
    ("status, highest values", "status", STATUS | {
        "boot": 2**32 - 1, "sequence": 2**32 - 1, "pressure_dbar": 4500, "gas_temperature_c": 100,
        "battery_percent": 100, "motion": 4, "distress": True, "low_air": True,
        "coming_out": True, "self_test": 2, "air_warning_test": 2, "motion_warning_test": 2,
        "interval_s": 60, "uptime_ms": 2**32 - 1, "order_received": 65535,
        "order_acknowledged": 65535, "beacon_heard": 2**32 - 1}, UP),
    ("status, appended fields to be skipped", "status",
     STATUS | {"extras": [[1, "beef"], [200, ""]]}, UP),
    ("status, appended type 0, which nobody sends", "status", STATUS | {"extras": [[0, ""]]}, UP),
    ("status, second epoch", "status", STATUS | {"epoch": 2}, key("exercise", 2, "up", PACK)),
    ("event, distress", "event", STATUS | {"sequence": 302, "distress": True}, UP),
    ("event, open distress", "event", STATUS | OPEN | {"distress": True}, None),
    ("event, motion alarm and low air", "event",
     STATUS | {"sequence": 303, "motion": 4, "low_air": True, "pressure_dbar": 549}, UP),
    ("sign-off, keyed", "sign-off", STATUS | {"sequence": 400, "motion": 2}, UP),
    ("receipt, acknowledged", "receipt", RECEIPT, UP),
    ("receipt, coming out unasked", "receipt", RECEIPT | {"order": 0, "answer": 3}, UP),
    ("beacon, keyed", "beacon", BEACON, BROADCAST),
    ("beacon, open", "beacon", BEACON | OPEN, None),
    ("order, evacuate", "order", ORDER, DOWN),
    ("order, open, test", "order", ORDER | OPEN | {"what": 4}, None),
    ("order, coming out confirmed", "order", ORDER | {"what": 6}, DOWN),
    ("envelope around a status", "envelope",
     {"radio": RADIO, "signal_dbm": -87, "radio_ms": 5000,
      "frame": frame("status", STATUS, UP).hex()}, None),
    ("envelope, signal unknown, frame damaged", "envelope",
     {"radio": RADIO, "signal_dbm": None, "radio_ms": 0, "frame": "ff00ff"}, None),
    ("beat of a base radio", "beat",
     {"radio": RADIO, "radio_ms": 61_000, "frames_heard": 244}, None),
]  # fmt: skip


def changed(kind: str, fields: Fields, with_key: bytes | None, at: int, value: str) -> bytes:
    """A frame with bytes replaced before tag and checksum are made, so that these are right."""
    whole = frame(kind, fields, with_key)
    put = bytes.fromhex(value)
    content = bytearray(whole[: -2 if with_key is None else -10])
    content[at : at + len(put)] = put
    return closed(bytes(content), with_key)


def closed(content: bytes, with_key: bytes | None) -> bytes:
    """``content`` with its tag and checksum."""
    if with_key is not None:
        content += hashlib.blake2s(content, key=with_key, digest_size=8).digest()
    return content + crc(content)


def spoilt(at: int, value: str, kind: str = "status", fields: Fields = STATUS) -> bytes:
    """An upward frame, genuine and undamaged, with something in it that must not be."""
    return changed(kind, fields, UP, at, value)


def order_spoilt(at: int, value: str) -> bytes:
    return changed("order", ORDER, DOWN, at, value)


def filled(size: int) -> bytes:
    """One appended field of so many bytes in all."""
    return bytes((200, size - 2)) + bytes(size - 2)


_GOOD = frame("status", STATUS, UP)
_ORDER = frame("order", ORDER, DOWN)
_LOCAL: Fields = {"radio": RADIO, "signal_dbm": -87, "radio_ms": 5000}
_WRAPPED = frame("envelope", _LOCAL | {"frame": _GOOD.hex()}, None)
_BEAT: Fields = {"radio": RADIO, "radio_ms": 1, "frames_heard": 2}

Bad = list[tuple[str, str, bytes, str]]
"""(name, who receives, frame, reason)."""
BAD_BYTES: Bad = [
    ("empty", "keyed base", b"", "SHORT"),
    ("one byte short of the shortest", "keyed base", bytes(14), "SHORT"),
    ("one byte over the longest", "keyed base", bytes(255), "LONG"),
    ("last bit flipped", "keyed base", _GOOD[:-1] + bytes((_GOOD[-1] ^ 1,)), "CHECKSUM"),
    ("pressure changed without a key", "keyed base",
     closed(_GOOD[:16] + b"\x0b\xb8" + _GOOD[18:-2], None), "TAG"),
    ("version 2", "keyed base", spoilt(0, "02"), "VERSION"),
    ("kind 0", "keyed base", spoilt(1, "00"), "KIND"),
    ("kind 6", "keyed base", spoilt(1, "06"), "KIND"),
    ("a flag of the upper four", "keyed base", spoilt(2, "11"), "FLAGS"),
    ("keyed flag in a base radio's frame", "keyed base",
     changed("beat", _BEAT, None, 2, "01"), "FLAGS"),
    ("status cut to a receipt's length", "keyed base", closed(_GOOD[:27], UP), "LENGTH"),
    ("sign-on without equipment", "keyed base", spoilt(1, "01"), "LENGTH"),
    ("sign-off of 241 bytes", "keyed base",
     closed(frame("sign-off", STATUS, UP)[:36] + filled(195), UP), "LONG"),
    ("appended field without a length", "keyed base", closed(_GOOD[:36] + b"\x01", UP),
     "EXTRAS"),
    ("appended field over the end", "keyed base", closed(_GOOD[:36] + b"\x01\x03\x00\x00", UP),
     "EXTRAS"),
    ("envelope in an envelope", "keyed base",
     frame("envelope", _LOCAL | {"frame": _WRAPPED.hex()}, None), "NESTED"),
]  # fmt: skip
BAD_SENDERS: Bad = [
    ("epoch not held", "keyed base", spoilt(3, "03"), "EPOCH_UNKNOWN"),
    ("keyed frame of epoch 0", "keyed base", spoilt(3, "00"), "EPOCH"),
    ("open frame of epoch 1", "open base", changed("status", STATUS | OPEN, None, 3, "01"),
     "EPOCH"),
    ("open frame", "keyed base", frame("status", STATUS | OPEN, None), "NOT_KEYED"),
    ("keyed frame", "open base", _GOOD, "KEYED_UNREADABLE"),
    ("another pack's key", "keyed base",
     frame("status", STATUS, key("exercise", 1, "up", PACK + 1)), "TAG"),
    ("downward key on an upward frame", "keyed base", frame("status", STATUS, DOWN), "TAG"),
    ("key of a real fleet at an exercise", "keyed base",
     frame("status", STATUS, key("real", 1, "up", PACK)), "TAG"),
    ("first epoch's key in the second", "keyed base",
     frame("status", STATUS | {"epoch": 2}, UP), "TAG"),
    ("beacon heard by a base", "keyed base", frame("beacon", BEACON, BROADCAST), "DIRECTION"),
    ("order heard by a base", "keyed base", frame("order", ORDER, DOWN), "DIRECTION"),
]  # fmt: skip
BAD_FIELDS: Bad = [
    ("identity 0", "keyed base",
     changed("status", STATUS, key("exercise", 1, "up", 0), 4, "00000000"), "IDENTITY"),
    ("boot counter 0", "keyed base", spoilt(8, "00000000"), "BOOT"),
    ("sequence 0", "keyed base", spoilt(12, "00000000"), "SEQUENCE"),
    ("pressure 450.1 bar", "keyed base", spoilt(16, "1195"), "PRESSURE"),
    ("pressure 0xFFFE", "keyed base", spoilt(16, "fffe"), "PRESSURE"),
    ("gas at -61 C", "keyed base", spoilt(18, "c3"), "TEMPERATURE"),
    ("gas at 101 C", "keyed base", spoilt(18, "65"), "TEMPERATURE"),
    ("battery 101 %", "keyed base", spoilt(19, "65"), "BATTERY"),
    ("motion 5", "keyed base", spoilt(32, "05"), "MOTION"),
    ("self-test 3", "keyed base", spoilt(34, "03"), "SELF_TEST"),
    ("low-air warning test 3", "keyed base", spoilt(34, "0c"), "AIR_WARNING_TEST"),
    ("motion warning test 3", "keyed base", spoilt(34, "30"), "MOTION_WARNING_TEST"),
    ("interval 0", "keyed base", spoilt(35, "00"), "INTERVAL"),
    ("interval 61 s", "keyed base", spoilt(35, "3d"), "INTERVAL"),
    ("apparatus 4", "keyed base", spoilt(36, "04", "sign-on", SIGN_ON), "APPARATUS"),
    ("rated pressure 0", "keyed base", spoilt(37, "0000", "sign-on", SIGN_ON),
     "RATED_PRESSURE"),
    ("water volume 30.01 L", "keyed base", spoilt(39, "0bb9", "sign-on", SIGN_ON),
     "WATER_VOLUME"),
    ("low-air value 0", "keyed base", spoilt(41, "0000", "sign-on", SIGN_ON), "LOW_AIR"),
    ("answer 4", "keyed base", spoilt(26, "04", "receipt", RECEIPT), "ANSWER"),
    ("acknowledged, but no order", "keyed base", spoilt(24, "0000", "receipt", RECEIPT),
     "ORDER"),
    ("radio 0", "keyed base", changed("beat", _BEAT, None, 4, "00000000"), "RADIO"),
    ("signal +21 dBm", "keyed base",
     changed("envelope", _LOCAL | {"frame": _GOOD.hex()}, None, 3, "15"), "SIGNAL"),
]  # fmt: skip
BAD_DOWNWARD: Bad = [
    ("status heard by a pack", "keyed pack", _GOOD, "DIRECTION"),
    ("order to another pack", "keyed pack",
     frame("order", ORDER | {"identity": PACK + 1}, DOWN), "OTHER_PACK"),
    ("open order", "keyed pack", frame("order", ORDER | OPEN, None), "NOT_KEYED"),
    ("keyed order", "open pack", frame("order", ORDER, DOWN), "KEYED_UNREADABLE"),
    ("order with the beacon key", "keyed pack", frame("order", ORDER, BROADCAST), "TAG"),
    ("order of an epoch the pack has not", "keyed pack", order_spoilt(3, "02"), "EPOCH_UNKNOWN"),
    ("order number 0", "keyed pack", order_spoilt(20, "0000"), "ORDER"),
    ("order of base 0", "keyed pack", order_spoilt(16, "00000000"), "BASE"),
    ("order of kind 7", "keyed pack", order_spoilt(22, "07"), "ORDER_KIND"),
    ("order with a flag of the upper four", "keyed pack", order_spoilt(2, "11"), "FLAGS"),
    ("order of version 2", "keyed pack", order_spoilt(0, "02"), "VERSION"),
    ("order under kind 10", "keyed pack", order_spoilt(1, "0a"), "KIND"),
    ("order, last bit flipped", "keyed pack", _ORDER[:-1] + bytes((_ORDER[-1] ^ 1,)), "CHECKSUM"),
    ("order of 241 bytes", "keyed pack", closed(_ORDER[:23] + filled(208), DOWN), "LONG"),
    ("order without its last byte", "keyed pack", closed(_ORDER[:22], DOWN), "LENGTH"),
    ("order, appended field over the end", "keyed pack",
     closed(_ORDER[:23] + b"\x05\x02\x00", DOWN), "EXTRAS"),
    ("order for another pack with a wrong tag", "keyed pack",
     frame("order", ORDER | {"identity": PACK + 1}, UP), "OTHER_PACK"),
    ("keyed order of epoch 0", "keyed pack", order_spoilt(3, "00"), "EPOCH"),
    ("open beacon", "keyed pack", frame("beacon", BEACON | OPEN, None), "NOT_KEYED"),
    ("beacon under the key down", "keyed pack", frame("beacon", BEACON, DOWN), "TAG"),
    ("beacon of value 0", "keyed pack",
     changed("beacon", BEACON, BROADCAST, 16, "00000000"), "BEACON"),
]  # fmt: skip


WINDOW_STEPS = [
    (1, "NEW"), (2, "NEW"), (2, "REPEATED"), (100, "NEW"), (37, "NEW"), (36, "TOO_OLD"),
    (37, "REPEATED"), (99, "NEW"), (100, "REPEATED"), (101, "NEW"), (164, "NEW"), (165, "NEW"),
    (0, "SEQUENCE"),
]  # fmt: skip
"""By hand from RFC 4303 3.4.3 with a window of 64: 100 - 63 = 37 is the oldest still inside."""


def vectors() -> dict[str, Any]:
    """Everything that goes into the file."""
    return {
        "about": "Vectors of the packet format, version 1. Read with PACKET-FORMAT.md.",
        "identity": PACK,
        "use": "exercise",
        "fleet_keys": {str(epoch): secret.hex() for epoch, secret in FLEET_KEYS.items()},
        "derived_keys": [
            {"use": use, "epoch": epoch, "direction": way, "identity": identity,
             "info": info(use, way, identity).hex(), "key": key(use, epoch, way, identity).hex()}
            for use in ("exercise", "real") for epoch in (1, 2)
            for way, identity in (("up", PACK), ("down", PACK), ("down", 0))
        ],
        "good": [
            {"name": name, "kind": kind, "key": None if k is None else k.hex(), "fields": fields,
             "frame": frame(kind, fields, k).hex(),
             "line": (cobs(frame(kind, fields, k)) + b"\x00").hex()}
            for name, kind, fields, k in GOOD
        ],
        "bad": [
            {"name": name, "receiver": receiver, "frame": data.hex(), "reason": reason}
            for name, receiver, data, reason in
            BAD_BYTES + BAD_SENDERS + BAD_FIELDS + BAD_DOWNWARD
        ],
        "window": [
            {"sequence": sequence, "verdict": verdict} for sequence, verdict in WINDOW_STEPS
        ],
    }  # fmt: skip


if __name__ == "__main__":
    VECTORS.write_text(json.dumps(vectors(), indent=1) + "\n", "utf-8")
