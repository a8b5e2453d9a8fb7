"""Writes the worked examples of PACKET-FORMAT.md, from the code: keys, frames, lines.

    .venv/bin/python -m tests.protocol.examples_page

The values are those of the vectors; bytes come of the codec, the keys and the framing, so that page
and program cannot part.
"""

import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import shared
from protocol import codec, framing
from protocol.fields import FIELDS_BY_KIND, FIXED_BYTES, TAG_BYTES, Field
from protocol.integrity import DIRECTION_DOWN, DIRECTION_UP, Keyring, key_info
from protocol.packets import Beacon, Envelope, Order, Packet
from tests.protocol.conftest import PACK, packet_of

PAGE = Path(__file__).parents[2] / "protocol" / "PACKET-FORMAT.md"
NAMES = (
    "status, keyed", "sign-on, keyed", "event, open distress", "receipt, acknowledged",
    "beacon, keyed", "order, evacuate", "envelope around a status", "beat of a base radio",
)  # fmt: skip
IN_HEX = {"identity", "beacon heard", "value", "base", "radio"}
BYTES_A_LINE = 16


def keys(keyring: Keyring) -> Iterator[str]:
    """The table of keys."""
    held = keyring.pack_keys(PACK, 1)
    yield "| key | `info` | key bytes |"
    yield "|---|---|---|"
    for name, direction, identity, key in (
        ("up", DIRECTION_UP, PACK, held.up),
        ("down", DIRECTION_DOWN, PACK, held.down),
        ("beacons", DIRECTION_DOWN, 0, held.broadcast),
    ):
        info = key_info("exercise", direction, identity)
        yield f"| {name} | `{info.hex()}` | `{key.hex()}` |"


def example(name: str, packet: Packet, keyring: Keyring) -> Iterator[str]:
    """One example: every field with its bytes and its value, then the line form."""
    key, which = _key(packet, keyring)
    frame = codec.encode(packet, key)
    yield f"### Example: {name}"
    yield ""
    yield "| offset | bytes | field | value |"
    yield "|---|---|---|---|"
    kind = next(kind for kind in FIELDS_BY_KIND if kind == frame[1])
    for field in FIELDS_BY_KIND[kind]:
        raw = frame[field.offset : field.offset + field.size]
        yield _row(field.offset, raw, field.name, _value(field, raw))
    end = FIXED_BYTES[kind]
    if isinstance(packet, Envelope):
        yield _row(end, packet.frame, "frame", "the status above")
        end += len(packet.frame)
    if key is not None:
        yield _row(end, frame[end : end + TAG_BYTES], "tag", f"with the key {which}")
        end += TAG_BYTES
    yield _row(end, frame[end:], "checksum", "")
    line = framing.wrap(frame)
    yield ""
    yield f"On a serial line, {len(line)} bytes:"
    yield ""
    yield "```"
    for start in range(0, len(line), BYTES_A_LINE):
        yield line[start : start + BYTES_A_LINE].hex(" ")
    yield "```"
    yield ""


def _key(packet: Packet, keyring: Keyring) -> tuple[bytes | None, str]:
    if not getattr(packet, "keyed", False):
        return None, ""
    held = keyring.pack_keys(PACK, 1)
    if isinstance(packet, Beacon):
        return held.broadcast, "beacons"
    return (held.down, "down") if isinstance(packet, Order) else (held.up, "up")


def _row(offset: int, raw: bytes, name: str, value: str) -> str:
    return f"| {offset} | `{raw.hex(' ')}` | {name} | {value} |".replace("|  |", "| |")


def _value(field: Field, raw: bytes) -> str:
    value = int.from_bytes(raw, "big", signed=field.code == "b")
    if value == field.unknown:
        return "unknown"
    return f"0x{value:08X}" if field.name in IN_HEX and value else str(value)


def section() -> str:
    """All between the heading "Worked examples" and "In C", the first sentence included."""
    loaded: dict[str, Any] = json.loads(shared.path("vectors", "packets.json").read_text("utf-8"))
    secrets = {int(epoch): bytes.fromhex(key) for epoch, key in loaded["fleet_keys"].items()}
    keyring = Keyring(secrets, loaded["use"], 1)
    by_name = {vector["name"]: vector for vector in loaded["good"]}
    said = "The fleet secret of epoch 1 is the 32 bytes 00 01 02 ... 1F, use exercise;"
    head = ["## Worked examples", "", f"{said} the pack is 0x{PACK:08X}.", ""]
    lines = [*head, *keys(keyring), ""]
    for name in NAMES:
        packet: Any = packet_of(by_name[name])
        lines += example(name, packet, keyring)
    return "\n".join(lines) + "\n"


def written(page: str) -> str:
    """The page with the examples made anew."""
    found = re.compile(r"^## Worked examples\n.*?(?=^## )", re.MULTILINE | re.DOTALL)
    assert len(found.findall(page)) == 1, "the page has one section of worked examples"
    return found.sub(lambda _: section(), page)


if __name__ == "__main__":
    PAGE.write_text(written(PAGE.read_text("utf-8")), "utf-8")
