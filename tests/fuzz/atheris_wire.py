"""Fuzzing led by coverage, on request: ``make fuzz``. What it looks for is what the tests assert.

Run for one target, a number of seconds, by the module's name:

    python -m tests.fuzz.atheris_wire framer|codec|down|intake SECONDS

Whatever the bytes, a packet or a reason comes back and nothing is raised. Input that broke this is
left in a file ``crash-...``: put it as a case into the test of the module that broke.
"""

import importlib
import sys
from collections.abc import Callable, Iterator
from random import Random
from types import FunctionType, ModuleType
from typing import Any

from monitor.clock import Stamp
from monitor.links.chunk import Chunk
from monitor.recorder.beacons import BeaconSender
from monitor.recorder.intake import Intake
from protocol import codec
from protocol.framing import WIRE_BYTES_MAX, Splitter, wrap
from protocol.integrity import Keyring, checksum
from protocol.rejects import Reject

KEYRING = Keyring({1: bytes(32)}, "exercise", 1)
KEYS = KEYRING.pack_keys(101, 1)
UDP, WIRE = 1, 2


def framer(data: bytes) -> None:
    """One line in one piece and in small ones: the same frames, and the next one is found."""
    whole, splitter = Splitter().feed(data), Splitter()
    pieces = [found for at in range(0, len(data), 7) for found in splitter.feed(data[at : at + 7])]
    assert pieces == whole
    assert len(splitter._held) <= WIRE_BYTES_MAX
    assert splitter.feed(b"\x00" + wrap(b"next"))[-1] == b"next"


def check(data: bytes) -> None:
    """What is read is written back to the same packet."""
    for frame in (data, data + checksum(data)):
        packet = codec.decode(frame)
        for keyring in (KEYRING, None):
            codec.receive(frame, keyring)
        if not isinstance(packet, Reject):
            assert codec.decode_trusted(frame) == packet


def down(data: bytes) -> None:
    """As a pack hears it."""
    for frame in (data, data + checksum(data)):
        for keys in (KEYS, None):
            codec.receive_down(frame, 101, keys)


def intake(data: bytes) -> None:
    """A whole base, keyed and open: datagrams with a length before each, then all as one line."""
    for keyring in (KEYRING, None):
        made = Intake(keyring, BeaconSender(7, 1, keyring, Random(1)))
        made.set_link(WIRE, framed=True)
        at = 0
        while at < len(data):
            frame = data[at + 1 : at + 1 + data[at]]
            at += 1 + data[at]
            for sound in (frame, frame + checksum(frame)):
                made.admit(Chunk(UDP, Stamp(at, 0), ("192.0.2.7", 5000), sound))
        made.admit(Chunk(WIRE, Stamp(at, 0), None, data))


TARGETS: dict[str, Callable[[bytes], None]] = {
    "framer": framer, "codec": check, "down": down, "intake": intake,
}  # fmt: skip


INSTRUMENTED = (
    "protocol.bodies", "protocol.codec", "protocol.framing", "protocol.freshness",
    "protocol.integrity", "monitor.recorder.intake", "monitor.recorder.refusals",
)  # fmt: skip
"""Modules whose branches lead the search."""


def functions(module: ModuleType) -> Iterator[FunctionType]:
    """All functions and methods that a module itself defines."""
    for owner in (module, *(thing for thing in vars(module).values() if isinstance(thing, type))):
        for thing in vars(owner).values():
            if isinstance(thing, FunctionType) and thing.__module__ == module.__name__:
                yield thing


def main(target: str, seconds: str) -> None:
    """Fuzz one target; leaves the process with the fuzzer's own exit code."""
    # By name: it is no dependency of the project and comes without types.
    atheris: Any = importlib.import_module("atheris")
    for module in INSTRUMENTED:
        for function in functions(importlib.import_module(module)):
            atheris.instrument_func(function)
    atheris.Setup([sys.argv[0], f"-max_total_time={seconds}", "-max_len=600"], TARGETS[target])
    atheris.Fuzz()


if __name__ == "__main__":
    main(*sys.argv[1:])
