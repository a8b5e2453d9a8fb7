"""Vectors, keys and a packet of each kind."""

import json
from pathlib import Path
from typing import Any

import pytest

import shared
from protocol.integrity import Keyring, PackKeys
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
    Receipt,
    ReceiptKind,
    Report,
)

PACK = 0x01020304


@pytest.fixture(scope="session")
def vectors() -> dict[str, Any]:
    loaded: dict[str, Any] = json.loads(shared.path("vectors", "packets.json").read_text("utf-8"))
    return loaded


@pytest.fixture(scope="session")
def good(vectors: dict[str, Any]) -> dict[str, bytes]:
    """Every good frame by its name."""
    return {vector["name"]: bytes.fromhex(vector["frame"]) for vector in vectors["good"]}


@pytest.fixture
def keyring(vectors: dict[str, Any]) -> Keyring:
    keys = {int(epoch): bytes.fromhex(key) for epoch, key in vectors["fleet_keys"].items()}
    return Keyring(keys, vectors["use"], 1)


@pytest.fixture
def pack_keys(keyring: Keyring) -> PackKeys:
    return keyring.pack_keys(PACK, 1)


@pytest.fixture
def status() -> Report:
    return Report(
        kind=Kind.STATUS, identity=PACK, boot=7, sequence=300, epoch=1, keyed=True,
        pressure_dbar=2875, gas_temperature_c=None, battery_percent=88, motion=Motion.MOVING,
        distress=False, low_air=False, coming_out=False, self_test=CheckResult.PASSED,
        air_warning_test=CheckResult.PASSED, motion_warning_test=CheckResult.NOT_RUN,
        interval_s=5, uptime_ms=1_234_567, order_received=0, order_acknowledged=0,
        beacon_heard=0x8F3C12A7,
    )  # fmt: skip


@pytest.fixture(scope="session")
def document() -> str:
    return (Path(__file__).parents[2] / "protocol" / "PACKET-FORMAT.md").read_text("utf-8")


def packet_of(vector: dict[str, Any]) -> object:
    """The packet a good vector's ``fields`` describe."""
    fields = dict(vector["fields"])
    match vector["kind"]:
        case "receipt":
            return Receipt(**fields | {"answer": ReceiptKind(fields["answer"])})
        case "beacon":
            return Beacon(**fields)
        case "order":
            return Order(**fields | {"what": OrderKind(fields["what"])})
        case "envelope":
            return Envelope(**fields | {"frame": bytes.fromhex(fields["frame"])})
        case "beat":
            return Beat(**fields)
    if fields["equipment"] is not None:
        equipment = dict(fields["equipment"])
        equipment["apparatus"] = Apparatus(equipment["apparatus"])
        fields["equipment"] = Equipment(**equipment)
    fields["extras"] = tuple((kind, bytes.fromhex(value)) for kind, value in fields["extras"])
    fields["motion"] = Motion(fields["motion"])
    for test in ("self_test", "air_warning_test", "motion_warning_test"):
        fields[test] = CheckResult(fields[test])
    return Report(kind=Kind[vector["kind"].upper().replace("-", "_")], **fields)


@pytest.fixture(scope="session")
def packets(vectors: dict[str, Any]) -> dict[str, Any]:
    """The packet of every good vector by its name."""
    return {vector["name"]: packet_of(vector) for vector in vectors["good"]}
