"""Frames to measure with: status frames of many packs, keyed, sequence by sequence."""

from protocol import codec
from protocol.integrity import Keyring
from protocol.packets import CheckResult, Kind, Motion, Report

PACKS = 100
KEYS = {1: bytes(range(32))}
RINGS = Keyring(KEYS, "exercise", 1)


def report(identity: int, sequence: int, *, keyed: bool = True) -> Report:
    """A quiet status: moving, air falling slowly."""
    return Report(
        kind=Kind.STATUS,
        identity=identity,
        boot=7,
        sequence=sequence,
        epoch=1 if keyed else 0,
        keyed=keyed,
        pressure_dbar=2900 - sequence % 2000,
        gas_temperature_c=21,
        battery_percent=80,
        motion=Motion.MOVING,
        distress=False,
        low_air=False,
        coming_out=False,
        self_test=CheckResult.PASSED,
        air_warning_test=CheckResult.PASSED,
        motion_warning_test=CheckResult.PASSED,
        interval_s=1,
        uptime_ms=sequence * 1000,
        order_received=0,
        order_acknowledged=0,
        beacon_heard=0x8F3C12A7,
    )


def frames(count: int, *, keyed: bool = True, packs: int = PACKS) -> list[bytes]:
    """Frames of so many packs in turn."""
    keys = {pack: RINGS.pack_key(pack, 1, up=True) for pack in range(1, packs + 1)}
    made = []
    for number in range(count):
        pack = number % packs + 1
        packet = report(pack, number // packs + 1, keyed=keyed)
        made.append(codec.encode(packet, keys[pack] if keyed else None))
    return made
